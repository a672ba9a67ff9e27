"""A newcomer's whole story in a real Chromium at 390 px: set-up, baseline, five readings, lights-on, lock.

The water is a practice tank, richer than the planner's own model; only the browser touches the program.
"""

import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from web_browser import chromium, complaints, is_wider_than_screen, open_page, violations
from web_server import served
from web_world import World, make_world

from dawnlevel.practice import easy
from dawnlevel.practice.scenario import ZONE, moment
from dawnlevel.store import open_store
from dawnlevel.tank import BaselineCup, PhReading, TimerSetting
from dawnlevel.web.setup_asks import STEPS

SLOW_MS = 60_000
SEED, LIGHTS_ON_H = 29, 13.0
ALDER = "/tanks/Alder"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as opened:
        yield opened


class Hands:
    """Somebody beside the tank with a phone: reads the practice tank, types, taps, turns the needle."""

    def __init__(self, page: Page, world: World, base: str) -> None:
        self.page, self.world, self.base = page, world, base
        self.water = easy(SEED)
        self.rate = 0.0
        self.windows: list[tuple[float, float]] = []
        self._tell_time()

    def _tell_time(self) -> None:
        self.world.clock.now = moment(self.water.clock())

    def wait_until(self, hour: float) -> None:
        """Let time pass; the timer opens and closes the gas."""
        day = self.water.clock() // 24.0
        switches = [(24.0 * (day + d) + h, i) for d in (0, 1) for w in self.windows for i, h in enumerate(w)]
        for at, closes in sorted(switches):
            if self.water.clock() < at <= hour:
                self.water.wait_until(at)
                self.water.set_gas(0.0 if closes else self.rate)
        self.water.wait_until(hour)
        self._tell_time()

    def open(self, path: str) -> None:
        self.page.goto(self.base + path)

    def read_ph(self) -> float:
        """Read the meter and record it, then follow the advice where it asks for another rate."""
        ph = self.water.read_ph()
        self.open(ALDER)
        self.page.locator("#ph-value").fill(f"{ph:.2f}")
        self.page.get_by_role("button", name="Record pH").click()
        expect(self.page.locator(".done")).to_contain_text(f"pH {ph:g}", timeout=SLOW_MS)
        advised = self.page.get_by_role("button", name=re.compile("Done: set to"))
        if advised.count():
            self.rate = float(advised.get_attribute("value") or "")
            flows = any(low <= self.water.clock() % 24.0 < high for low, high in self.windows)
            self.water.set_gas(self.rate if flows else 0.0)
            advised.click()
            expect(self.page.locator(".done")).to_contain_text("rate", timeout=SLOW_MS)
        return ph

    def accept_plan(self) -> None:
        """Accept tomorrow's plan and set timer and needle by hand to match."""
        self.open(f"{ALDER}/plan")
        windows = self.page.locator('input[name="windows"]').get_attribute("value") or ""
        self.rate = float(self.page.locator('input[name="rate"]').get_attribute("value") or "")
        self.page.get_by_role("button", name="Accept this plan").click()
        expect(self.page.locator(".done")).to_contain_text("Set:", timeout=SLOW_MS)
        times = [float(h) + float(m) / 60.0 for h, m in re.findall(r"(\d\d):(\d\d)", windows)]
        self.windows = list(zip(times[::2], times[1::2], strict=True))

    def set_up(self) -> None:
        """Describe the tank by its card, as the pages ask."""
        card = self.water.card()
        answers = {
            "size": {"name": "Alder", "volume": card["volume_l"], "depth": card["depth_cm"]},
            "lights": {"lights_on": "13:00", "lights_off": "21:00", "timezone": ZONE.key},
            "water": {"surface": card["surface"], "planting": card["planting"], "diffuser": card["diffuser"]},
            "instruments": {"temp": card["temp_c"], "kh_step": card["kh_step_dkh"]},
            "timer": {"earliest_gas": "07:45", "first_rate": card["first_rate_bps"]},
        }
        self.open("/setup")
        for step in STEPS:
            for name, value in answers.get(step.key, {}).items():
                radio = self.page.locator(f'input[type="radio"][name="{name}"][value="{value}"]')
                if radio.count():
                    radio.check()
                else:
                    self.page.locator(f'input[name="{name}"]').fill(str(value))
            assert violations(self.page) == []
            assert not is_wider_than_screen(self.page)
            self.page.get_by_role("button", name="Next", exact=True).click()
        self.page.get_by_role("button", name="Yes, keep this tank").click()
        expect(self.page.locator("h1")).to_contain_text("Alder", timeout=SLOW_MS)

    def take_baseline(self) -> None:
        """Aerate a cup of tank water as the card says, and record what it shows."""
        self.open(f"{ALDER}/baseline")
        self.page.locator("#cup-ph").fill(f"{self.water.read_degassed_ph():.2f}")
        self.page.locator("#cup-hours").fill(f"{self.water.card()['baseline_hours']} h")
        self.page.get_by_role("button", name="Is it degassed?").click()
        expect(self.page.locator("#verdict-title")).to_be_visible(timeout=SLOW_MS)
        self.page.get_by_role("button", name="Record it as the baseline").click()
        expect(self.page.locator(".done")).to_contain_text("Recorded", timeout=SLOW_MS)


def test_from_an_empty_page_to_a_settled_tank(browser: Browser, tmp_path: Path) -> None:
    world = make_world(tmp_path)
    with served(world) as base:
        page = open_page(browser)
        told = complaints(page)
        hands = Hands(page, world, base)
        hands.set_up()
        hands.take_baseline()
        hands.wait_until(21.5)
        hands.accept_plan()
        drops = []
        for day in range(1, 5):
            start = 24.0 * day
            opens = hands.windows[0][0]
            first = start + max(opens, LIGHTS_ON_H - 2.5)
            for reading in range(5 if day == 1 else 2):
                hands.wait_until(first + reading * (0.4 if day == 1 else 1.2))
                hands.read_ph()
            hands.wait_until(start + LIGHTS_ON_H)
            drops.append(hands.water.truth()["drop"])
            hands.read_ph()
            if day == 1:
                expect(page.locator(".phase")).to_contain_text("lights on", timeout=SLOW_MS)
            hands.wait_until(start + 16.0)
            hands.read_ph()
            hands.wait_until(start + 21.5)
            hands.accept_plan()
        hands.wait_until(24.0 * 5 + 9.0)
        hands.open(ALDER)
        expect(page.locator(".words")).to_contain_text("Leave the needle alone", timeout=SLOW_MS)
        assert [one for one in told if "favicon" not in one] == []
    assert all(0.9 < drop < 1.3 for drop in drops[1:]), drops  # the band is 1.0 to 1.2
    with open_store(world.store) as store:
        kinds = [type(stored.record) for stored in store.records("Alder")]
    assert kinds.count(BaselineCup) == 1
    assert kinds.count(PhReading) == 19
    assert kinds.count(TimerSetting) >= 1
    assert world.clock.now - moment(20.0) > timedelta(days=4)
