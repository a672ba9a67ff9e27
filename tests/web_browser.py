"""A real Chromium against a real server."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect, sync_playwright

PHONE, DESK = {"width": 390, "height": 844}, {"width": 1280, "height": 900}
SCHEMES = ("light", "dark")
QUIET = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
PATIENCE_MS = 60_000
"""How long is waited for what should come within a moment; a busy machine is no failure."""
expect.set_options(timeout=PATIENCE_MS)
RULES = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]},
}


def chromium_path() -> str:
    """Where the system's Chromium is; the test is skipped where there is none."""
    for name in ("chromium", "chromium-browser", "google-chrome"):
        found = shutil.which(name)
        if found:
            return found
    pytest.skip("no Chromium on this system (Debian: apt-get install chromium)")


@contextmanager
def chromium(*more: str) -> Iterator[Browser]:
    """The browser, with `more` of its own switches, closed at the end."""
    path = chromium_path()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=[*QUIET, *more])
        try:
            yield browser
        finally:
            browser.close()


def open_page(
    browser: Browser, *, size: dict[str, int] = PHONE, scheme: str = "light", script: bool = True
) -> Page:
    """A new device's page."""
    context = browser.new_context(
        viewport=size,  # type: ignore[arg-type]  # a plain dict is a size too
        color_scheme=scheme,  # type: ignore[arg-type]  # one of the two words
        java_script_enabled=script,
    )
    page = context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    return page


def complaints(page: Page) -> list[str]:
    """A list that fills with every error the page meets: script, policy, missing file."""
    found: list[str] = []
    page.on("pageerror", lambda error: found.append(str(error)))
    page.on(
        "console",
        lambda message: found.append(message.text) if message.type in {"error", "warning"} else None,
    )
    return found


def violations(page: Page) -> list[str]:
    """What axe-core finds against WCAG 2.2 AA, once the styles are there: rule and the elements' own text."""
    page.wait_for_load_state("load")
    found = Axe().run(page, options=RULES).response["violations"]
    return [f"{one['id']}: {[node['html'][:150] for node in one['nodes']]}" for one in found]


def too_small(page: Page) -> list[str]:
    """Buttons, links outside sentences, fields (with their labels) and folds less than 44 px high or wide."""
    found: list[str] = page.evaluate(
        """() => [...document.querySelectorAll("button, a, input:not([type=hidden]), summary")]
        .filter((one) => one.checkVisibility() && !one.closest("p") && !one.matches(".skip"))
        .map((one) => [one, (one.closest("label") ?? one).getBoundingClientRect()])
        .filter(([one, box]) => box.height < 44 || box.width < 44)
        .map(([one, box]) => one.outerHTML.slice(0, 120))"""
    )
    return found


def is_wider_than_screen(page: Page) -> bool:
    """Whether the page must be moved sideways."""
    wide: bool = page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth")
    return wide


def cut_off(page: Page) -> list[str]:
    """Elements whose words run out of their own box, where nothing can be moved to see them."""
    found: list[str] = page.evaluate(
        """() => [...document.querySelectorAll("main *, header *, nav *")]
        .filter((one) => one.checkVisibility() && one.clientWidth > 0)
        .filter((one) => !one.closest(".unseen, .scroll, svg, [type=file]"))
        .filter((one) => one.scrollWidth > one.clientWidth + 2 && getComputedStyle(one).display !== "inline")
        .map((one) => one.outerHTML.slice(0, 120))"""
    )
    return found
