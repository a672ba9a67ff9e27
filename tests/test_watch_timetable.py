"""A timer set anew in the middle of a log: each day is read by its own hours. Simulated logs, known truth."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from test_watching import BEGIN, NOW, kept
from watch_tanks import CARD, Course, log

from dawnlevel.desk.steadiness.timetable import on_time
from dawnlevel.desk.steadiness.watch import Watched
from dawnlevel.desk.steadiness.watching import tank_watched
from dawnlevel.store import TankVersion
from dawnlevel.tank import Photoperiod, Record, TimerSetting
from dawnlevel.tank.samples import Samples
from dawnlevel.watch.days import cut_days
from dawnlevel.watch.fit import fit_days

DAY_15 = BEGIN + timedelta(days=15)
USUAL = (CARD.gas_on_h, CARD.gas_off_h)
UTC_ZONE = ZoneInfo("UTC")


def timer(at: datetime, *windows_h: tuple[float, float]) -> TimerSetting:
    return TimerSetting(at=at, windows_h=windows_h)


def watched(course: Course, records: Sequence[Record]) -> Watched:
    hours, ph, temp = log(course)
    samples = Samples(int(BEGIN.timestamp()) // 60 + np.round(60.0 * hours).astype(np.int64), ph, temp)
    with kept("sqlite://") as store:
        store.add_records("Brook", list(records))
        store.add_samples("Brook", samples, "log.csv")
        return tank_watched(store, "Brook", NOW)


@pytest.mark.parametrize("later_h", [-2.0, -1.0, 1.0, 3.0])
def test_gas_that_opens_when_the_timer_says_is_no_change(later_h: float) -> None:
    course = Course(late_h=lambda day: 0.0 if day < 15 else later_h)
    unsaid = watched(course, [])
    assert unsaid.view.findings[0].kind == ("start_late" if later_h > 0.0 else "start_early")
    new = (CARD.gas_on_h + later_h, CARD.gas_off_h)
    said = watched(course, [timer(DAY_15 + timedelta(hours=2), *[new])])
    assert said.view.findings == ()
    start = said.figures.fits.start_h[1:]
    assert np.abs(start[np.isfinite(start)]).max() < 0.5
    fits = said.figures.fits.values[:, :2]
    before, since = np.nanmedian(fits[:15], axis=0), np.nanmedian(fits[16:], axis=0)
    assert since == pytest.approx(before, rel=0.06)  # exchange and gain did not change


def test_a_timer_set_while_gas_flows_counts_from_the_next_day() -> None:
    course = Course(late_h=lambda day: 0.0 if day < 16 else 2.0)
    said = watched(course, [timer(DAY_15 + timedelta(hours=12), (CARD.gas_on_h + 2.0, CARD.gas_off_h))])
    assert said.view.findings == ()
    row = 15 - said.placed.bins.first_day
    assert not said.figures.usable[row]
    assert said.figures.usable[[row - 1, row + 1]].all()


def test_days_without_gas_that_were_planned_are_no_fault() -> None:
    course = Course(is_dosed=lambda day: not 10 <= day < 15)
    assert watched(course, []).view.findings[0].kind == "start_missed"
    evening = timedelta(hours=20)
    planned = [timer(BEGIN + timedelta(days=9) + evening), timer(BEGIN + timedelta(days=14) + evening, USUAL)]
    said = watched(course, planned)
    assert said.view.findings == ()
    assert {one.state for one in said.view.days} == {"as usual"}


def test_a_timer_that_is_not_followed_is_told_with_what_was_written_down() -> None:
    """The keeper wrote an hour later; the gas opened two hours later."""
    course = Course(late_h=lambda day: 0.0 if day < 15 else 2.0)
    record = timer(DAY_15 + timedelta(hours=2), (CARD.gas_on_h + 1.0, CARD.gas_off_h))
    first = watched(course, [record]).view.findings[0]
    assert (first.kind, first.since.date()) == ("start_late", DAY_15.date())
    assert first.size == pytest.approx(1.0, abs=0.2)
    assert "timer" in first.causes[0].cause


@pytest.mark.parametrize("later_h", [-2.0, 1.0, 5.0])
def test_each_day_is_cut_and_fitted_by_its_own_card(later_h: float) -> None:
    hours, ph, temp = log(Course(days=12, late_h=lambda day: 0.0 if day < 6 else later_h))
    other = replace(CARD, gas_on_h=CARD.gas_on_h + later_h)
    both = replace(CARD, revised=((6, other),))
    mixed, early, late = (cut_days(hours, ph, temp, card) for card in (both, CARD, other))
    row = 6 - mixed.first_day
    assert early.first_day == mixed.first_day == 0 - (CARD.begin_h > 0.0)
    shift = mixed.first_day - late.first_day
    assert np.array_equal(mixed.ph[: row - 1], early.ph[: row - 1], equal_nan=True)
    assert np.array_equal(mixed.ph[row:], late.ph[row + shift :], equal_nan=True)
    assert np.isnan(mixed.ph[row - 1, -1])  # the day before does not join on to the next
    lost = int(2 * max(-later_h, 0.0))
    assert np.isfinite(mixed.ph[row - 1]).sum() == 48 - lost
    prior = np.array([0.2, 8.0, 1.5, 0.3]), np.array([0.1, 3.0, 1.0, 0.3])
    fits, by_late = fit_days(mixed, both, *prior), fit_days(late, other, *prior)
    for name in ("values", "errors", "start_h", "stop_h"):
        ours, theirs = getattr(fits, name)[row:], getattr(by_late, name)[row + shift :]
        # what noise there is comes from all of a log, and an hour of this one belongs to no day
        assert np.allclose(ours, theirs, rtol=1e-3, atol=1e-3, equal_nan=True), name


def test_lights_are_read_as_the_tank_was_described_then() -> None:
    with kept("sqlite://") as store:
        tank = store.tank("Brook")
        records = [one.record for one in store.records("Brook")]
    longer = replace(tank, photoperiod=Photoperiod(lights_on_h=11.0, lights_off_h=20.0))
    versions = [
        TankVersion(tank, BEGIN, BEGIN),
        TankVersion(longer, DAY_15 + timedelta(hours=10.5), DAY_15 + timedelta(hours=10.5)),
        TankVersion(tank, DAY_15 + timedelta(hours=42), DAY_15 + timedelta(hours=42)),
    ]
    card = on_time(CARD, records, versions, BEGIN.replace(tzinfo=None), UTC_ZONE)
    told = [(card.on(day).lights_on_h, card.on(day).lights_off_h) for day in (0, 14, 15, 16, 17)]
    usual = (CARD.lights_on_h, CARD.lights_off_h)
    assert told == [usual, usual, (11.0, 20.0), (11.0, 20.0), usual]
    assert all(card.on(day).is_judged for day in range(20))


def test_a_window_over_midnight_set_in_the_night_leaves_that_night_unjudged() -> None:
    with kept("sqlite://", timer=False) as store:
        versions = store.tank_versions("Brook")
    records = [timer(BEGIN, (20.0, 4.0)), timer(DAY_15 + timedelta(hours=2), (21.0, 4.0))]
    card = on_time(CARD, records, versions, BEGIN.replace(tzinfo=None), UTC_ZONE)
    told = [(card.on(day).gas_on_h, card.on(day).gas_off_h, card.on(day).is_judged) for day in (13, 14, 15)]
    assert told == [(20.0, 28.0, True), (20.0, 28.0, False), (21.0, 28.0, True)]
