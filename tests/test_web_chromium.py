"""Today in a real Chromium: a pH recorded at 390 px, two devices, no connection, no script, axe-core."""

import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Route, expect
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

from dawnlevel.tank import CellSighting, FishSighting, FishState, PhReading

SLOW_MS = 60_000  # patience on a busy machine; nothing here measures speed


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as opened:
        yield opened


@pytest.fixture
def world(tmp_path: Path) -> World:
    return make_world(tmp_path)


@pytest.fixture
def base(world: World) -> Iterator[str]:
    with served(world) as address:
        yield address


def phs(world: World) -> list[float]:
    return [record.ph for record in world.records() if isinstance(record, PhReading)]


def test_a_ph_is_recorded_at_390_px_and_taken_back(browser: Browser, world: World, base: str) -> None:
    page = open_page(browser)
    told = complaints(page)
    page.goto(base + BROOK)
    before = page.locator(".standing .number").first.inner_text()
    page.get_by_label("pH", exact=False).first.fill("6.80")
    page.evaluate("window.wasNotReloaded = true")
    page.get_by_role("button", name="Record pH").click()
    expect(page.locator(".done")).to_contain_text("Recorded: pH 6.8", timeout=SLOW_MS)
    expect(page.locator(".standing .number").first).not_to_have_text(before, timeout=SLOW_MS)
    assert page.evaluate("window.wasNotReloaded") is True
    assert page.get_by_label("pH", exact=False).first.input_value() == ""
    assert phs(world)[-1] == 6.80
    page.locator(".done").get_by_role("button", name="Undo").click()
    expect(page.locator(".done")).to_contain_text("Taken back", timeout=SLOW_MS)
    expect(page.locator(".standing .number").first).to_have_text(before, timeout=SLOW_MS)
    assert 6.80 not in phs(world)
    assert told == []


def test_a_double_tap_records_once(browser: Browser, world: World, base: str) -> None:
    page = open_page(browser)
    page.goto(base + BROOK)
    page.locator("#ph-value").fill("7.03")
    page.get_by_role("button", name="Record pH").dblclick()
    expect(page.locator(".done")).to_contain_text("pH 7.03", timeout=SLOW_MS)
    assert phs(world).count(7.03) == 1


def test_bad_input_is_told_beside_the_field_and_kept(browser: Browser, world: World, base: str) -> None:
    page = open_page(browser)
    page.goto(base + BROOK)
    page.locator("#ph-value").fill("68.0")
    page.keyboard.press("Enter")
    expect(page.locator("#ph-value-problem")).to_contain_text("outside 3 to 11", timeout=SLOW_MS)
    assert page.locator("#ph-value").input_value() == "68.0"
    assert page.locator("#ph-value").get_attribute("aria-invalid") == "true"
    expect(page.locator("#ph-value")).to_be_focused()
    assert 68.0 not in phs(world)


def test_another_device_sees_it_without_asking(browser: Browser, world: World, base: str) -> None:
    first, second = open_page(browser), open_page(browser, size=DESK)
    first.goto(base + BROOK)
    second.goto(base + BROOK)
    expect(second.locator(".lately")).not_to_contain_text("cell lime")
    first.get_by_role("button", name="Lime").click()
    expect(second.locator(".lately")).to_contain_text("cell lime", timeout=SLOW_MS)
    assert len(world.records()) == 9


def test_an_open_page_keeps_the_tanks_time(browser: Browser, world: World, base: str) -> None:
    page, other = open_page(browser), open_page(browser)
    page.goto(base + BROOK)
    told = page.locator("[data-countdown]").inner_text()
    world.clock.pass_by(timedelta(minutes=25))
    other.goto(base + BROOK)
    later = other.locator("[data-countdown]").inner_text()
    assert later != told
    other.get_by_role("button", name="Lime").click()
    expect(page.locator("[data-countdown]")).to_have_text(later, timeout=SLOW_MS)
    page.context.set_offline(True)
    page.get_by_role("button", name="Green").click()
    expect(page.locator("[data-waiting] li")).to_have_count(1, timeout=SLOW_MS)
    page.context.set_offline(False)
    expect(page.locator("[data-waiting]")).to_be_hidden(timeout=SLOW_MS)
    (kept,) = [
        one for one in world.records() if isinstance(one, CellSighting) and one.colour.value == "green"
    ]
    assert abs(kept.at - world.clock.now) < timedelta(minutes=2)


def test_without_a_connection_the_reading_is_kept_with_its_time_and_sent_once(
    browser: Browser, world: World, base: str
) -> None:
    page = open_page(browser)
    page.goto(base + BROOK)
    page.context.set_offline(True)
    page.locator("#ph-value").fill("7.04")
    page.get_by_role("button", name="Record pH").click()
    expect(page.locator("[data-waiting] li")).to_contain_text("pH 7.04", timeout=SLOW_MS)
    assert page.locator("#ph-value").input_value() == ""
    page.get_by_role("button", name="Lime").click()
    expect(page.locator("[data-waiting] li")).to_have_count(2, timeout=SLOW_MS)
    assert violations(page) == []
    page.get_by_role("button", name="Discard").last.click()
    expect(page.locator("[data-waiting] li")).to_have_count(1)
    assert 7.04 not in phs(world)
    made = world.clock.now
    world.clock.pass_by(timedelta(minutes=20))
    page.context.set_offline(False)
    expect(page.locator(".done")).to_contain_text("pH 7.04", timeout=SLOW_MS)
    expect(page.locator("[data-waiting]")).to_be_hidden()
    found = [one for one in world.records() if isinstance(one, PhReading) and one.ph == 7.04]
    assert len(found) == 1
    assert abs(found[0].at - made) < timedelta(minutes=2)
    assert not any(isinstance(one, CellSighting) and one.at > made for one in world.records())


def test_an_answer_that_was_lost_does_not_record_twice(browser: Browser, world: World, base: str) -> None:
    page = open_page(browser)
    page.goto(base + BROOK)
    lost: list[str] = []

    def lose_the_first_answer(route: Route) -> None:
        if lost:
            route.fallback()
            return
        lost.append(route.fetch().text())  # the server has it
        route.abort()

    page.route("**/api/**/records", lose_the_first_answer)
    page.locator("#ph-value").fill("7.06")
    page.get_by_role("button", name="Record pH").click()
    expect(page.locator("[data-waiting]")).to_contain_text("pH 7.06", timeout=SLOW_MS)
    page.reload()
    expect(page.locator("[data-waiting]")).to_be_hidden(timeout=SLOW_MS)
    assert lost
    assert phs(world).count(7.06) == 1


def test_an_entry_with_a_time_in_words_stays_in_its_field(browser: Browser, base: str) -> None:
    page = open_page(browser)
    page.goto(base + BROOK)
    page.context.set_offline(True)
    page.locator("#ph-value").fill("7.07")
    page.locator("summary", has_text="Seen earlier?").first.click()
    page.locator("#ph-at").fill("09:30")
    page.get_by_role("button", name="Record pH").click()
    expect(page.locator("#ph-value-problem")).to_contain_text("No connection", timeout=SLOW_MS)
    assert page.locator("#ph-value").input_value() == "7.07"


def test_distress_without_a_connection_says_what_to_do_and_is_recorded_later(
    browser: Browser, world: World, base: str
) -> None:
    page = open_page(browser)
    page.goto(base + BROOK)
    page.context.set_offline(True)
    page.get_by_role("button", name="Fish in distress").click()
    expect(page.locator("[data-distress] .steps li").first).to_have_text(
        "Close the gas now.", timeout=SLOW_MS
    )
    assert violations(page) == []
    page.context.set_offline(False)
    expect(page.locator("[data-waiting]")).to_be_hidden(timeout=SLOW_MS)
    assert any(isinstance(r, FishSighting) and r.state is FishState.DISTRESS for r in world.records())


def test_without_script_it_works_too(browser: Browser, world: World, base: str) -> None:
    page = open_page(browser, script=False)
    page.goto(base + BROOK)
    page.locator("#ph-value").fill("wet")
    page.get_by_role("button", name="Record pH").click()
    expect(page.locator("#ph-value-problem")).to_contain_text("is no number", timeout=SLOW_MS)
    assert page.locator("#ph-value").input_value() == "wet"
    page.locator("#ph-value").fill("7.05")
    page.get_by_role("button", name="Record pH").click()
    expect(page.locator(".done")).to_contain_text("pH 7.05", timeout=SLOW_MS)
    page.get_by_role("button", name="Fish in distress").click()
    expect(page.locator(".next .steps li").first).to_have_text("Close the gas now.", timeout=SLOW_MS)
    assert any(isinstance(r, FishSighting) and r.state is FishState.DISTRESS for r in world.records())


def test_pointing_at_the_picture_tells_the_level_there(browser: Browser, base: str) -> None:
    page = open_page(browser, size=DESK)
    told = complaints(page)
    page.goto(base + BROOK)
    picture = page.locator(".picture .wide svg")
    box = picture.bounding_box()
    assert box
    page.mouse.move(box["x"] + box["width"] * 0.6, box["y"] + box["height"] * 0.4)
    expect(page.locator(".probe")).to_have_text(
        re.compile(r"\d\d:\d\d +[\d.]+ mg/L, 9 in 10"), timeout=SLOW_MS
    )
    assert told == []


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["390", "1280"])
@pytest.mark.parametrize("scheme", SCHEMES)
def test_axe_core_finds_nothing(
    browser: Browser, world: World, base: str, scheme: str, size: dict[str, int]
) -> None:
    page = open_page(browser, size=size, scheme=scheme)
    for path in (BROOK, f"{BROOK}/baseline", f"{BROOK}/spread", "/tanks", "/devices", "/distress", "/nope"):
        page.goto(base + path)
        assert violations(page) == [], path
        assert not is_wider_than_screen(page), path
        assert too_small(page) == [], path
    page.goto(base + BROOK)
    page.locator("#ph-value").fill("wet")
    page.get_by_role("button", name="Record pH").click()
    expect(page.locator("#ph-value-problem")).to_contain_text("is no number", timeout=SLOW_MS)
    assert violations(page) == []
    page.get_by_role("button", name="Fish in distress").click()
    expect(page.locator(".words .alarming")).to_be_visible(timeout=SLOW_MS)
    assert violations(page) == []
    assert any(isinstance(record, FishSighting) for record in world.records())
