"""The page beside the tank: how soon Today stands, how soon advice follows a reading, what the server takes.

    python -m benchmarks.web [--repeats 15] [--json FILE]

A real server in a process of its own over a store of 90 days of records, and a real Chromium at 390 px.
Ready: from asking for the page until the level, the next action and the day's picture are on the screen, as
the browser's own paint timing has it; once as the machine is, once with the processor held to a quarter.
Advice: from the tap on Record pH until the level told has changed. Memory: the server's resident set after
all pages were opened; beside it that of the process that draws, which ends when nobody has looked for three
minutes, and Today's first time after that. Goals: 0.5 s, 1.2 s, 0.3 s, 200 MB for the server.
"""

import argparse
import json
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import psutil
from playwright.sync_api import Page, sync_playwright

from benchmarks._machine import machine
from benchmarks.advice import START, invented_records
from dawnlevel.desk.records import describe_tank, record_all
from dawnlevel.store import open_store
from dawnlevel.web.pages import TANK_PAGES

DAYS = 90
TANK = "Benchmark"
GOALS = {"ready_s": 0.5, "ready_throttled_s": 1.2, "advice_s": 0.3, "memory_mb": 200.0}
WIDTH, HEIGHT, SLOWER = 390, 844, 4
_PATIENCE_MS = 60_000
_READY = """() => new Promise((done) => requestAnimationFrame(() => setTimeout(() => done(
  document.querySelector(".standing .number") && document.querySelector(".next .action")
  && document.querySelector(".picture svg") ? performance.now() / 1000 : -1), 0)))"""


def fill(store: str) -> datetime:
    """Put the invented tank's 90 days into a new store; the moment (UTC) of the last."""
    tank, records, now = invented_records(DAYS)
    with open_store(store, clock=lambda: now) as opened:
        describe_tank(opened, replace(tank, name=TANK), now, START)
        record_all(opened, TANK, records, now)
    return now


@contextmanager
def serving(store: str, now: datetime) -> Iterator[tuple[str, psutil.Process]]:
    """The server over `store` at the moment `now`: its address, its process."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "dawnlevel.cli", "serve", "--store", store, "--port", str(port)]
    known = {**os.environ, "DAWNLEVEL_NOW": now.isoformat()}
    server = subprocess.Popen(command, env=known, stdout=subprocess.DEVNULL)  # noqa: S603 - our own
    try:
        address = f"http://127.0.0.1:{port}"
        _wait_for(f"{address}/tanks/{TANK}")
        yield address, psutil.Process(server.pid)
    finally:
        server.terminate()
        server.wait(30)


def _wait_for(address: str) -> None:
    end = time.monotonic() + _PATIENCE_MS / 1000
    while True:
        try:
            urllib.request.urlopen(address, timeout=30).close()  # noqa: S310 - the server just started
        except OSError:
            if time.monotonic() > end:
                raise
            time.sleep(0.2)
        else:
            return


def ready_s(page: Page, address: str, repeats: int) -> list[float]:
    """Seconds from asking for Today until all of it is on the screen, each time."""
    found = []
    for _ in range(repeats):
        page.goto(address, wait_until="load")
        seconds = float(page.evaluate(_READY))
        if seconds < 0:
            message = "Today lacks its level, its action or its picture"
            raise RuntimeError(message)
        found.append(seconds)
    return found


def advice_s(page: Page, address: str, repeats: int) -> list[float]:
    """Seconds from the tap until the level told has changed, each time with another pH."""
    found = []
    page.goto(address, wait_until="load")
    for repeat in range(repeats):
        before = page.locator(".words").inner_text()
        page.locator("#ph-value").fill(f"{6.70 + 0.01 * (repeat % 12):.2f}")
        start = time.perf_counter()
        page.get_by_role("button", name="Record pH").click()
        page.wait_for_function(
            "(before) => document.querySelector('.words').innerText !== before", arg=before
        )
        found.append(time.perf_counter() - start)
        page.wait_for_timeout(1500)  # the picture follows the words; it is not what is timed
    return found


def measure(repeats: int) -> dict[str, object]:
    """All figures, ready for JSON; prints them on the way."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        sys.exit("There is no Chromium here. Debian: apt-get install chromium")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        store = str(Path(folder) / "records.sqlite3")
        now = fill(store)
        with serving(store, now + timedelta(minutes=1)) as (base, server):
            browser = playwright.chromium.launch(
                executable_path=chromium, args=["--no-sandbox", "--disable-gpu"]
            )
            context = browser.new_context(viewport={"width": WIDTH, "height": HEIGHT})
            page = context.new_page()
            page.set_default_timeout(_PATIENCE_MS)
            today = f"{base}/tanks/{TANK}"
            ready_s(page, today, 2)  # the first fills caches
            ready = ready_s(page, today, repeats)
            advice = advice_s(page, today, repeats)
            held = context.new_cdp_session(page)
            held.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
            throttled = ready_s(page, today, repeats)
            held.send("Emulation.setCPUThrottlingRate", {"rate": 1})
            for entry in TANK_PAGES:
                page.goto(today + entry.path)
            memory = server.memory_info().rss / 1e6
            drawing = [child for child in server.children() if "dawnlevel.report.workshop" in child.cmdline()]
            drawing_mb = sum(child.memory_info().rss for child in drawing) / 1e6
            for child in drawing:
                child.kill()  # as after its idle time, when it ends by itself
            first = ready_s(page, today, 1)
            browser.close()
    figures = {"ready_s": ready, "ready_throttled_s": throttled, "advice_s": advice}
    medians = {name: float(np.median(values)) for name, values in figures.items()} | {
        "memory_mb": memory,
        "drawing_mb": drawing_mb,
        "first_after_idle_s": first[0],
    }
    for name, goal in GOALS.items():
        print(f"{name}: {medians[name]:.2f}, goal {goal:g}: {'met' if medians[name] <= goal else 'missed'}")
    print(f"drawing_mb: {drawing_mb:.0f}; first_after_idle_s: {first[0]:.2f}; no goals")
    return {
        "machine": machine(("dawnlevel", "numpy", "altair", "vl-convert-python", "playwright")),
        "days": DAYS,
        "repeats": repeats,
        "median": medians,
        "p95": {name: float(np.quantile(values, 0.95)) for name, values in figures.items()},
        "goals": GOALS,
        "goals_met": {name: medians[name] <= goal for name, goal in GOALS.items()},
    }


def main() -> None:
    """Measure, print, and write JSON where asked."""
    parser = argparse.ArgumentParser(description="Speed and memory of the pages.")
    parser.add_argument("--repeats", type=int, default=15, help="times each is measured (default 15)")
    parser.add_argument("--json", type=Path, help="file to write the figures to")
    options = parser.parse_args()
    figures = measure(options.repeats)
    if options.json:
        options.json.parent.mkdir(parents=True, exist_ok=True)
        options.json.write_text(json.dumps(figures, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
