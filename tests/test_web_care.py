"""Animals, oxygen and faults in a browser: the desk's figures, in words, without script."""

import re
from html import unescape
from pathlib import Path

import pytest
from web_world import BROOK, World, make_world

from dawnlevel.desk.animals.oxygen import oxygen_of
from dawnlevel.desk.animals.whatif import Asked, whatif_of
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
    assert re.search(r"Second valve (above the ceiling|ceiling) (as|in|passed)", helped)
    assert world.local().get(f"{BROOK}/whatif?kind=flood").status_code == 404


def test_a_fault_is_asked_for_with_its_hour_size_and_length(world: World) -> None:
    """The page tells what the desk answers to the same question; each combination of a power cut is there."""
    place = f"{BROOK}/whatif"
    later = world.local().get(place, params={"kind": "rate", "from": "15:00", "by": "3", "lasts": "5 h"})
    case = world.house.cases.case("Brook")
    (fault,) = whatif_of(case, Asked((FaultKind.RATE,), 15.0, 3.0, 5.0)).faults
    assert later.status_code == 200
    assert f"highest {fault.outcome.peak_mg_l.median:.0f} mg/L" in words(later.text)
    assert 'value="15:00"' in later.text
    cuts = words(world.local().get(place, params={"kind": "power", "lasts": "3h"}).text)
    for gas in ("stays open", "closes"):
        for pump in ("runs", "stops"):
            for light in ("off", "as usual"):
                assert f"3 h: valve {gas}, pump {pump}, light {light}" in cuts


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"kind": "rate", "from": "25:00"}, "is no time of day"),
        ({"kind": "valve", "by": "3"}, "has no amount"),
        ({"kind": "water", "by": "150%"}, "outside 0 to 1"),
        ({"kind": "power", "lasts": "3 days"}, "is no unit"),
    ],
)
def test_what_cannot_be_asked_is_told_beside_the_field(
    world: World, given: dict[str, str], said: str
) -> None:
    answer = world.local().get(f"{BROOK}/whatif", params=given)
    assert answer.status_code == 422
    field = list(given)[-1]
    (beside,) = re.findall(rf'data-problem="{field}"[^>]*>([^<]+)<', answer.text)
    assert said in unescape(beside)
    assert f'value="{given[field]}"' in answer.text


def test_a_tank_without_records_is_told_what_is_missing(tmp_path: Path) -> None:
    world = make_world(tmp_path, records=[])
    for name in ("animals", "whatif"):
        answer = world.local().get(f"{BROOK}/{name}")
        assert answer.status_code == 200
        assert "baseline" in answer.text
