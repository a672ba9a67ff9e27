"""Why: the three routes with their intervals, what is suspected, what would settle it, in words and drawn."""

import re
from html import unescape
from math import log
from pathlib import Path

import pytest
from advice_world import at
from web_world import BROOK, World, make_world

from dawnlevel.desk.advice.explain import explain_of
from dawnlevel.desk.views import ExplainView
from dawnlevel.tank import BaselineCup, BaselineMethod, PhReading, RateSetting, TimerSetting

WHY = f"{BROOK}/why"


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> World:
    """Nothing is recorded in it: its estimate is made once."""
    return make_world(tmp_path_factory.mktemp("why"))


@pytest.fixture(scope="module")
def page(world: World) -> str:
    return world.local().get(WHY).text


@pytest.fixture(scope="module")
def view(world: World) -> ExplainView:
    return world.house.cases.view("Brook", explain_of)


def words(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page)))


def test_the_menu_leads_here_and_says_where_one_is(page: str) -> None:
    assert re.findall(r'aria-current="page">(\w+)<', page) == ["Why"]


def test_every_route_is_told_in_figures_and_words(page: str, view: ExplainView) -> None:
    told = words(page)
    assert [route.label for route in view.routes if route.co2_mg_l] == [route.label for route in view.routes]
    for route in view.routes:
        level = route.co2_mg_l
        assert level is not None
        assert f"{level.median:.1f} mg/L CO2 at 11:30" in told
        assert f"9 in 10: {level.low_90:.1f} to {level.high_90:.1f}" in told


def test_the_strips_share_one_scale_of_equal_ratios(page: str, view: ExplainView) -> None:
    bars = [
        (float(x), float(w)) for x, w in re.findall(r'strip-90" x="([\d.]+)" y="18" width="([\d.]+)"', page)
    ]
    assert len(bars) == 3
    levels = [route.co2_mg_l for route in view.routes]
    per_ratio = set()
    for (_, width), level in zip(bars, levels, strict=True):
        assert level is not None
        ratio = level.high_90 / level.low_90
        per_ratio.add(round(width / log(ratio)))
    assert max(per_ratio) - min(per_ratio) <= 2  # a tenth of a unit of rounding at either end
    assert min(x for x, _ in bars) > 0
    assert max(x + w for x, w in bars) < 1000


def test_verdict_culprits_and_the_measurement_worth_most_are_told(page: str, view: ExplainView) -> None:
    told = words(page)
    assert ("The routes agree" in told) is view.agree
    assert f"Worth most now: {view.measurements[0].label}." in told
    for culprit in view.culprits:
        assert culprit.label in told
    assert sum(culprit.probability for culprit in view.culprits) == pytest.approx(1.0, abs=0.02)
    assert "dawnlevel " not in told  # pages name themselves, not commands


def test_unknowns_are_told_before_and_after_with_their_sources(page: str, view: ExplainView) -> None:
    told = words(page)
    for unknown in view.unknowns:
        assert unknown.label in told
    assert told.count("before the records") == len(view.unknowns)
    for source in view.sources:
        assert not source.doi or f"doi {source.doi}" in page
    assert "Not told apart yet" in told


def test_a_route_without_its_record_says_which_one_it_needs(tmp_path: Path) -> None:
    records = [
        BaselineCup(at=at(20, 5, day=5), ph=8.1, method=BaselineMethod.AERATED, hours=1.0),
        RateSetting(at=at(20, 10, day=5), bubbles_per_second=1.8),
        TimerSetting(at=at(20, 11, day=5), windows_h=((9.5, 18.5),)),
        PhReading(at=at(11, 30), ph=7.21),
    ]
    world = make_world(tmp_path, records=records)
    told = words(world.local().get(WHY).text)
    view = world.house.cases.view("Brook", explain_of)
    missing = [route.missing for route in view.routes if route.missing]
    assert missing
    for one in missing:
        assert f"No answer yet: needs {one}" in told


def test_without_a_baseline_it_says_what_is_missing(tmp_path: Path) -> None:
    world = make_world(tmp_path, records=[PhReading(at=at(11), ph=7.2)])
    answer = world.local().get(WHY)
    assert answer.status_code == 200
    assert "needs a baseline" in words(answer.text)
    assert world.local().get("/tanks/Nobody/why").status_code == 404
