"""Practice: a whole day on the practice tank, its clock, what is thrown away, and who gets in."""

import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from httpx import Response
from web_world import BROOK, World, make_world, tokens

from dawnlevel.tank import BaselineCup, FishSighting, FishState, GasSwitch, PhReading, RateSetting
from dawnlevel.web.practice.bench import Bench
from dawnlevel.web.practice.door import Benches

TODAY = "/practice/tanks/Practice"


@pytest.fixture
def world(tmp_path: Path) -> Iterator[World]:
    made = make_world(tmp_path, is_lan=True)
    yield made
    made.app.state.benches.close()


def bench_of(world: World) -> Bench:
    """The practice of this computer."""
    benches: Benches = world.app.state.benches
    (device,) = [one for one in world.house.devices.every() if one.is_local]
    found = benches.find(device.id)
    assert found is not None
    return found


class Learner:
    """Somebody who follows the lessons by what the pages hold."""

    def __init__(self, client: TestClient) -> None:
        self.client = client
        self.page = ""
        self.send("/practice/begin", client.get("/practice").text)

    def send(self, path: str, page: str | None = None, **fields: str) -> None:
        """Post a form of the page, follow where it leads."""
        answer = self.client.post(path, data=tokens(page or self.page) | fields)
        assert answer.status_code == 303, answer.text
        self.see(answer.headers["location"])

    def see(self, path: str) -> Response:
        """Look at a page."""
        answer = self.client.get(path)
        assert answer.status_code == 200, answer.text
        self.page = answer.text
        return answer

    def look(self, kind: str) -> None:
        """Read an instrument."""
        self.send("/practice/look", kind=kind)

    def wait(self, until: str) -> None:
        """Let time pass."""
        self.send("/practice/wait", until=until, shown_at=self.hidden("shown_at"))

    def hidden(self, name: str) -> str:
        """The value of a hidden field."""
        found = re.search(rf'name="{name}" value="([^"]*)"', self.page)
        assert found, name
        return found[1]

    def button(self, name: str) -> list[str]:
        """The values of the buttons of that name which the lesson asks for."""
        return re.findall(rf'<button name="{name}" value="([^"]*)" class="main">', self.page)

    def lesson(self) -> int:
        """The lesson's number."""
        found = re.search(r"Lesson (\d) of 5", self.page)
        assert found
        return int(found[1])

    def do_as_told(self) -> None:
        """What stands under Next, where it is a button."""
        rate = re.search(r'name="value" value="([^"]+)">Done: set to', self.page)
        if rate:
            self.send(f"{TODAY}/record", kind="rate", value=rate[1])

    def accept_the_plan(self) -> None:
        """Open the plan and accept it."""
        self.see(f"{TODAY}/plan")
        fields = {name: self.hidden(name) for name in ("shown_at", "windows", "rate")}
        plan = self.page[self.page.index(f'action="{TODAY}/plan"') :]
        shown = re.search(r'name="shown_at" value="([^"]*)"', plan)
        assert shown
        self.send(f"{TODAY}/plan", plan, **fields | {"shown_at": shown[1]})


def test_a_whole_day_by_the_lessons_ends_in_the_band(world: World) -> None:
    before = world.records()
    learner = Learner(world.local())
    bench = bench_of(world)
    assert "Practice tank: no real fish. It is Mon 4 May 2026" in learner.page
    assert learner.lesson() == 1
    assert learner.button("kind") == ["cup"]
    learner.look("cup")
    assert learner.lesson() == 2
    learner.accept_the_plan()
    assert learner.lesson() == 3
    looks = 0
    for _ in range(30):
        if learner.lesson() != 3:
            break
        if learner.button("kind"):
            assert learner.button("kind") == ["ph", "fish"]
            learner.look("ph")
            learner.look("fish")
            learner.do_as_told()
            looks += 1
        else:
            learner.see(TODAY)
            (there,) = learner.button("until")
            learner.wait(there)
    assert learner.lesson() == 4
    assert 3 <= looks <= 8
    assert re.search(r"At 13:00 it truly was a drop of 1\.\d\d, in the band, and \d+ mg/L", learner.page)
    truth = bench._tank.truth()
    assert f"a drop of {truth['drop']:.2f}" in learner.page
    assert 1.0 <= truth["drop"] <= 1.2
    learner.send(f"{TODAY}/distress")
    assert learner.lesson() == 5
    assert "Close the gas now." in learner.page
    learner.send(f"{TODAY}/record", kind="gas", value="closed")
    level = bench._tank.truth()["co2_mg_l"]
    learner.look("fish")
    assert "that is the job" in learner.page
    learner.wait("half_hour")
    assert bench._tank.truth()["co2_mg_l"] < level
    assert world.records() == before


def test_readings_are_records_like_any_other(world: World) -> None:
    learner = Learner(world.local())
    for kind in ("ph", "fish", "cell", "cup"):
        learner.look(kind)
        assert "Recorded: " in learner.page
    store = bench_of(world).house.store
    found = [stored.record for stored in store.records("Practice")]
    assert [type(one).__name__ for one in found] == [
        "KhTitration",
        "PhReading",
        "FishSighting",
        "CellSighting",
        "BaselineCup",
    ]
    assert all(one.at == bench_of(world).now() for one in found[1:])
    assert isinstance(found[4], BaselineCup)
    number = store.records("Practice")[1].id
    learner.send(f"{TODAY}/records/{number}/undo")
    assert f"record {number} no longer counts" in learner.page
    assert not any(isinstance(stored.record, PhReading) for stored in store.records("Practice"))


def test_a_second_tap_on_the_same_page_changes_nothing(world: World) -> None:
    learner = Learner(world.local())
    shown = learner.page
    bench, began = bench_of(world), bench_of(world).now()
    at = learner.hidden("shown_at")
    for _ in range(2):
        learner.send("/practice/wait", shown, until="half_hour", shown_at=at)
    assert bench.now() - began == timedelta(minutes=30)
    for _ in range(2):
        learner.send("/practice/look", shown, kind="ph")
    records = [stored.record for stored in bench.house.store.records("Practice")]
    assert sum(isinstance(one, PhReading) for one in records) == 1


def test_what_is_set_and_taken_back_reaches_needle_timer_and_gas(world: World) -> None:
    learner = Learner(world.local())
    keeper = bench_of(world)._keeper
    assert keeper.windows == ()
    learner.send(f"{TODAY}/records", kind="timer", value="08:10-19:00")
    assert keeper.windows == ((pytest.approx(8 + 1 / 6), 19.0),)
    learner.send(f"{TODAY}/record", kind="rate", value="1.5")
    assert keeper.rate == 1.5
    records = bench_of(world).house.store.records("Practice")
    (rate,) = [stored.id for stored in records if isinstance(stored.record, RateSetting)]
    learner.see(TODAY)
    learner.send(f"{TODAY}/records/{rate}/undo")
    assert keeper.rate == keeper.described.first_rate_bps
    learner.wait("half_hour")
    learner.send(f"{TODAY}/records", kind="gas", value="closed")
    assert keeper.by_hand is False
    level = keeper.tank.truth()["co2_mg_l"]
    learner.wait("lights_on")
    assert keeper.tank.truth()["co2_mg_l"] < level
    learner.wait("morning")
    learner.wait("lights_on")
    assert keeper.by_hand is None  # the timer has switched since
    assert keeper.tank.truth()["co2_mg_l"] > level


def test_time_goes_where_the_button_says(world: World) -> None:
    learner = Learner(world.local())
    told = re.compile(r"It is (\w+ \d+ \w+ \d+), <span class=\"now\">(\d\d:\d\d)</span>")
    moments = []
    for until in ("half_hour", "lights_on", "morning", "lights_on", "lights_on"):
        learner.wait(until)
        found = told.search(learner.page)
        assert found
        moments.append(found.groups())
    assert moments == [
        ("Mon 4 May 2026", "08:30"),
        ("Mon 4 May 2026", "13:00"),
        ("Tue 5 May 2026", "08:00"),
        ("Tue 5 May 2026", "13:00"),
        ("Wed 6 May 2026", "13:00"),
    ]
    fields = {"until": "reading", "shown_at": learner.hidden("shown_at")}  # no plan, so none is due
    answer = learner.client.post("/practice/wait", data=tokens(learner.page) | fields)
    assert answer.status_code == 422
    assert "No reading lies ahead." in answer.text
    assert "Practice tank: no real fish" in answer.text
    assert learner.client.post("/practice/look", data=tokens(learner.page) | {"kind": "x"}).status_code == 422


def test_every_practice_page_says_so_and_keeps_to_itself(world: World) -> None:
    learner = Learner(world.local())
    learner.look("cup")
    for rest in ("", "/baseline", "/plan", "/why", "/records", "/records/1", "/nope"):
        page = learner.client.get(TODAY + rest).text
        assert "Practice tank: no real fish" in page, rest
        links = re.findall(r'(?:href|action)="(/[^"]*)"', page)
        outside = [link for link in links if not link.startswith(("/practice/", "/static/"))]
        assert outside == [], rest
        assert "<script" not in page, rest  # the pages' modules run on a clock that does not stand still
    assert learner.client.get("/practice/").headers["location"] == TODAY
    assert learner.client.get("/practice").headers["location"] == TODAY
    for path in ("/practice/setup", "/practice/devices", "/practice/api/tanks", "/practice/pair"):
        assert learner.client.get(path).status_code == 404, path
    own = learner.client.get(BROOK).text
    assert "Practice tank" not in own
    assert 'href="/practice"' in own


def test_begin_anew_and_leave_throw_the_records_away(world: World) -> None:
    learner = Learner(world.local())
    learner.look("ph")
    first = bench_of(world)
    folder = Path(first.house.store.place).parent
    assert folder.is_dir()
    learner.send("/practice/begin")
    assert not folder.exists()
    second = bench_of(world)
    assert len(second.house.store.records("Practice")) == 1
    folder = Path(second.house.store.place).parent
    answer = learner.client.post("/practice/leave", data=tokens(learner.page))
    assert answer.headers["location"] == "/"
    assert not folder.exists()
    for path in (TODAY, f"{TODAY}/plan"):
        assert learner.client.get(path).headers["location"] == "/practice"
    answer = learner.client.post("/practice/look", data=tokens(learner.page) | {"kind": "ph"})
    assert answer.headers["location"] == "/practice"


def test_each_device_has_its_own_practice_and_nobody_enters_without_a_session(world: World) -> None:
    here = Learner(world.local())
    stranger = world.far()
    for path in ("/practice", TODAY, f"{TODAY}/plan"):
        assert stranger.get(path).status_code == 401
    assert stranger.post("/practice/begin", data=tokens(here.page)).status_code == 401
    stranger.get("/pair")
    stranger.post("/pair", data={"code": world.codes[-1], "name": "Phone"})
    phone = Learner(stranger)
    here.wait("lights_on")
    phone.look("ph")
    assert '<span class="now">08:00</span>' in phone.page
    assert '<span class="now">13:00</span>' in here.page
    assert stranger.post("/practice/wait", data=tokens(here.page) | {"until": "half_hour"}).status_code == 403
    assert stranger.post(f"{TODAY}/distress", data=tokens(here.page)).status_code == 403


def test_fish_that_are_uneasy_keep_the_lesson_until_they_are_calm(world: World) -> None:
    learner = Learner(world.local())
    learner.send(f"{TODAY}/distress")
    learner.send(f"{TODAY}/record", kind="fish", value="uneasy")
    assert learner.lesson() == 5
    assert "Fish come first" in learner.page
    learner.send(f"{TODAY}/record", kind="fish", value="calm")
    assert learner.lesson() == 1
    states = [
        stored.record.state
        for stored in bench_of(world).house.store.records("Practice")
        if isinstance(stored.record, FishSighting)
    ]
    assert states == [FishState.DISTRESS, FishState.UNEASY, FishState.CALM]
    assert not any(isinstance(record, GasSwitch) for record in world.records())
