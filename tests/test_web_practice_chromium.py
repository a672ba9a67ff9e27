"""Practice in a real Chromium at 390 px: a ramp by the lessons' own buttons; axe-core in both schemes."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
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
from web_world import World, make_world

SLOW_MS = 60_000  # patience on a busy machine; nothing here measures speed
LESSON = ".practice .lesson"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as opened:
        yield opened


@pytest.fixture
def world(tmp_path: Path) -> Iterator[World]:
    made = make_world(tmp_path)
    yield made
    made.app.state.benches.close()


@pytest.fixture
def base(world: World) -> Iterator[str]:
    with served(world) as address:
        yield address


def begun(browser: Browser, base: str, *, size: dict[str, int] = PHONE, scheme: str = "light") -> Page:
    """A page on which practice has begun, found from the foot of the keeper's own pages."""
    page = open_page(browser, size=size, scheme=scheme)
    page.goto(base + "/devices")
    page.get_by_role("link", name="Practice").click()
    page.get_by_role("button", name="Begin").click()
    expect(page.locator(LESSON)).to_contain_text("Lesson 1 of 5", timeout=SLOW_MS)
    return page


def follow(page: Page) -> None:
    """Press what the lesson has coloured."""
    page.locator(".practice .main").first.click()


def test_the_lessons_lead_through_lights_on_and_distress(browser: Browser, world: World, base: str) -> None:
    before = world.records()
    page = begun(browser, base)
    told = complaints(page)
    follow(page)
    expect(page.locator(".done")).to_contain_text("Recorded: baseline pH", timeout=SLOW_MS)
    follow(page)
    page.get_by_role("button", name="Accept this plan").click()
    expect(page.locator(LESSON)).to_contain_text("Lesson 3 of 5", timeout=SLOW_MS)
    follow(page)
    page.locator(".practice").get_by_role("button", name="pH").click()
    expect(page.locator(".done")).to_contain_text("Recorded: pH", timeout=SLOW_MS)
    page.get_by_role("button", name="Done: set to").click()
    expect(page.locator(".done")).to_contain_text("Recorded: rate", timeout=SLOW_MS)
    page.locator(".practice").get_by_role("button", name="Lights on").click()
    expect(page.locator(LESSON)).to_contain_text("Lesson 4 of 5", timeout=SLOW_MS)
    expect(page.locator(LESSON)).to_contain_text("only a practice tank tells")
    page.get_by_role("button", name="Practise distress").click()
    expect(page.locator(".next .steps li").first).to_have_text("Close the gas now.", timeout=SLOW_MS)
    page.get_by_role("button", name="Done: the gas is closed").click()
    follow(page)
    expect(page.locator(LESSON)).to_contain_text("that is the job", timeout=SLOW_MS)
    page.get_by_role("button", name="Leave practice").click()
    expect(page.locator(".practice")).to_have_count(0, timeout=SLOW_MS)
    assert world.records() == before
    assert told == []


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["390", "1280"])
@pytest.mark.parametrize("scheme", SCHEMES)
def test_axe_core_finds_nothing(browser: Browser, base: str, scheme: str, size: dict[str, int]) -> None:
    page = begun(browser, base, size=size, scheme=scheme)
    follow(page)
    for rest in ("", "/baseline", "/plan", "/why", "/records"):
        page.goto(f"{base}/practice/tanks/Practice{rest}")
        assert violations(page) == [], rest
        assert not is_wider_than_screen(page), rest
        assert too_small(page) == [], rest
    page.get_by_role("button", name="Practise distress").click()
    expect(page.locator(".words .alarming")).to_be_visible(timeout=SLOW_MS)
    assert violations(page) == []
    page.get_by_role("button", name="Leave practice").click()
    page.goto(f"{base}/practice")
    assert violations(page) == []
    assert too_small(page) == []
