"""The demonstration's second tank: its few records and its probe's log go into the store, nothing is told."""

from collections.abc import Iterator
from datetime import datetime, timedelta

import numpy as np

from dawnlevel.desk.records import describe_tank, record_all
from dawnlevel.practice import logged
from dawnlevel.practice.scenario import ZONE
from dawnlevel.store import Store
from dawnlevel.tank import (
    BaselineCup,
    BaselineMethod,
    CellColour,
    CellSighting,
    FishSighting,
    FishState,
    KhTitration,
    PhReading,
    RateSetting,
    Record,
    TimerSetting,
    WaterChange,
)
from dawnlevel.tank.clock import wall_clock
from dawnlevel.tank.samples import Samples

SOURCE = "probe.csv"


def keep_logged_tank(store: Store, now: datetime) -> None:
    """Describe the tank, write its records down and bring its log in; `now` (aware) ends both."""
    tank = logged.logged_tank()
    describe_tank(store, tank, now, wall_clock(logged.BEGIN, 0.0, ZONE))
    moments, ph, temp_c = logged.logged_minutes()
    minutes = np.array([int(at.timestamp()) // 60 for at in moments], dtype=np.int64)
    samples = Samples.gathered(minutes, ph, temp_c)
    record_all(store, tank.name, list(_records(samples)), now)
    store.add_samples(tank.name, samples, SOURCE)


def _records(samples: Samples) -> Iterator[Record]:
    """What its keeper writes down: the settings once, a cup, and on Sundays what is seen and done."""
    begin = wall_clock(logged.BEGIN, 8.0, ZONE)
    yield KhTitration(at=begin, kh_dkh=logged.KH_COUNT_DKH)
    yield TimerSetting(at=begin, windows_h=((logged.GAS_ON_H, logged.GAS_OFF_H),))
    yield RateSetting(at=begin, bubbles_per_second=logged.RATE_BPS)
    yield BaselineCup(
        at=begin + timedelta(hours=2), ph=logged.CUP_PH, method=BaselineMethod.AERATED, hours=1.0
    )
    for week in range(logged.DAYS // 7):
        sunday = logged.BEGIN + timedelta(days=6 - logged.BEGIN.weekday() + 7 * week)
        noon = wall_clock(sunday, 15.0, ZONE)
        shown = np.searchsorted(samples.minute_utc, int(noon.timestamp()) // 60)
        yield PhReading(at=noon, ph=float(samples.ph[shown]))
        clogged = wall_clock(logged.BEGIN, logged.CLOGS_H, ZONE) < noon
        yield FishSighting(at=noon, state=FishState.CALM)
        yield CellSighting(at=noon, colour=CellColour.GREEN if clogged else CellColour.LIME)
        yield WaterChange(at=wall_clock(sunday, logged.WATER_CHANGE_H, ZONE), fraction=logged.WATER_CHANGED)
