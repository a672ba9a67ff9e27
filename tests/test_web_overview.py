"""Several tanks: in the order in which they need somebody, each by a name that leads to it."""

import dataclasses
from datetime import timedelta
from pathlib import Path

from advice_world import at, brook
from web_world import BROOK, make_world, tokens

from dawnlevel.desk.advice.overview import Attention, TankCard, by_attention
from dawnlevel.store import open_store
from dawnlevel.tank import FishSighting, FishState
from dawnlevel.web.addresses import tank_path


def card(name: str, attention: Attention, minutes: int | None = None) -> TankCard:
    next_at = None if minutes is None else at(12) + timedelta(minutes=minutes)
    return TankCard(name, attention, "Hold.", "It holds.", None, next_at, None)


def test_alarm_comes_first_and_readings_in_their_order() -> None:
    cards = [
        card("calm", Attention.LATER),
        card("late", Attention.LATER, 90),
        card("early", Attention.LATER, 30),
        card("due", Attention.SOON, 5),
        card("ill", Attention.ALARM),
        card("raise", Attention.NOW, 40),
    ]
    assert [one.tank for one in by_attention(cards)] == ["ill", "raise", "due", "early", "late", "calm"]


def test_one_tank_leads_straight_to_it(tmp_path: Path) -> None:
    assert make_world(tmp_path).local().get("/").headers["location"] == BROOK


def test_tanks_are_listed_by_need_and_reached_whatever_their_names(tmp_path: Path) -> None:
    world = make_world(tmp_path)
    names = ["a/b & <c>", "..", "50 % ~ tank"]
    with open_store(world.store) as store:
        for name in names:
            store.add_tank(dataclasses.replace(brook(), name=name), at(12, day=5))
    browser = world.local()
    page = browser.get("/").text
    assert page.count("More records are needed.") == 3
    assert "a/b &amp; &lt;c&gt;" in page
    for name in names:
        assert f'href="{tank_path(name)}"'.replace("&", "&amp;") in page
        assert browser.get(tank_path(name)).status_code == 200
    # Several tanks: the distress button asks which, and already says what to do.
    assert 'href="/distress"' in page
    asked = browser.get("/distress").text
    assert "Close the gas now." in asked
    told = browser.post(tank_path("..", "/distress"), data=tokens(asked))
    assert told.headers["location"].startswith(tank_path(".."))
    with open_store(world.store) as store:
        (stored,) = store.records("..")
    assert isinstance(stored.record, FishSighting)
    assert stored.record.state is FishState.DISTRESS


def test_no_tank_says_how_to_begin(tmp_path: Path) -> None:
    world = make_world(tmp_path)
    with open_store(str(tmp_path / "empty.sqlite3")):
        pass
    object.__setattr__(world.house, "store", open_store(str(tmp_path / "empty.sqlite3")))
    assert "There is no tank yet" in world.local().get("/").text
