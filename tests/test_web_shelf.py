"""Gas in the room and the cell's solution: asked by address, told as the desk tells it, bad input kept."""

import re
from html import unescape
from pathlib import Path

import httpx
import pytest
from web_world import BROOK, World, make_world

from dawnlevel.desk.shelf.room import GasAtHand, room_view
from dawnlevel.desk.shelf.solution import solution_view
from dawnlevel.tank import CylinderExchange, CylinderStandard, SolutionPrepared

BAD = [
    ("room", "room", "big", "is no number"),
    ("room", "room", "0 m3", "0.01"),
    ("room", "gas", "2 stone", "is no unit"),
    ("room", "fresh_air", "-1", "outside 0 to 100 an hour"),
    ("room", "gas", "", "Type the charge"),
    ("solution", "kh", "0.01 dKH", "outside 0.1 to 100 dKH"),
    ("solution", "volume", "a jug", "is no number"),
    ("solution", "balance", "20 g", "outside 0.0001 to 5 g"),
    ("solution", "stock", "2 dKH", "cannot be diluted"),
    ("solution", "temp", "90 C", "outside 5 to 40 °C"),
]


@pytest.fixture
def world(tmp_path: Path) -> World:
    return make_world(tmp_path)


def ask(world: World, place: str, **given: str) -> httpx.Response:
    return world.local().get(f"{BROOK}/{place}", params=given)


def words(answer: httpx.Response) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", answer.text)))


def typed(answer: httpx.Response, name: str) -> str:
    (field,) = re.findall(rf'<input id="ask-{name}"[^>]*>', answer.text)
    return unescape(re.search(r'value="([^"]*)"', field)[1])  # type: ignore[index]  # each has one


@pytest.mark.parametrize(("place", "field", "text", "said"), BAD)
def test_bad_input_is_told_beside_its_field_and_kept(
    world: World, place: str, field: str, text: str, said: str
) -> None:
    others = {"room": {"room": "41 m3", "gas": "3 lb", "fresh_air": "2"}, "solution": {"volume": "0.7 L"}}
    given = {**others[place], field: text}
    answer = ask(world, place, **given)
    assert answer.status_code == 422
    assert {name: typed(answer, name) for name in given} == given
    (beside,) = re.findall(rf'data-problem="{field}"[^>]*>([^<]+)<', answer.text)
    assert said in unescape(beside)
    assert "Sources" not in words(answer)


def test_the_room_is_told_as_the_desk_tells_it(world: World) -> None:
    page = words(ask(world, "room", room="1060 ft3", gas="5 lb", fresh_air="0.5", over="1 h"))
    view = room_view(GasAtHand(None, 2.26796), 30.016, air_changes_per_h=0.5, vents_over_h=1.0)
    assert f"{view.mixed_percent:.2g} % of the air at most, well mixed" in page
    assert f"{view.pooled_percent:.0f} % at most, pooled" in page
    for limit in view.limits:
        assert limit.name in page
        assert limit.dated in page
    assert view.alarm in page
    assert "Every 5 years: aluminium, stamped DOT 3AL" in page
    assert "an example" not in page


def test_without_a_question_there_is_an_example_and_what_is_recorded(world: World) -> None:
    assert "2 kg of CO2 into 30 m3: an example" in words(ask(world, "room"))
    world.house.store.add_records(
        "Brook",
        [
            CylinderExchange(
                at=world.clock.now,
                gas_kg=0.9,
                capacity_l=1.4,
                standard=CylinderStandard.DOT_3AL,
                tested="2024-05",
            )
        ],
    )
    answer = ask(world, "room")
    assert typed(answer, "gas") == "0.9 kg"
    assert "This one's date: 1 May 2029" in words(answer)


def test_the_solution_is_told_as_the_desk_tells_it(world: World) -> None:
    page = words(ask(world, "solution", kh="4 dKH", volume="1 L", balance="1", temp="24 C"))
    view = solution_view(4.0, 1.0, 1.0, temp_c=24.0)
    for step in view.recipe.steps:
        assert step in page
    assert view.direct in page
    assert view.carried in page
    for one in view.colours:
        assert f"{one.co2_mg_l:g} mg/L: {one.word}" in page
        assert f"pH {one.cell_ph:.2f} inside" in page
    world.house.store.add_records("Brook", [SolutionPrepared(at=world.clock.now, kh_dkh=3.0)])
    assert typed(ask(world, "solution"), "kh") == "3 dKH"


def test_a_stock_is_diluted(world: World) -> None:
    """Mass balance: 100 mL of 40 dKH make a litre of 4."""
    page = words(ask(world, "solution", kh="4", volume="1 L", balance="0.01 g", stock="40 dKH"))
    assert "Fill 100 mL of your stock up to 1 L with distilled water" in page


def test_gear_leads_there(world: World) -> None:
    page = world.local().get(f"{BROOK}/gear").text
    assert f'href="{BROOK}/room"' in page
    assert f'href="{BROOK}/solution"' in page
