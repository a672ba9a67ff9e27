"""The baseline cup's page and command: a guide, a verdict, the cup on record once, bad input kept."""

import re
from html import unescape
from pathlib import Path

import pytest
from advice_world import NOW
from web_world import BROOK, World, make_world, tokens

from dawnlevel.cli.app import run
from dawnlevel.tank import BaselineCup, BaselineMethod

CUP = f"{BROOK}/baseline"
FRESH = {"method": "aerated", "ph": "6.6", "hours": "5 min", "earlier_ph": "", "earlier_hours": ""}


@pytest.fixture
def world(tmp_path: Path) -> World:
    return make_world(tmp_path)


def words(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page)))


def send(world: World, **given: str) -> tuple[int, str]:
    browser = world.local()
    form = {**tokens(browser.get(CUP).text), **FRESH, **given}
    answer = browser.post(CUP, data=form)
    return answer.status_code, answer.headers.get("location") or answer.text


def cups(world: World) -> list[BaselineCup]:
    return [one for one in world.records() if isinstance(one, BaselineCup)]


def test_it_guides_and_says_how_long_each_way_takes(world: World) -> None:
    page = words(world.local().get(CUP).text)
    assert "Step by step" in page
    assert len(re.findall(r"9 in 10 such cups are ready after", page)) == 3


def test_a_fresh_cup_is_not_degassed_and_nothing_is_recorded_by_asking(world: World) -> None:
    before = cups(world)
    status, page = send(world, go="judge")
    assert status == 200
    assert "Not degassed yet." in words(page)
    assert 'value="6.6"' in page
    assert cups(world) == before


def test_the_cup_is_recorded_once_as_it_was_taken(world: World) -> None:
    browser = world.local()
    form = {**tokens(browser.get(CUP).text), **FRESH, "ph": "7.91", "hours": "6 h", "go": "record"}
    first, again = browser.post(CUP, data=form), browser.post(CUP, data=form)
    assert (first.status_code, again.headers["location"]) == (303, first.headers["location"])
    found = [(one.ph, one.hours, one.method) for one in cups(world) if one.ph == 7.91]
    assert found == [(7.91, 6.0, BaselineMethod.AERATED)]


@pytest.mark.parametrize(
    ("wrong", "field", "said"),
    [
        ({"ph": "wet"}, "ph", "is no number"),
        ({"ph": ""}, "ph", "Type what the meter shows"),
        ({"ph": "76"}, "ph", "outside 3 to 11"),
        ({"hours": ""}, "hours", "how long ago"),
        ({"earlier_ph": "6.5", "earlier_hours": "3 h"}, "earlier_hours", "not before"),
        ({"ph": "5.0", "earlier_ph": "7.5", "hours": "2 h"}, "ph", "do not go together"),
    ],
)
def test_bad_input_is_told_beside_the_field_and_kept(
    world: World, wrong: dict[str, str], field: str, said: str
) -> None:
    status, page = send(world, go="judge", **wrong)
    assert status == 422
    beside = re.search(rf'data-problem="{field}"[^>]*>([^<]*)<', page)
    assert beside
    assert said in unescape(beside[1])
    for name, text in wrong.items():
        assert re.search(rf'name="{name}" value="{re.escape(text)}"', page)


def test_the_command_says_the_same(
    world: World, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DAWNLEVEL_NOW", NOW.isoformat())
    _, page = send(world, go="judge")
    asked = ["degassed", "6.6", "--hours", "5min", "--at", NOW.isoformat(), "--store", world.store]
    assert run(asked) == 0
    told = capsys.readouterr().out.splitlines()
    for sentence in told[:3]:
        assert sentence in words(page)
    assert run(["degassed", "--store", world.store]) == 0
    assert "Aerated" in capsys.readouterr().out
    assert run(["degassed", "6.6", "--store", world.store]) == 2
    assert "--hours" in capsys.readouterr().err
