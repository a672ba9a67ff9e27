"""The sketch against the trade's rules: each kept and broken by a sketch that should; flow; the command."""

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from advice_world import brook
from cli_keeper import DESCRIBE, Keeper
from store_servers import START, a_tank
from test_handover_evidence import walk

from dawnlevel.desk.evenness.spread import spread_of
from dawnlevel.desk.evenness.surveys import water_box
from dawnlevel.desk.exchange.package import write_package
from dawnlevel.desk.exchange.package_read import import_package
from dawnlevel.errors import BadInputError, OutOfRangeError
from dawnlevel.report.spread_chart import spread_svg
from dawnlevel.store import open_store
from dawnlevel.store.codec import tank_from_dict, tank_to_dict
from dawnlevel.survey.layout import checks, distances_to_way, real_flow_l_h, sketch_of, turnover_check
from dawnlevel.tank import Layout
from dawnlevel.tank.places import place_shares

OUT, IN, GAS = "front left surface", "back right substrate", "right substrate"


def broken(outflow: str = OUT, intake: str = IN, diffuser: str = GAS, *hardscape: str) -> list[str]:
    places = [place_shares(one) for one in (outflow, intake, diffuser)]
    return [
        one.rule
        for one in checks(sketch_of(*places, [place_shares(one) for one in hardscape]))
        if not one.is_kept
    ]


def test_a_usual_layout_keeps_every_rule() -> None:
    assert broken() == []
    assert broken(OUT, IN, GAS, "back left substrate") == []


@pytest.mark.parametrize(
    ("changed", "rule"),
    [
        ((OUT, "back left substrate", GAS), "Inlet and outlet at opposite ends"),
        ((OUT, IN, "back left substrate"), "Diffuser across from the outflow"),
        (("left surface", IN, GAS), "Flow along the front and the back"),
        ((OUT, "back right surface", GAS), "Flow along the substrate"),
        ((OUT, IN, GAS, "middle"), "Nothing stands in the way of the water"),
    ],
)
def test_each_rule_is_broken_by_its_own_fault(changed: tuple[str, ...], rule: str) -> None:
    assert broken(*changed) == [rule]


def test_distances_are_those_of_the_cross_product() -> None:
    """Within the way: |way x (place - start)| / |way|; beyond its ends: to the end."""
    start, end = np.array([0.1, 0.1, 0.9]), np.array([0.9, 0.9, 0.1])
    places = np.array([[0.5, 0.2, 0.5], [0.4, 0.6, 0.7], [1.0, 1.0, 0.0]])
    way = end - start
    expected = np.linalg.norm(np.cross(way, places - start), axis=1) / np.linalg.norm(way)
    expected[2] = np.linalg.norm(places[2] - end)
    assert distances_to_way(places, start, end) == pytest.approx(expected)


def test_losses_take_their_share_one_after_the_other() -> None:
    assert real_flow_l_h(1000.0, 0.2, 0.25) == pytest.approx(600.0)
    for losses in ((-0.1, 0.0), (0.0, 1.0)):
        with pytest.raises(OutOfRangeError):
            real_flow_l_h(1000.0, *losses)
    assert [turnover_check(one).is_kept for one in (4.0, 7.0, 12.0)] == [False, True, False]


def test_the_command_keeps_rules_and_measurement_apart(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    keeper = Keeper(tmp_path, monkeypatch, capsys)
    assert keeper(DESCRIBE).code == 0
    places = ("--outflow", OUT, "--intake", "back left substrate", "--diffuser", GAS)
    told = keeper("layout --flow 2000L/h", *places)
    assert told.code == 0
    rules, _, measured = told.out.partition("Measured")
    assert "Common practice, no source" in rules
    assert "no  Inlet and outlet at opposite ends." in rules
    assert "Nothing yet." in measured
    data = keeper("layout --json --flow 528.344gal/h --head-loss 0% --clogging 10%", *places).data
    assert data["rated_l_h"] == pytest.approx(2000.0, rel=1e-4)
    assert data["turnover_per_h"] == pytest.approx(10.0, rel=1e-4)  # 1800 L/h through 180 L
    assert keeper("layout --flow fast", *places).code != 0


def test_a_sketch_is_kept_with_the_tank_and_changed_in_parts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    keeper = Keeper(tmp_path, monkeypatch, capsys)
    assert keeper(DESCRIBE).code == 0
    told = keeper("layout")
    assert (told.code, "no sketch of the tank yet" in told.err) == (3, True)
    told = keeper("layout --outflow left")
    assert (told.code, "needs intake, diffuser, flow too" in told.err) == (2, True)
    places = ("--outflow", OUT, "--intake", "back left substrate", "--diffuser", GAS, "--hardscape", "middle")
    assert keeper("layout --json --try --flow 2000L/h", *places).data["stored"] is False
    assert keeper("layout").code == 3
    assert keeper("layout --flow 2000L/h --length 36in", *places).code == 0
    data = keeper("layout --json --measured 900L/h", "--hardscape", "right substrate").data
    assert (data["stored"], data["is_measured"], data["turnover_per_h"]) == (True, True, pytest.approx(5.0))
    assert (data["rated_l_h"], data["hardscape"]) == (2000.0, ["right substrate"])
    kept = keeper("tank show --json").data["tank"]["layout"]
    assert (kept["length_cm"], kept["outflow"]) == (pytest.approx(91.44), OUT)  # 2.54 cm an inch
    data = keeper("layout --json --measured none", "--hardscape", "none").data
    assert (data["hardscape"], data["flow_l_h"]) == ([], pytest.approx(2000 * 0.8 * 0.8))


def test_a_map_takes_the_sketchs_length_and_shows_what_it_places() -> None:
    sketch = Layout(
        outflow="left surface", intake="right substrate", diffuser="right", rated_l_h=800.0, length_cm=70.0
    )
    tank = replace(brook(), layout=sketch)
    box = water_box(tank)
    assert (box.length_cm, box.length_cm * box.width_cm) == (70.0, pytest.approx(tank.surface_cm2))
    view = spread_of(tank, walk())
    assert (view.sides_assumed, view.length_cm) == (False, 70.0)
    assert [(one.letter, one.x_share, one.z_share) for one in view.marks] == [
        ("O", 0.1, 0.9), ("I", 0.9, 0.1), ("D", 0.9, 0.5),
    ]  # fmt: skip
    assert spread_of(brook(), walk()).sides_assumed
    drawn = re.findall(r">([OID])<", spread_svg(view))
    assert sorted(drawn) == ["D", "D", "I", "I", "O", "O"]


@pytest.mark.parametrize(
    "wrong",
    [{"outflow": "surface left"}, {"head_loss": 1.0}, {"rated_l_h": 0.0}, {"length_cm": float("nan")},
     {"hardscape": ("middle",) * 21}],
)  # fmt: skip
def test_a_sketch_that_cannot_be_is_refused(wrong: dict[str, object]) -> None:
    good: dict[str, object] = {"outflow": "left", "intake": "right", "diffuser": "right", "rated_l_h": 800.0}
    with pytest.raises((BadInputError, OutOfRangeError)):
        Layout(**(good | wrong))  # type: ignore[arg-type]


def test_a_sketch_comes_back_from_archive_package_and_old_descriptions() -> None:
    sketch = Layout(
        outflow="left", intake="right", diffuser="right", rated_l_h=800.0, hardscape=("middle", "back left")
    )
    tank = a_tank(layout=sketch)
    assert tank_from_dict(json.loads(json.dumps(tank_to_dict(tank)))) == tank
    data = tank_to_dict(a_tank())
    del data["layout"]
    assert tank_from_dict(data).layout is None
    with open_store("sqlite://") as store, open_store("sqlite://") as other:
        store.add_tank(tank, START)
        import_package(other, write_package(store, ["Brook"]), "kept")
        assert other.tank("Brook") == tank
