"""The spread's page: places entered one by one with a phone, bad input kept, the map and its words."""

import re
from datetime import timedelta
from html import unescape
from pathlib import Path

import pytest
from advice_world import at
from web_world import BROOK, World, make_world, tokens

from dawnlevel.tank import SurveyReading
from dawnlevel.web.routes.spread import ROUND

SPREAD = f"{BROOK}/spread"


@pytest.fixture
def world(tmp_path: Path) -> World:
    return make_world(tmp_path)


@pytest.fixture(scope="module")
def surveyed(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The page after a walk round a tank with a dead corner."""
    readings = [
        SurveyReading(
            at=at(11, 35) + timedelta(minutes=2 * number),
            ph=7.45 if place == "back left substrate" else 7.15,
            place=place,
        )
        for number, place in enumerate(ROUND)
    ]
    return make_world(tmp_path_factory.mktemp("spread"), *readings).local().get(SPREAD).text


def words(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page)))


def read(world: World) -> list[SurveyReading]:
    return [one for one in world.records() if isinstance(one, SurveyReading)]


def test_without_a_survey_it_says_how_to_begin(world: World) -> None:
    page = world.local().get(SPREAD).text
    assert "There is no survey yet" in words(page)
    assert "hold the probe at eight places or more" in words(page)
    assert page.count('type="radio"') == len(ROUND)
    assert '<svg class="water"' not in page


def test_a_place_is_recorded_once_and_the_next_one_is_offered(world: World) -> None:
    browser = world.local()
    page = browser.get(SPREAD).text
    assert f'value="{ROUND[0]}" checked' in page
    form = {**tokens(page), "ph": "7.12", "place": ROUND[0]}
    first, again = browser.post(SPREAD, data=form), browser.post(SPREAD, data=form)
    assert first.status_code == 303
    assert again.headers["location"] == first.headers["location"]
    assert [(one.ph, one.place) for one in read(world)] == [(7.12, ROUND[0])]
    after = browser.get(first.headers["location"]).text
    assert f'value="{ROUND[1]}" checked' in after
    assert "Read so far: 1." in words(after)


def test_a_place_in_cm_and_bad_input_that_keeps_what_was_typed(world: World) -> None:
    browser = world.local()
    form = {**tokens(browser.get(SPREAD).text), "ph": "7.2", "place": "middle", "x": "12", "y": "", "z": "3"}
    answer = browser.post(SPREAD, data=form)
    assert answer.status_code == 422
    assert "all of x, y and z" in words(answer.text)
    assert 'value="12"' in answer.text
    assert read(world) == []
    assert browser.post(SPREAD, data={**form, "y": "2in"}).status_code == 303
    (found,) = read(world)
    assert (found.x_cm, found.y_cm, found.z_cm, found.place) == (12.0, 5.08, 3.0, "")
    empty = browser.post(SPREAD, data={**tokens(browser.get(SPREAD).text), "ph": "", "place": "middle"})
    assert empty.status_code == 422
    assert "Type what the meter shows there" in words(empty.text)


def test_the_map_is_drawn_and_told(surveyed: str) -> None:
    told = words(surveyed)
    assert "Dead beyond meter noise: back left substrate" in told
    assert surveyed.count('<svg class="water"') == 2
    assert surveyed.count('<rect class="level-') == 56
    tables = re.findall(r"<table.*?</table>", surveyed, re.DOTALL)
    assert [table.count("<td>") for table in tables] == [28, 28]
    drawn = re.findall(r'<text x="[\d.]+" y="\d+">(\d+)</text>', surveyed)
    assert drawn == [cell for table in tables for cell in re.findall(r"<td>(\d+)</td>", table)]
    assert "Where to read next" in told


def test_the_menu_leads_here(surveyed: str) -> None:
    assert re.findall(r'aria-current="page">(\w+)<', surveyed) == ["Spread"]
