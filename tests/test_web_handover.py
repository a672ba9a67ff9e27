"""The hand-over and the calendar by the browser: the same bytes as the command's, and what may be missing."""

import re
from pathlib import Path

import pytest
from advice_world import at
from icalendar import Calendar
from web_browser import chromium, complaints, open_page, violations
from web_server import served
from web_world import BROOK, World, make_world

from dawnlevel.desk.handover.calendar import calendar_view
from dawnlevel.desk.handover.handover import handover_pack
from dawnlevel.report.ical import calendar_ics
from dawnlevel.report.paper import handover_pdf
from dawnlevel.tank import FishSighting, FishState, PhReading


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> World:
    return make_world(tmp_path_factory.mktemp("handover"))


def test_the_plan_leads_to_page_paper_and_calendar(world: World) -> None:
    here = world.local()
    links = set(re.findall(r'href="([^"]+)"', here.get(f"{BROOK}/plan").text))
    for path, kind in (
        ("/handover", "text/html; charset=utf-8"),
        ("/handover.pdf", "application/pdf"),
        ("/calendar.ics", "text/calendar; charset=utf-8"),
    ):
        assert f"{BROOK}{path}" in links
        answer = here.get(f"{BROOK}{path}")
        assert answer.status_code == 200
        assert answer.headers["content-type"] == kind


def test_the_files_are_those_of_the_command(world: World) -> None:
    here, store = world.local(), world.house.store
    paper = here.get(f"{BROOK}/handover.pdf")
    assert paper.content == handover_pdf(handover_pack(store, "Brook"))
    assert "Brook.pdf" in paper.headers["content-disposition"]
    dates = here.get(f"{BROOK}/calendar.ics")
    assert dates.content == calendar_ics(calendar_view(store, "Brook"))
    assert len(Calendar.from_ical(dates.content).events) > 5


def test_what_stands_in_the_way_is_said(tmp_path: Path) -> None:
    for name in "ab":
        (tmp_path / name).mkdir()
    bare = make_world(tmp_path / "a", records=[PhReading(at=at(11), ph=7.2)]).local()
    ill = make_world(tmp_path / "b", FishSighting(at=at(12, 5), state=FishState.DISTRESS)).local()
    for path in ("/handover", "/handover.pdf"):
        assert bare.get(f"{BROOK}{path}").status_code == 409
        told = ill.get(f"{BROOK}{path}")
        assert told.status_code == 409
        assert "in distress" in told.text
    assert bare.get(f"{BROOK}/calendar.ics").status_code == 200
    assert bare.get("/tanks/Nobody/calendar.ics").status_code == 404


def test_the_page_wears_its_style_under_its_policy(world: World) -> None:
    with served(world) as where, chromium() as browser:
        page = open_page(browser)
        found = complaints(page)
        page.goto(f"{where}{BROOK}/handover")
        assert page.evaluate("getComputedStyle(document.querySelector('.card')).borderTopWidth") == "2px"
        assert violations(page) == []
        assert found == []
