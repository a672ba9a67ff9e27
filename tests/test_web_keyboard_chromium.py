"""By keyboard alone, with large letters, on a narrow screen, without motion, in forced colours, in Chromium.

WCAG 2.2: 2.1.1 keyboard, 2.4.1 skip, 2.4.3 order, 2.4.7 and 2.4.11 focus seen and not hidden, 1.4.4 text at
200 %, 1.4.10 reflow at 320 px, 2.3.3 motion; forced colours as CSS Color Adjustment has them.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from web_browser import DESK, PHONE, chromium, cut_off, is_wider_than_screen, open_page, violations
from web_server import served
from web_world import BROOK, World, make_world

from dawnlevel.store import open_store
from dawnlevel.tank import BaselineCup, CellSighting, FishSighting, PhReading, TimerSetting
from dawnlevel.web.pages import TANK_PAGES
from dawnlevel.web.setup_asks import STEPS

MOST_STOPS = 90
PAGES = [
    *(BROOK + entry.path for entry in TANK_PAGES),
    f"{BROOK}/trouble/plants-stall",
    f"{BROOK}/description/animals",
    "/tanks",
    "/devices",
    "/distress",
    "/setup",
    "/practice",
    "/nope",
]
SEEN = """() => {
  const one = document.activeElement;
  const box = (one.closest("label") ?? one).getBoundingClientRect();
  const style = getComputedStyle(one);
  const at = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
  const has = (outer, inner) => outer && inner && (outer === inner || outer.contains(inner));
  return {
    what: one.outerHTML.slice(0, 120),
    is_ringed: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2,
    is_on_screen: box.y >= -1 && box.y + Math.min(box.height, 44) <= innerHeight + 1,
    is_free: has(one, at) || has(one.closest("label"), at) || has(at, one),
  };
}"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as opened:
        yield opened


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> World:
    return make_world(tmp_path_factory.mktemp("keys"))


@pytest.fixture(scope="module")
def base(world: World) -> Iterator[str]:
    with served(world) as address:
        yield address


class Keys:
    """Somebody who has a keyboard and nothing else."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def tab_to(self, selector: str, *, back: bool = False) -> None:
        """Press Tab until the focus is there; at every stop the focus is seen and nothing hides it."""
        self.page.wait_for_load_state("load")  # before its styles a page shows no focus
        stops = []
        for _ in range(MOST_STOPS):
            self.page.keyboard.press("Shift+Tab" if back else "Tab")
            here = self.page.evaluate(SEEN)
            stops.append(here["what"])
            if here["what"].startswith("<body"):
                continue  # round the end of the page
            assert here["is_ringed"], here
            assert here["is_on_screen"], here
            assert here["is_free"], here
            if self.page.evaluate("(css) => document.activeElement.matches(css)", selector):
                return
        raise AssertionError([f"no way to {selector}", *stops])

    def fill(self, name: str, text: str) -> None:
        """Type over what stands in the field."""
        self.tab_to(f'input[name="{name}"]')
        self.page.keyboard.press("ControlOrMeta+a")
        self.page.keyboard.type(text)

    def press(self, key: str = "Enter") -> None:
        self.page.keyboard.press(key)

    def open(self, address: str) -> None:
        self.page.goto(address)


def test_the_whole_way_from_set_up_to_distress(browser: Browser, tmp_path: Path) -> None:
    world = make_world(tmp_path, records=[])
    with served(world) as base:
        keys = Keys(open_page(browser))
        describe_alder(keys, base)
        keys.open(f"{base}/tanks/Alder/baseline")
        keys.fill("ph", "8.02")
        keys.fill("hours", "2 h")
        keys.tab_to('button[value="record"]')
        keys.press()
        expect(keys.page.locator(".done")).to_contain_text("Recorded")
        keys.open(f"{base}/tanks/Alder/plan")
        keys.tab_to('form[action$="/plan"] button')
        keys.press("Space")
        expect(keys.page.locator(".done")).to_contain_text("Set:")
        read_and_take_back(keys, f"{base}/tanks/Alder")
        tell_distress(keys, f"{base}/tanks/Alder")
    with open_store(world.store) as store:
        kinds = [type(stored.record) for stored in store.records("Alder")]
    assert {BaselineCup, TimerSetting, CellSighting, FishSighting} <= set(kinds)
    assert PhReading not in kinds  # it was taken back


def test_what_another_device_records_leaves_the_focus_where_it_is(browser: Browser, tmp_path: Path) -> None:
    world = make_world(tmp_path)
    with served(world) as base:
        keys = Keys(open_page(browser))
        keys.open(f"{base}/tanks/Brook")
        keys.fill("value", "7.31")
        keys.press()
        expect(keys.page.locator(".done")).to_contain_text("pH 7.31")
        keys.tab_to(".done button", back=True)
        # only what is brought anew lacks this mark
        keys.page.evaluate("document.querySelector('.done').dataset.old = 'yes'")
        other = open_page(browser)
        other.goto(f"{base}/tanks/Brook")
        other.get_by_role("button", name="Calm", exact=True).click()
        expect(other.locator(".done")).to_contain_text("fish calm")
        expect(keys.page.locator(".done:not([data-old])")).to_have_count(1)
        expect(keys.page.locator(".done button")).to_be_focused()
        keys.press()
        expect(keys.page.locator(".done")).to_contain_text("Taken back")


def describe_alder(keys: Keys, base: str) -> None:
    """Answer the questions, with a slip in the first step."""
    keys.open(f"{base}/setup")
    keys.fill("name", "Alder")
    keys.fill("volume", "wet")
    keys.press()
    expect(keys.page.locator('[data-problem="volume"]')).to_contain_text("is no number")
    expect(keys.page.locator('input[name="volume"]')).to_be_focused()
    told = keys.page.locator('input[name="volume"]').get_attribute("aria-describedby") or ""
    assert keys.page.locator('[data-problem="volume"]').get_attribute("id") in told.split()
    keys.page.keyboard.press("ControlOrMeta+a")
    keys.page.keyboard.type("180")
    keys.fill("depth", "45")
    keys.press()
    for step in STEPS[1:]:
        expect(keys.page.locator("h1")).to_have_text(step.title)
        if step.key == "lights":
            keys.fill("lights_on", "13:00")
            keys.fill("lights_off", "21:00")
        if step.key == "water":
            keys.tab_to('input[type="radio"][name="surface"]')
            keys.press("ArrowDown")
            chosen = keys.page.evaluate("document.activeElement.checked && document.activeElement.name")
            assert chosen == "surface"
        keys.tab_to('button[value="next"]')
        keys.press()
    expect(keys.page.locator("h1")).to_have_text("Is this Alder?")
    keys.tab_to('button[value="save"]:not(.unseen)')
    keys.press()
    expect(keys.page.locator("h1")).to_have_text("Alder")


def read_and_take_back(keys: Keys, today: str) -> None:
    """A pH by Enter, taken back by its own button; a cell's colour by Space."""
    keys.open(today)
    keys.press("Tab")
    expect(keys.page.locator(".skip")).to_be_focused()
    assert keys.page.evaluate(SEEN)["is_on_screen"]
    keys.press()
    expect(keys.page.locator("#main")).to_be_focused()
    keys.fill("value", "wet")
    keys.press()
    expect(keys.page.locator("#ph-value-problem")).to_contain_text("is no number")
    expect(keys.page.locator("#ph-value")).to_be_focused()
    keys.page.keyboard.press("ControlOrMeta+a")
    keys.page.keyboard.type("7.31")
    keys.press()
    expect(keys.page.locator(".done")).to_contain_text("pH 7.31")
    keys.tab_to(".done button", back=True)
    keys.press()
    expect(keys.page.locator(".done")).to_contain_text("Taken back")
    expect(keys.page.locator("#main")).to_be_focused()  # the button went with its words
    keys.tab_to('button[name="value"][value="green"]')
    keys.press("Space")
    expect(keys.page.locator(".lately").first).to_contain_text("cell green")
    expect(keys.page.locator('button[name="value"][value="green"]')).to_be_focused()


def tell_distress(keys: Keys, today: str) -> None:
    keys.open(today)
    keys.tab_to("form.distress button")
    keys.press()
    expect(keys.page.locator(".next.alarming .steps li").first).to_have_text("Close the gas now.")


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["390", "1280"])
def test_everything_is_reached_and_seen_by_tab(browser: Browser, base: str, size: dict[str, int]) -> None:
    keys = Keys(open_page(browser, size=size))
    for path in PAGES:
        keys.open(base + path)
        keys.tab_to(".foot a:last-of-type")


def test_on_a_screen_of_320_px_nothing_is_cut_off(browser: Browser, base: str) -> None:
    page = open_page(browser, size={"width": 320, "height": 640})
    for path in PAGES:
        page.goto(base + path)
        assert not is_wider_than_screen(page), path
        assert cut_off(page) == [], path


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["390", "1280"])
def test_letters_of_twice_the_size_stay_on_the_screen(
    browser: Browser, base: str, size: dict[str, int]
) -> None:
    page = open_page(browser, size=size)
    for path in PAGES:
        page.goto(base + path)
        page.evaluate("document.documentElement.style.fontSize = '212.5%'")  # twice what the style sheet has
        assert not is_wider_than_screen(page), path
        assert cut_off(page) == [], path


def test_nothing_moves_by_itself(browser: Browser, base: str) -> None:
    context = browser.new_context(viewport=PHONE, reduced_motion="reduce")  # type: ignore[arg-type]
    page = context.new_page()
    for path in PAGES:
        page.goto(base + path)
        moving = page.evaluate(
            """() => document.getAnimations().length + [...document.querySelectorAll("*")].filter((one) => {
              const style = getComputedStyle(one);
              return style.transitionDuration !== "0s" || style.scrollBehavior === "smooth";
            }).length"""
        )
        assert moving == 0, path
    context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_forced_colours_reach_pictures_too(browser: Browser, base: str, scheme: str) -> None:
    context = browser.new_context(viewport=DESK, forced_colors="active", color_scheme=scheme)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(base + BROOK)
    ink, ground = page.evaluate(
        """() => {
          const probe = document.createElement("p");
          document.querySelector("main").append(probe);
          const colour = (name) => ((probe.style.color = name), getComputedStyle(probe).color);
          return [colour("CanvasText"), colour("Canvas")];
        }"""
    )
    assert ink != ground
    drawn = page.evaluate(
        """() => [...document.querySelectorAll(".picture .wide svg text")]
        .map((one) => getComputedStyle(one).fill)"""
    )
    assert drawn
    assert ground not in drawn
    assert ink in drawn
    fill = "getComputedStyle(document.querySelector('.strip-now')).fill"
    assert page.evaluate(fill) == ink
    assert violations(page) == []
    context.close()
