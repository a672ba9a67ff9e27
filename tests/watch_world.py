"""The web over a tank whose probe's log is in the store; what is true of it is a `watch_tanks.Course`."""

from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
from watch_tanks import CARD, Course, log
from web_world import Hands, World

from dawnlevel.store import open_store
from dawnlevel.tank import (
    BaselineCup,
    BaselineMethod,
    FishSighting,
    FishState,
    KhTitration,
    Photoperiod,
    PhReading,
    RateSetting,
    Tank,
    Target,
    TargetKind,
    TimerSetting,
)
from dawnlevel.tank.samples import Samples
from dawnlevel.web.app import create_app
from dawnlevel.web.settings import Settings

DAY_0 = date(2026, 5, 4)
"""A Monday, the first day of the log; the tank stands in UTC, so that hours of the day are plain."""

SINCE = 15
"""The day from which on the gas is a quarter weaker."""

WEAKER = Course(gain=lambda day: 8.0 if day < SINCE else 6.0)
NOW = datetime(2026, 5, 28, 9, 30, tzinfo=UTC)
RILL = "/tanks/Rill"
TANK = Tank(
    name="Rill",
    volume_l=90.0,
    depth_cm=40.0,
    surface_cm2=2200.0,
    photoperiod=Photoperiod(lights_on_h=CARD.lights_on_h, lights_off_h=CARD.lights_off_h),
    target=Target(kind=TargetKind.CO2, low=10.0, high=16.0),
)


def at(day: int, hour: int) -> datetime:
    """An hour of a day of the log."""
    return datetime(2026, 5, DAY_0.day + day, hour, tzinfo=UTC)


def samples_of(course: Course) -> Samples:
    """The course's log as the store takes it."""
    hours, ph, temp_c = log(course)
    first = int(at(0, 0).timestamp()) // 60
    return Samples.gathered(first + np.round(hours * 60.0).astype(np.int64), ph, temp_c)


def csv_of(course: Course, days: int) -> bytes:
    """The first days of the course's log as a file, an hour apart where the test needs no more."""
    hours, ph, _ = log(course)
    rows = []
    for hour, value in zip(hours[: days * 1440].tolist(), ph[: days * 1440].tolist(), strict=True):
        minutes = round(hour * 60.0)
        moment = at(minutes // 1440, minutes % 1440 // 60).replace(minute=minutes % 60)
        rows.append(f"{moment:%Y-%m-%d %H:%M},{value:.2f}")
    return ("time,ph\n" + "\n".join(rows) + "\n").encode()


def make_logged_world(folder: Path, course: Course | None = WEAKER) -> World:
    """A world over one tank, with its records and the course's log; without a log for None."""
    store = str(folder / "records.sqlite3")
    with open_store(store) as opened:
        opened.add_tank(TANK, at(0, 0))
        opened.add_records(
            "Rill",
            [
                KhTitration(at=at(0, 0), kh_dkh=CARD.alkalinity_meq_l * 2.804),
                TimerSetting(at=at(0, 0), windows_h=((CARD.gas_on_h, CARD.gas_off_h),)),
                RateSetting(at=at(0, 0), bubbles_per_second=2.0),
                BaselineCup(at=at(0, 7), ph=7.9, method=BaselineMethod.AERATED, hours=1.0),
                PhReading(at=at(23, 11), ph=6.85),
                FishSighting(at=at(23, 12), state=FishState.CALM),
            ],
        )
        if course is not None:
            opened.add_samples("Rill", samples_of(course), "probe.csv")
    clock, wall = Hands(NOW), Hands(NOW)
    settings = Settings(store=store, keep=folder / "records.web", is_lan=False, announce=lambda *_: None)
    return World(create_app(settings, clock, wall), store, clock, wall)
