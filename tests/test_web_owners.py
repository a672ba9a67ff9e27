"""Owners in the browser: the overview by owner, what is handed to one, and the question whose a tank is."""

import dataclasses
import re
from pathlib import Path

import pytest
from advice_world import at, brook
from icalendar import Calendar
from web_browser import chromium, is_wider_than_screen, open_page, too_small, violations
from web_server import served
from web_world import BROOK, World, fields, make_world

from dawnlevel.store import open_store

SCHOOL = "/owners/Lower%20School"


@pytest.fixture
def world(tmp_path: Path) -> World:
    made = make_world(tmp_path)
    with open_store(made.store) as store:
        store.update_tank(dataclasses.replace(brook(), owner="Lower School"), at(12))
        store.add_tank(dataclasses.replace(brook(), name="Fen", owner="A/B & C"), at(12, day=5))
    return made


def test_the_overview_shows_whose_tanks_and_one_owners_alone(world: World) -> None:
    here = world.local()
    page = here.get("/tanks").text
    assert 'href="/tanks?owner=Lower%20School"' in page
    assert "A/B &amp; C" in page
    mine = here.get("/tanks?owner=Lower%20School").text
    assert "Tanks of Lower School" in mine
    assert f'href="{BROOK}"' in mine
    assert 'href="/tanks/Fen"' not in mine
    assert here.get("/tanks?owner=Nobody").status_code == 404


def test_what_is_handed_to_an_owner_is_theirs_alone(world: World) -> None:
    here = world.local()
    links = re.findall(r'href="(/owners/[^"]+)"', here.get("/tanks?owner=Lower%20School").text)
    assert {link.removeprefix(SCHOOL) for link in links} == {
        "/handover",
        "/handover.pdf",
        "/calendar.ics",
        "/records.csv",
        "/records.json",
    }
    for link in links:
        answer = here.get(link)
        assert answer.status_code == 200, link
        assert b"Fen" not in answer.content or link.endswith(".pdf")
        if not link.endswith((".pdf", ".ics")):
            assert "Brook" in answer.text
    found = Calendar.from_ical(here.get(f"{SCHOOL}/calendar.ics").content)
    assert all(str(event["SUMMARY"]).startswith("Brook") for event in found.events)


def test_a_name_with_a_slash_leads_to_its_owner_and_a_lack_is_told(world: World) -> None:
    here = world.local()
    (link,) = re.findall(r'href="(/owners/[^"]+/handover)"', here.get("/tanks?owner=A/B%20%26%20C").text)
    told = here.get(link)
    assert told.status_code == 409
    assert "None of the tanks of A/B &amp; C" in told.text
    assert "dawnlevel" not in re.sub("Dawnlevel|dawnlevel-token", "", told.text)
    assert here.get("/owners/Nobody/handover").status_code == 404


def test_whose_a_tank_is_can_be_said_and_taken_back(world: World) -> None:
    here = world.local()
    step = f"{BROOK}/description/size"
    page = here.get(step).text
    assert 'value="Lower School"' in page
    for name in ("Dr Vale", ""):
        here.post(step, data={**fields(here.get(step).text), "owner": name})
        with open_store(world.store) as store:
            assert store.tank("Brook").owner == name


def test_the_overview_by_owner_in_a_browser(world: World) -> None:
    with served(world) as where, chromium() as browser:
        page = open_page(browser)
        for path in ("/tanks", "/tanks?owner=Lower%20School"):
            page.goto(f"{where}{path}")
            assert violations(page) == []
            assert too_small(page) == []
            assert not is_wider_than_screen(page)
