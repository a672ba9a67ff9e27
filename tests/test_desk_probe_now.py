"""What a logging probe shows now: offered as a reading, recorded only by the keeper."""

import re
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from advice_world import NOW
from web_world import BROOK, World, make_world, tokens

from dawnlevel.desk.advice.probe_now import FRESH, probe_now
from dawnlevel.store import open_store
from dawnlevel.store.sampling import to_minute
from dawnlevel.tank import PhReading
from dawnlevel.tank.samples import Samples

SHOWN = (6.80, 6.91, 6.92, 9.99, 6.93, 6.92)
"""Six minutes: the first is too long ago to count, one is a spike."""


@pytest.fixture
def world(tmp_path: Path) -> World:
    return make_world(tmp_path)


def log_until(world: World, ago: timedelta) -> None:
    last = to_minute(NOW - ago)
    minutes = np.arange(last - 5, last + 1)
    with open_store(world.store) as store:
        store.add_samples("Brook", Samples(minutes, np.array(SHOWN), np.full(6, np.nan)), "probe")


@pytest.mark.parametrize(("ago", "is_told"), [(2, True), (14, True), (16, False), (600, False)])
def test_only_a_fresh_log_speaks_of_now(world: World, ago: int, is_told: bool) -> None:
    log_until(world, timedelta(minutes=ago))
    with open_store(world.store) as store:
        told = probe_now(store, store.tank("Brook"), [], NOW)
    assert (told is not None) == is_told == (timedelta(minutes=ago) <= FRESH)
    if told is not None:
        assert told.ph == 6.92  # the median of 6.91, 6.92, 9.99, 6.93, 6.92
        assert to_minute(told.at) == to_minute(NOW - timedelta(minutes=ago))


def test_one_tap_records_it_and_then_it_is_no_longer_offered(world: World) -> None:
    log_until(world, timedelta(minutes=3))
    browser = world.local()
    page = browser.get(BROOK).text
    assert "The probe shows" in page
    before = sum(isinstance(one, PhReading) for one in world.records())
    (at,) = re.findall(r'name="at" value="([^"]+)"', page)
    sent = {**tokens(page), "kind": "ph", "at": at, "value": "6.92"}
    assert browser.post(f"{BROOK}/record", data=sent).status_code == 303
    readings = [one for one in world.records() if isinstance(one, PhReading)]
    assert len(readings) == before + 1
    assert [one.ph for one in readings if to_minute(one.at) == to_minute(NOW) - 3] == [6.92]
    assert "The probe shows" not in browser.get(BROOK).text
