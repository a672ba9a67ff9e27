"""Changes whose cause the keeper wrote down: simulated logs of known truth, with true and other records."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from test_watching import BEGIN, NOW, kept
from watch_tanks import CARD, Course, log

from dawnlevel.desk.steadiness.watch import FindingView, Watched
from dawnlevel.desk.steadiness.watch_pages import watch_page_of
from dawnlevel.desk.steadiness.watching import tank_watched
from dawnlevel.tank import (
    Buffer,
    BufferCheck,
    CylinderExchange,
    KhTitration,
    PhReading,
    RateSetting,
    Record,
    Surface,
    WaterChange,
)
from dawnlevel.tank.samples import Samples
from dawnlevel.units import meq_l_to_dkh

CHANGED = BEGIN + timedelta(days=15, hours=7, minutes=30)  # before the gas opens on the 16th day
KH_DKH = float(meq_l_to_dkh(CARD.alkalinity_meq_l))


def from_day_15(before: float, since: float) -> Callable[[int], float]:
    return lambda day: before if day < 15 else since


def watched(course: Course, records: Sequence[Record], *, surface_since: Surface | None = None) -> Watched:
    """What a stored tank's log says when the keeper wrote these down besides."""
    hours, ph, temp = log(course)
    samples = Samples(int(BEGIN.timestamp()) // 60 + np.round(60.0 * hours).astype(np.int64), ph, temp)
    with kept("sqlite://", kh=False) as store:
        store.add_records("Brook", [KhTitration(at=BEGIN, kh_dkh=KH_DKH), *records])
        store.add_samples("Brook", samples, "log.csv")
        if surface_since is not None:
            store.update_tank(replace(store.tank("Brook"), surface=surface_since), CHANGED)
        return tank_watched(store, "Brook", NOW)


def first_of(seen: Watched, kind: str) -> FindingView:
    first = seen.view.findings[0]
    assert first.kind == kind
    assert seen.found[0].kind == kind
    return first


def rates(before: float, since: float, changed: datetime = CHANGED) -> list[Record]:
    return [
        RateSetting(at=BEGIN - timedelta(days=9), bubbles_per_second=before),
        RateSetting(at=changed, bubbles_per_second=since),
    ]


def test_a_needle_that_was_turned_is_the_first_cause_with_its_day() -> None:
    seen = watched(Course(gain=from_day_15(8.0, 8.0 * 4.0 / 3.0)), rates(3.0, 4.0))
    cause = first_of(seen, "injection_stronger").causes[0]
    assert cause.is_recorded
    assert cause.cause == "the needle set from 3 to 4 bubbles/s"
    assert "Tue 19 May 2026, 07:30" in cause.speaks_for[0]
    assert "33 % more; the log shows 3" in cause.speaks_for[1]
    with kept("sqlite://") as store:
        page = watch_page_of(seen, store.tank("Brook"), [])
    assert "Written down about then: the needle set from 3 to 4 bubbles/s." in page.more


@pytest.mark.parametrize(
    ("records", "listed"),
    [
        (rates(3.0, 3.1), True),  # far too little for what the log shows
        (rates(4.0, 3.0), False),  # the opposite
        (rates(3.0, 4.0, CHANGED - timedelta(days=6)), False),  # another time
        ([*rates(3.0, 3.0), WaterChange(at=CHANGED, fraction=0.3)], False),  # moves no gas
    ],
)
def test_records_that_do_not_fit_are_not_the_first_cause(records: list[Record], listed: bool) -> None:
    seen = watched(Course(gain=from_day_15(8.0, 8.0 * 1.4)), records)
    causes = first_of(seen, "injection_stronger").causes
    assert not causes[0].is_recorded
    assert any(one.is_recorded and one.speaks_against for one in causes) == listed


def test_a_new_cylinder_and_a_note_are_told_beside_the_usual_causes() -> None:
    records = [
        CylinderExchange(at=CHANGED, gas_kg=2.0),
        PhReading(at=CHANGED, ph=7.1, note="new  diffuser disc"),
    ]
    causes = first_of(watched(Course(gain=from_day_15(8.0, 11.0)), records), "injection_stronger").causes
    assert causes[0].cause == "another cylinder"
    assert causes[-1].cause == 'what you noted: "new diffuser disc"'
    assert len(causes) == 5


def test_a_surface_described_anew_is_the_first_cause() -> None:
    course = Course(exchange=from_day_15(0.22, 0.36))
    cause = first_of(watched(course, [], surface_since=Surface.RIPPLED), "exchange_faster").causes[0]
    assert (cause.is_recorded, "rippled, gentle before" in cause.cause) == (True, True)
    back = first_of(watched(course, [], surface_since=Surface.STILL), "exchange_faster").causes[0]
    assert not back.is_recorded


def counts(before_dkh: float, since_dkh: float) -> list[Record]:
    return [
        KhTitration(at=CHANGED - timedelta(days=4), kh_dkh=before_dkh, step_dkh=0.25),
        KhTitration(at=CHANGED + timedelta(days=5), kh_dkh=since_dkh, step_dkh=0.25),
    ]


SHIFTED = Course(shift_ph=from_day_15(0.0, 0.16))
"""What 1.445 times the KH does to pH at the same CO2: its log10; or a meter that is off by so much."""


def test_counts_of_kh_tell_water_from_meter() -> None:
    moved = watched(SHIFTED, counts(KH_DKH, KH_DKH * 10.0**0.16)).view.findings
    stayed = watched(SHIFTED, counts(KH_DKH, KH_DKH)).view.findings
    open_ = watched(SHIFTED, []).view.findings
    assert {one.kind for one in moved[:2]} == {"baseline_shift", "probe_step"}
    assert moved[0].kind == "baseline_shift"
    assert "KH: 4.21 dKH counted on Fri 15 May 2026" in moved[0].causes[0].cause
    assert moved[0].causes[0].is_recorded
    assert stayed[0].kind == "probe_step"
    odds = {
        name: {one.kind: one.probability for one in found}
        for name, found in (("moved", moved), ("stayed", stayed), ("open", open_))
    }
    told = [odds[name]["baseline_shift"] for name in ("stayed", "open", "moved")]
    assert told[0] < 0.1 < told[1] < 0.9 < told[2]
    totals = [sum(one.values()) for one in odds.values()]
    assert totals == pytest.approx([totals[0]] * 3, abs=2e-4)


def test_a_water_change_is_no_cause_where_kh_stayed() -> None:
    change = WaterChange(at=CHANGED, fraction=0.5)
    for records, fits in (([], True), (counts(KH_DKH, KH_DKH), False)):
        found = watched(SHIFTED, [*records, change]).view.findings
        shift = next(one for one in found if one.kind == "baseline_shift")
        assert shift.causes[0].is_recorded == fits
        assert any("water change 50 %" in one.cause for one in shift.causes)


def test_a_meter_adjusted_that_day_is_the_first_cause_of_its_step() -> None:
    """It showed 0.16 too little in both buffers (4.005 and 6.865 at 25 degC, NIST), and was set right."""
    off = BufferCheck(
        at=CHANGED, low_ph=4.005 - 0.16, high_ph=6.865 - 0.16, low=Buffer.PHTHALATE, high=Buffer.PHOSPHATE
    )
    step = first_of(watched(SHIFTED, [off]), "probe_step")
    assert step.probability > 0.85
    assert step.causes[0].cause == "the meter adjusted in two buffers"
    assert "+0.16 pH" in step.causes[0].speaks_for[1]
    right = replace(off, low_ph=4.005, high_ph=6.865)
    first = next(one for one in watched(SHIFTED, [right]).view.findings if one.kind == "probe_step")
    assert not first.causes[0].is_recorded


def test_kh_that_fell_between_two_counts_is_the_first_cause_of_a_creep() -> None:
    course = Course(shift_ph=lambda day: -0.02 * max(day - 9, 0))
    fell = [
        KhTitration(at=BEGIN + timedelta(days=9), kh_dkh=KH_DKH, step_dkh=0.25),
        KhTitration(at=BEGIN + timedelta(days=23), kh_dkh=KH_DKH * 10.0**-0.28, step_dkh=0.25),
    ]
    cause = first_of(watched(course, fell), "probe_drift").causes[0]
    assert cause.is_recorded
    assert "-0.020 pH a day" in cause.speaks_for[1]
