"""The plan: what the timer and the needle are set to, why, and accepting it once."""

import re
from datetime import timedelta
from html import unescape
from pathlib import Path

import pytest
from advice_world import at
from fastapi.testclient import TestClient
from web_world import BROOK, World, make_world, tokens

from dawnlevel.desk.advice.tomorrow import plan_of
from dawnlevel.desk.views import PlanView
from dawnlevel.tank import FishSighting, FishState, PhReading, RateSetting, TimerSetting

PLAN = f"{BROOK}/plan"


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> World:
    """Nothing is recorded in it until the last tests: its plan is made once."""
    return make_world(tmp_path_factory.mktemp("plan"))


@pytest.fixture(scope="module")
def page(world: World) -> str:
    return world.local().get(PLAN).text


@pytest.fixture(scope="module")
def view(world: World) -> PlanView:
    return world.house.cases.view("Brook", plan_of)


def words(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page)))


def shown(page: str) -> dict[str, str]:
    """What the page's accepting form sends."""
    return {**tokens(page), **dict(re.findall(r'name="(shown_at|windows|rate)" value="([^"]+)"', page))}


def accept(browser: TestClient, form: dict[str, str]) -> tuple[int, str]:
    answer = browser.post(PLAN, data=form)
    return answer.status_code, answer.headers.get("location", answer.text)


def test_the_menu_leads_here_and_says_where_one_is(page: str) -> None:
    assert re.findall(r'aria-current="page">(\w+)<', page) == ["Plan"]


def test_times_rate_and_count_stand_in_large_figures(page: str, view: PlanView) -> None:
    large = [words(part).strip() for part in re.findall(r'class="number">(.*?)</dd>', page)]
    spans = [
        f"{span.opens + timedelta(seconds=30):%H:%M} to {span.closes + timedelta(seconds=30):%H:%M}"
        for span in view.windows
    ]
    assert large[:-1] == spans
    assert large[-1] == f"{view.rate_bps:.4g} bubbles a second"
    counted = re.search(r"Count (\d+) bubbles in 20 s", words(page))
    assert counted
    assert abs(int(counted[1]) / 20 - view.rate_bps) <= 0.5 / 20  # no whole count comes nearer


def test_chances_reasons_readings_and_picture_are_told(page: str, view: PlanView) -> None:
    told = words(page)
    assert "Hit it and hold it" in told
    assert "Pass 30 mg/L" in told
    for reason in view.reasons:
        assert reason in told
    for moment in view.readings:
        assert f"{moment + timedelta(seconds=30):%H:%M}" in told
    assert page.count("<svg") == 2
    assert "The picture shows about" in told
    assert ("Not likely to work as it is" in told) is bool(view.out_of_reach)


def test_no_plan_while_fish_are_in_distress_or_without_a_baseline(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    told = make_world(tmp_path / "a", FishSighting(at=at(12, 5), state=FishState.DISTRESS)).local()
    assert "no plan until they are calm" in words(told.get(PLAN).text)
    bare = make_world(tmp_path / "b", records=[PhReading(at=at(11), ph=7.2)]).local()
    assert "needs a baseline" in words(bare.get(PLAN).text)
    assert bare.get("/tanks/Nobody/plan").status_code == 404


def test_what_was_not_shown_is_not_accepted(world: World, page: str) -> None:
    browser = world.local()
    before = len(world.records())
    for wrong in ({"rate": "9.0"}, {"windows": "01:00-02:00"}, {"shown_at": "soon"}):
        status, told = accept(browser, {**shown(page), **wrong})
        assert status == 409
        assert "The plan has changed" in told
    assert len(world.records()) == before


def test_one_tap_sets_timer_and_needle_once(world: World, page: str, view: PlanView) -> None:
    browser, form = world.local(), shown(page)
    before = len(world.records())
    world.clock.pass_by(timedelta(seconds=40))
    status, place = accept(browser, form)
    assert status == 303
    timers = [record for record in world.records() if isinstance(record, TimerSetting)]
    assert timers[-1].at == world.clock.now
    assert len(timers[-1].windows_h) == len(view.windows)
    for (opens_h, closes_h), span in zip(timers[-1].windows_h, view.windows, strict=True):
        for hour, moment in ((opens_h, span.opens), (closes_h, span.closes)):
            seconds = moment.hour * 3600 + moment.minute * 60 + moment.second
            assert abs(hour * 3600 - seconds) <= 31  # the timer's nearest minute
    rates = [record for record in world.records() if isinstance(record, RateSetting)]
    assert rates[-1].bubbles_per_second == view.rate_bps
    assert (rates[-1].at == world.clock.now) is view.needle_changes
    after = len(world.records())
    assert after > before
    assert accept(browser, form) == (303, place)  # a second tap
    assert accept(browser, {**form, **tokens(browser.get("/devices").text)}) == (303, place)  # another device
    assert len(world.records()) == after
    assert "Set: " in words(browser.get(place).text)
