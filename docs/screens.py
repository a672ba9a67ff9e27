"""Pictures of every page at a phone's and a desk's width, light and dark: docs/screens/, from the demo tank.

python -m docs.screens
"""

import os
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

from dawnlevel.web.addresses import tank_path
from dawnlevel.web.pages import TANK_PAGES

FOLDER = Path(__file__).parent / "screens"
TANK = "Fernbrook"
LOGGED = "Alderpool"
"""The demonstration's tank with a probe's log."""

WIDTHS = {"phone": (390, 844), "desk": (1280, 900)}
SCHEMES = ("light", "dark")
HIGHEST = {"phone": 1700, "desk": 1200}
"""How much of a page is pictured from its top [px]: two screens of a phone, one and a third of a desk's."""
_COLOURS = 40
"""Pages have few colours; with so many a picture takes some 30 kB without any blur (measured)."""
_PATIENCE_S = 120.0


def places() -> dict[str, str]:
    """Every page by name: its address."""
    own = {entry.route: tank_path(TANK, entry.path) for entry in TANK_PAGES}
    own["watch"] = tank_path(LOGGED, "/watch")
    watched = {
        "own_readings": tank_path(TANK, "/watch"),
        "watched_day": tank_path(LOGGED, "/watch/days/2026-04-25"),
        "finding": tank_path(LOGGED, "/watch/injection_weaker-2026-04-25"),
    }
    return {
        **own,
        **watched,
        "complaint": tank_path(TANK, "/trouble/cell-stays-blue"),
        "change": tank_path(TANK, "/description/water"),
        "tanks": "/tanks",
        "devices": "/devices",
        "distress": "/distress",
        "setup": "/setup",
    }


@contextmanager
def demo_server() -> Iterator[str]:
    """The demo tank, played afresh in a folder of its own and served; where."""
    program = [sys.executable, "-m", "dawnlevel.cli"]
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    with tempfile.TemporaryDirectory() as folder:
        known = {**os.environ, "DAWNLEVEL_DATA": folder}
        subprocess.run([*program, "demo", "--fresh"], env=known, check=True, stdout=subprocess.DEVNULL)
        serve = [*program, "serve", "--demo", "--port", str(port)]
        server = subprocess.Popen(serve, env=known, stdout=subprocess.DEVNULL)
        try:
            address = f"http://127.0.0.1:{port}"
            _wait_for(address)
            yield address
        finally:
            server.terminate()
            server.wait(30)


def _wait_for(address: str) -> None:
    end = time.monotonic() + _PATIENCE_S
    while True:
        try:
            urllib.request.urlopen(address, timeout=5).close()
        except OSError:
            if time.monotonic() > end:
                raise
            time.sleep(0.3)
        else:
            return


def shoot(browser: Browser, address: str) -> None:
    """One picture a page, width and scheme."""
    for width, (wide, high) in WIDTHS.items():
        for scheme in SCHEMES:
            context = browser.new_context(
                viewport={"width": wide, "height": high},
                color_scheme="light" if scheme == "light" else "dark",
            )
            page = context.new_page()
            page.set_default_timeout(1000 * _PATIENCE_S)
            for name, path in places().items():
                page.goto(address + path)
                keep(page, name, width, scheme)
            practise(page, address, width, scheme)
            context.close()


def practise(page: Page, address: str, width: str, scheme: str) -> None:
    """The way into practice, and its Today with the first lesson."""
    page.goto(f"{address}/practice")
    keep(page, "practice", width, scheme)
    page.get_by_role("button", name="Begin").click()
    page.locator(".practice .lesson").wait_for()
    keep(page, "practice_today", width, scheme)
    page.get_by_role("button", name="Leave practice").click()


def keep(page: Page, name: str, width: str, scheme: str) -> None:
    """The page as it stands, from its top, as a file."""
    page.wait_for_load_state("load")
    whole = Image.open(BytesIO(page.screenshot(full_page=True)))
    seen = whole.convert("RGB").crop((0, 0, whole.width, min(whole.height, HIGHEST[width])))
    file = FOLDER / f"{re.sub(r'[^a-z_]', '', name)}-{width}-{scheme}.webp"
    few = seen.quantize(_COLOURS, Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE).convert("RGB")
    few.save(file, lossless=True, method=6)
    sys.stdout.write(f"{file.name}\n")


def main() -> int:
    """Make them all."""
    chromium = next(
        (found for name in ("chromium", "chromium-browser") if (found := shutil.which(name))), None
    )
    if chromium is None:
        sys.stderr.write("There is no Chromium here. Debian: apt-get install chromium\n")
        return 1
    FOLDER.mkdir(exist_ok=True)
    for old in FOLDER.glob("*.*"):
        old.unlink()
    with demo_server() as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
        shoot(browser, address)
        browser.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
