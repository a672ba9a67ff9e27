"""Animals, oxygen, faults, gear, room, solution in a real Chromium: phone and desk, light and dark."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser
from web_browser import DESK, PHONE, chromium, is_wider_than_screen, open_page, too_small, violations
from web_server import served
from web_world import BROOK, make_world

PATHS = (
    *(f"{BROOK}/animals", f"{BROOK}/whatif", f"{BROOK}/whatif?kind=valve", f"{BROOK}/description/animals"),
    *(f"{BROOK}/gear", f"{BROOK}/room", f"{BROOK}/room?room=big", f"{BROOK}/solution"),
)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as opened:
        yield opened


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with served(make_world(Path(tmp_path_factory.mktemp("care")))) as address:
        yield address


@pytest.mark.parametrize(
    ("size", "scheme", "script"), [(PHONE, "light", False), (PHONE, "dark", True), (DESK, "light", True)]
)
def test_axe_core_finds_nothing(
    browser: Browser, base: str, size: dict[str, int], scheme: str, script: bool
) -> None:
    page = open_page(browser, size=size, scheme=scheme, script=script)
    for path in PATHS:
        page.goto(base + path)
        assert not is_wider_than_screen(page), path
        assert too_small(page) == [], path
        if script:
            assert violations(page) == [], path


def test_faults_fold_and_one_is_open_at_a_time(browser: Browser, base: str) -> None:
    """On a phone the page is a list of lines, without script; it was over 8000 px long when all lay open."""
    page = open_page(browser, size=PHONE, script=False)
    page.goto(f"{base}{BROOK}/whatif")
    faults = page.locator("details.fault")
    assert page.evaluate("document.documentElement.scrollHeight") < 4000
    assert page.locator("details.fault[open]").count() == 0
    for place in (0, 2):
        faults.nth(place).locator("summary").click()
        assert page.locator("details.fault[open]").count() == 1
    assert faults.nth(2).get_by_text("You would see").is_visible()


@pytest.mark.parametrize("name", ["room", "solution", "whatif"])
def test_on_paper_there_is_the_answer_and_no_form(browser: Browser, base: str, name: str) -> None:
    """What is folded away is printed too; menus and questions are not."""
    page = open_page(browser, size=DESK)
    page.goto(f"{base}{BROOK}/{name}")
    page.emulate_media(media="print")
    assert page.locator("form:visible").count() == 0
    assert page.locator(".menu:visible").count() == 0
    assert page.locator(".sources li").first.is_visible()
