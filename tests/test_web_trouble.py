"""Trouble: complaints to choose from, and each one's answer as a page that fits a phone."""

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from playwright.sync_api import Browser
from web_browser import (
    DESK,
    PHONE,
    SCHEMES,
    chromium,
    complaints,
    is_wider_than_screen,
    open_page,
    too_small,
    violations,
)
from web_server import served
from web_world import BROOK, World, make_world

from dawnlevel.desk.trouble.complaint import complaint_of
from dawnlevel.desk.trouble.complaint_causes import LABELS, Complaint
from dawnlevel.plan.fish import DISTRESS_STEPS

TROUBLE = f"{BROOK}/trouble"


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> World:
    return make_world(tmp_path_factory.mktemp("trouble"))


def words(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page)))


def test_every_complaint_is_one_tap_away(world: World) -> None:
    page = world.local().get(TROUBLE).text
    for complaint, label in LABELS.items():
        assert f'href="{TROUBLE}/{complaint.value}">{label}<' in page


def test_an_answer_says_causes_evidence_measurements_and_the_change(world: World) -> None:
    told = words(world.local().get(f"{TROUBLE}/low-at-lights-on").text)
    view = complaint_of(world.house.cases.case("Brook"), Complaint.LOW)
    for cause in view.causes:
        assert cause.label in told
        assert cause.evidence in told
    for one in view.measurements:
        assert one.label in told
    assert view.remedy is not None
    assert "Chance of hitting and holding the band" in told
    assert "dawnlevel " not in told  # pages name themselves, not commands


def test_fish_come_first_on_the_page(world: World) -> None:
    told = words(world.local().get(f"{TROUBLE}/fish-at-surface").text)
    assert told.index(DISTRESS_STEPS[0]) < told.index("What the records say")
    assert "What to change" not in told


def test_without_records_it_asks_and_an_unknown_complaint_is_no_page(tmp_path: Path) -> None:
    world = make_world(tmp_path, records=[])
    told = words(world.local().get(f"{TROUBLE}/plants-stall").text)
    assert "What to read" in told
    assert "aerated for an hour" in told
    assert world.local().get(f"{TROUBLE}/nonsense").status_code in {404, 422}


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as found:
        yield found


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with served(make_world(tmp_path_factory.mktemp("served"))) as where:
        yield where


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["390", "1280"])
@pytest.mark.parametrize("scheme", SCHEMES)
def test_the_pages_fit_and_axe_core_finds_nothing(
    browser: Browser, base: str, scheme: str, size: dict[str, int]
) -> None:
    page = open_page(browser, size=size, scheme=scheme)
    met = complaints(page)
    for path in (TROUBLE, f"{TROUBLE}/low-at-lights-on", f"{TROUBLE}/fish-at-surface"):
        page.goto(base + path)
        assert violations(page) == [], path
        assert not is_wider_than_screen(page), path
        assert too_small(page) == [], path
    assert met == []
