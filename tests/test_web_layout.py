"""The tank's sketch in the browser: kept, judged apart from what was measured, drawn on the map."""

from pathlib import Path

import pytest
from test_handover_evidence import walk
from web_browser import chromium, is_wider_than_screen, open_page, too_small, violations
from web_server import served
from web_world import BROOK, World, make_world, tokens

from dawnlevel.store import open_store

SKETCH = {
    "outflow": "surface left, front", "intake": "back right substrate", "diffuser": "right substrate",
    "hardscape": "middle; back left", "flow": "800", "head_loss": "20", "clogging": "10 %", "measured": "",
    "length": "70",
}  # fmt: skip


@pytest.fixture
def world(tmp_path: Path) -> World:
    return make_world(tmp_path, *walk())


def test_a_sketch_is_kept_and_judged(world: World) -> None:
    here = world.local()
    page = here.get(f"{BROOK}/spread").text
    assert "Say where things are" in page
    answer = here.post(f"{BROOK}/layout", data={**tokens(page), **SKETCH})
    assert answer.headers["location"] == f"{BROOK}/spread#layout"
    with open_store(world.store) as store:
        kept = store.tank("Brook").layout
    assert kept is not None
    assert (kept.outflow, kept.hardscape, kept.clogging) == (
        "front left surface",
        ("middle", "back left"),
        0.1,
    )
    page = here.get(f"{BROOK}/spread").text
    assert "576 L/h after height, hoses and dirt: 5.1 tank volumes an hour" in page  # 800 x 0.8 x 0.9; 112 L
    assert "Common practice, no source" in page
    assert "O outflow, front left surface" in page
    assert page.count('class="mark-letter"') == 10


def test_what_cannot_be_is_told_beside_its_field_and_kept(world: World) -> None:
    here = world.local()
    page = here.get(f"{BROOK}/spread").text
    wrong = {**SKETCH, "outflow": "the moon", "flow": "", "head_loss": "much"}
    told = here.post(f"{BROOK}/layout", data={**tokens(page), **wrong})
    assert told.status_code == 422
    assert "is no place in a tank" in told.text
    assert "Give the flow on the pump" in told.text
    assert 'value="the moon"' in told.text
    with open_store(world.store) as store:
        assert store.tank("Brook").layout is None


def test_the_page_with_a_sketch_in_a_browser(world: World) -> None:
    here = world.local()
    page = here.get(f"{BROOK}/spread").text
    here.post(f"{BROOK}/layout", data={**tokens(page), **SKETCH})
    with served(world) as where, chromium() as browser:
        shown = open_page(browser)
        shown.goto(f"{where}{BROOK}/spread")
        shown.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
        assert violations(shown) == []
        assert too_small(shown) == []
        assert not is_wider_than_screen(shown)
