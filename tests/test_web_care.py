"""Animals, oxygen and faults in a browser: the desk's figures, in words, without script."""

import re
from html import unescape
from pathlib import Path

import pytest
from web_world import BROOK, World, make_world

from dawnlevel.desk.oxygen import oxygen_of
from dawnlevel.desk.whatif import whatif_of
from dawnlevel.plan.faults import FaultKind


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> World:
    """Nothing is recorded in it: its estimate is made once."""
    return make_world(tmp_path_factory.mktemp("care"))


def words(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page)))


def test_oxygen_is_told_in_figures_and_drawn(world: World) -> None:
    page = world.local().get(f"{BROOK}/animals").text
    view = world.house.cases.view("Brook", oxygen_of)
    told = words(page)
    assert f"{view.minimum_mg_l.median:.1f} mg/L" in told
    assert "where no animals are described" in told
    assert page.count("<polyline") == 1
    assert len(re.findall("lowest oxygen", told)) == len(view.movements)
    assert re.findall(r'aria-current="page">([\w ]+)<', page) == ["Animals"]


def test_every_fault_is_told_and_each_kind_leads_to_what_helps(world: World) -> None:
    page = world.local().get(f"{BROOK}/whatif").text
    view = whatif_of(world.house.cases.case("Brook"))
    for fault in view.faults:
        assert fault.what[1:] in words(page)
    for kind in FaultKind:
        if kind is not FaultKind.WATER:
            assert f"/whatif?kind={kind.value}" in page
    helped = words(world.local().get(f"{BROOK}/whatif?kind=valve").text)
    assert "Second valve over the ceiling in" in helped
    assert world.local().get(f"{BROOK}/whatif?kind=flood").status_code == 404


def test_a_tank_without_records_is_told_what_is_missing(tmp_path: Path) -> None:
    world = make_world(tmp_path, records=[])
    for name in ("animals", "whatif"):
        answer = world.local().get(f"{BROOK}/{name}")
        assert answer.status_code == 200
        assert "baseline" in answer.text
