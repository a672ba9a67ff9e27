"""What watching says stands among a complaint's evidence: from a stored probe log, or from a few readings."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from test_steadiness import BEGIN, TANK, at, kept
from watch_tanks import CARD, Course, log

from dawnlevel.chemistry import ph_from_co2
from dawnlevel.desk.steadiness.watch import UNITS
from dawnlevel.desk.trouble.complaint import complaint_view
from dawnlevel.desk.trouble.complaint_causes import BEHIND, CAUSES, Complaint
from dawnlevel.desk.trouble.complaint_views import CauseView, ComplaintView
from dawnlevel.desk.trouble.complaint_watch import BEHIND_KIND, CHANGES, Seen, Watching
from dawnlevel.store import Store, open_store
from dawnlevel.tank import (
    BaselineCup,
    BaselineMethod,
    KhTitration,
    Photoperiod,
    PhReading,
    RateSetting,
    Record,
    Tank,
    TimerSetting,
)
from dawnlevel.tank.samples import Samples
from dawnlevel.units import meq_l_to_dkh

START = datetime(2026, 5, 4, tzinfo=UTC)
END = START + timedelta(days=24)


def cause(view: ComplaintView, kind: str) -> CauseView:
    return next(one for one in view.causes if one.kind == kind)


def logging_tank(course: Course) -> Store:
    """A store with a tank, its minute log, and a pH reading at lights-on of each of the last days."""
    store = open_store("sqlite://", clock=lambda: END)
    lights = Photoperiod(lights_on_h=CARD.lights_on_h, lights_off_h=CARD.lights_off_h)
    store.add_tank(
        Tank(
            name="Brook", volume_l=180.0, depth_cm=45.0, surface_cm2=4000.0, photoperiod=lights, temp_c=24.0
        ),
        START,
    )
    hours, ph, temp = log(course)
    minutes = int(START.timestamp()) // 60 + np.round(60.0 * hours).astype(np.int64)
    store.add_samples("Brook", Samples(minutes, ph, temp), "log.csv")
    records: list[Record] = [
        KhTitration(at=START, kh_dkh=float(meq_l_to_dkh(CARD.alkalinity_meq_l))),
        BaselineCup(
            at=START,
            ph=round(float(ph_from_co2(0.7, CARD.alkalinity_meq_l, 24.0)), 2),
            method=BaselineMethod.AERATED,
            hours=1.0,
        ),
        RateSetting(at=START, bubbles_per_second=2.0),
        TimerSetting(at=START, windows_h=((CARD.gas_on_h, CARD.gas_off_h),)),
    ]
    for day in range(18, 24):
        hour = 24.0 * day + CARD.lights_on_h
        reading = float(np.interp(hour, hours, ph))
        records.append(PhReading(at=START + timedelta(hours=hour), ph=round(reading, 2)))
    store.add_records("Brook", records)
    return store


def test_weaker_gas_in_the_log_speaks_for_a_bubble_that_brings_less() -> None:
    with logging_tank(Course(gain=lambda d: 8.0 if d < 15 else 5.0)) as store:
        view = complaint_view(store, "Brook", Complaint.LOW, END)
    fell = cause(view, "gas_fell")
    assert (fell.probability or 0.0) > 0.7
    assert "The probe's log says for it: less gas dissolves than before since" in fell.evidence
    assert "May" in fell.evidence
    others = [one.probability or 0.0 for one in view.causes if one.kind in {"meter_off", "kh_moved"}]
    assert all(other < (fell.probability or 0.0) for other in others)
    assert "says against it: rather less gas" in cause(view, "meter_off").evidence


def test_a_steady_log_speaks_against_causes_that_are_changes() -> None:
    with logging_tank(Course()) as store:
        view = complaint_view(store, "Brook", Complaint.LOW, END)
    assert "says against it: nothing has changed" in cause(view, "meter_off").evidence
    assert "probe's log" not in cause(view, "too_little_gas").evidence


def test_without_a_log_a_few_readings_are_watched() -> None:
    """A third less gas six weeks ago, by daily readings: told, with its check among what to measure."""
    days = 84
    with open_store("sqlite://", clock=lambda: at(days, 0)) as store:
        store.add_tank(TANK, BEGIN)
        store.add_records("Slow", kept(1, days, lambda day: 6.72 + 0.16 * (day >= 42)))
        view = complaint_view(store, "Slow", Complaint.LOW, at(days, 0))
    fell = cause(view, "gas_fell")
    assert "Watching your readings says for it" in fell.evidence
    assert (fell.probability or 0.0) > 0.5
    checks = [one for one in view.measurements if one.kind == "check"]
    assert len(checks) <= 1
    assert all(0.0 < one.removes <= 1.0 for one in view.measurements)
    removes = [one.removes for one in view.measurements]
    assert removes == sorted(removes, reverse=True)


def seen(kind: str, chance: float) -> Seen:
    return Seen(kind, START, chance, "Count the bubbles.")


def test_chances_with_a_change_seen_with_a_rival_and_with_none() -> None:
    """Two sources of which either suffices (textbook: 1 - (1 - p)(1 - q)); a rival takes its share away."""
    alone = Watching((seen("injection_weaker", 0.6),), "The log", is_long_enough=True)
    assert alone.chance("gas_fell", 0.3) == pytest.approx(1.0 - 0.7 * 0.4)
    assert alone.chance("gas_fell", None) == pytest.approx(0.6)
    assert alone.chance("meter_off", 0.5) == pytest.approx(0.5 * 0.4)
    assert alone.chance("too_little_gas", 0.5) == 0.5
    assert alone.chance("kh_moved", None) is None
    steady = Watching((), "The log", is_long_enough=True)
    assert steady.chance("gas_fell", 0.4) == pytest.approx(0.2)
    short = Watching((), "The log", is_long_enough=False)
    assert short.chance("gas_fell", 0.4) == 0.4


def test_every_kind_of_change_stands_behind_causes_that_exist() -> None:
    assert set(BEHIND_KIND) == set(UNITS)
    assert {one for causes in BEHIND_KIND.values() for one in causes} <= set(CAUSES)
    assert set(CHANGES) <= {kind for causes in BEHIND.values() for kind, _ in causes}
