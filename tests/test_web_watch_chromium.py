"""Steadiness in a real Chromium: phone and desk, light and dark, by axe-core; a log brought in."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect
from watch_world import DAY_0, RILL, WEAKER, csv_of, make_logged_world
from web_browser import (
    DESK,
    PHONE,
    chromium,
    complaints,
    cut_off,
    is_wider_than_screen,
    open_page,
    too_small,
    violations,
)
from web_server import served

SLOW_MS = 60_000  # patience on a busy machine; nothing here measures speed
WATCH = f"{RILL}/watch"
PATHS = (WATCH, f"{WATCH}/injection_weaker-2026-05-19", f"{WATCH}/days/{DAY_0}")


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as opened:
        yield opened


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with served(make_logged_world(Path(tmp_path_factory.mktemp("watch")))) as address:
        yield address


@pytest.mark.parametrize(
    ("size", "scheme", "script"), [(PHONE, "light", False), (PHONE, "dark", True), (DESK, "light", True)]
)
def test_axe_core_finds_nothing(
    browser: Browser, base: str, size: dict[str, int], scheme: str, script: bool
) -> None:
    page = open_page(browser, size=size, scheme=scheme, script=script)
    told = complaints(page)
    for path in PATHS:
        page.goto(base + path)
        assert not is_wider_than_screen(page), path
        assert too_small(page) == [], path
        if script:
            assert violations(page) == [], path
    assert told == []


def test_nothing_is_cut_off_on_a_small_screen_or_in_large_letters(browser: Browser, base: str) -> None:
    page = open_page(browser, size={"width": 320, "height": 640})
    for path in PATHS:
        page.goto(base + path)
        assert not is_wider_than_screen(page), path
        assert cut_off(page) == [], path
    page.set_viewport_size(PHONE)  # type: ignore[arg-type]  # a plain dict is a size too
    for path in PATHS:
        page.goto(base + path)
        page.evaluate("document.documentElement.style.fontSize = '212.5%'")  # twice what the style sheet has
        assert not is_wider_than_screen(page), path
        assert cut_off(page) == [], path


def test_a_day_is_chosen_in_the_month_with_a_finger(browser: Browser, base: str) -> None:
    page = open_page(browser)
    page.goto(base + WATCH)
    page.get_by_role("link", name=re.compile(r"^20 May: ")).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Rill, Wed 20 May 2026", timeout=SLOW_MS)
    page.get_by_role("link", name="Day before").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Rill, Tue 19 May 2026", timeout=SLOW_MS)


@pytest.mark.parametrize("size", [PHONE, DESK])
def test_a_log_is_brought_in_without_script(browser: Browser, tmp_path: Path, size: dict[str, int]) -> None:
    file = tmp_path / "probe.csv"
    file.write_bytes(csv_of(WEAKER, 2))
    with served(make_logged_world(tmp_path, None)) as base:
        page = open_page(browser, size=size, script=False)
        page.goto(base + WATCH)
        page.get_by_label("The file your probe wrote").set_input_files(file)
        page.get_by_role("button", name="Look at the file").click()
        expect(page.get_by_text("2,880 new readings")).to_be_visible(timeout=SLOW_MS)
        assert not is_wider_than_screen(page)
        assert too_small(page) == []
        page.get_by_role("button", name="Bring it in").click()
        expect(page.get_by_text("Brought in: 2,880 readings.")).to_be_visible(timeout=SLOW_MS)
        file.write_text("time,ph\nyesterday,7\n")
        page.get_by_label("The file your probe wrote").set_input_files(file)
        page.get_by_role("button", name="Look at the file").click()
        expect(page.get_by_role("alert")).to_contain_text("'yesterday' is no time", timeout=SLOW_MS)
        assert not is_wider_than_screen(page)
        assert too_small(page) == []
