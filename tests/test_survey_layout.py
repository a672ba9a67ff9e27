"""The sketch against the trade's rules: each kept and broken by a sketch that should; flow; the command."""

from pathlib import Path

import numpy as np
import pytest
from cli_keeper import DESCRIBE, Keeper

from dawnlevel.errors import OutOfRangeError
from dawnlevel.survey.layout import checks, distances_to_way, real_flow_l_h, sketch_of, turnover_check
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
