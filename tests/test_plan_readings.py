"""When to read next: spacing, the keeper's willingness, the settled tank's rare check."""

import itertools
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnlevel.plan.horizon import horizon
from dawnlevel.plan.readings import SURE, NextReading, next_reading, ramp_times_h
from dawnlevel.tank import PhReading, Record, Tank
from tests.estimate_worlds import gas_days, make_tank, when

LEAST_GAP_H = 1.0 / 3.0
"""20 min: below this two readings differ by less than the meter's own noise; common practice, no source."""


@given(st.floats(-3.0, 10.0), st.floats(0.05, 8.0), st.integers(0, 24))
def test_a_ramp_is_read_no_oftener_than_the_keeper_likes_or_twenty_minutes(
    start: float, lead: float, count: int
) -> None:
    times = ramp_times_h(start, start + lead, count)
    assert len(times) <= count
    assert all(start < hour < start + lead for hour in times)
    assert all(b - a >= LEAST_GAP_H - 1e-9 for a, b in itertools.pairwise(times))


@given(st.floats(2.0, 8.0), st.integers(1, 5))
def test_a_ramp_long_enough_is_read_as_often_as_the_keeper_likes(lead: float, count: int) -> None:
    times = ramp_times_h(0.0, lead, count)
    room = int((lead - 0.2 - 0.3 * lead) / LEAST_GAP_H + 1e-9) + 1
    assert len(times) >= min(count, room)


def _next(
    hour: float, tank: Tank | None = None, taken: tuple[float, ...] = (), chance: float | None = None
) -> NextReading | None:
    """With gas 9:30-18:30 and lights 12:00-20:00."""
    tank = tank or make_tank()
    records: list[Record] = gas_days(1, ())
    records += [PhReading(at=when(at), ph=6.6) for at in taken]
    ahead = horizon(tank, records, when(hour), of_today=True)
    opens = 9.5 - hour if hour < 20.0 else 33.5 - hour
    return next_reading(tank, records, ahead, opens, chance)


def _day(tank: Tank | None = None) -> list[float]:
    """Hours at which a keeper reads who does as told."""
    taken: list[float] = []
    hour = 8.0
    while (found := _next(hour, tank, tuple(taken))) is not None and found.at < when(20.0):
        hour = max((found.at - when(0.0)) / timedelta(hours=1), hour)
        taken.append(hour)
    return taken


@pytest.mark.parametrize("willing", [0, 1, 2, 3, 5])
def test_a_day_as_told_reads_the_ramp_as_often_as_agreed_and_twice_in_light(willing: int) -> None:
    taken = _day(make_tank(reads_per_ramp=willing))
    assert sum(hour < 12.0 for hour in taken) == willing
    assert sum(12.0 < hour < 18.5 for hour in taken) == 2
    assert len(taken) == willing + 2
    assert all(b - a >= LEAST_GAP_H - 1e-9 for a, b in itertools.pairwise(taken))


def test_no_reading_is_asked_for_right_after_one() -> None:
    """However late the keeper was, the next one is a quarter of an hour away at least."""
    for minutes in range(0, 600, 7):
        hour = 9.5 + minutes / 60
        found = _next(hour, taken=(hour,))
        if found is not None:
            assert found.at - when(hour) >= timedelta(minutes=15)


def test_the_next_reading_is_never_in_the_past() -> None:
    for minutes in range(0, 24 * 60, 11):
        found = _next(minutes / 60)
        assert found is None or found.at >= when(minutes / 60)


def test_without_gas_there_is_nothing_to_read() -> None:
    tank = make_tank()
    assert next_reading(tank, [], horizon(tank, [], when(8.0), of_today=True), None, None) is None


def test_a_settled_tank_is_read_once_where_the_forecast_is_unsure() -> None:
    first = _next(8.0, chance=SURE - 0.05)
    assert first is not None
    assert when(9.5) < first.at < when(12.0)
    hour = (first.at - when(0.0)) / timedelta(hours=1)
    after = _next(hour, taken=(hour,), chance=SURE - 0.05)
    assert after is None or after.at > when(20.0)


def test_a_settled_tank_that_is_sure_is_read_four_days_after_the_last_reading() -> None:
    found = _next(8.0, taken=(-14.0,), chance=0.99)
    assert found is not None
    waited = found.at - when(-14.0)
    assert timedelta(days=3) < waited <= timedelta(days=5)
    due = _next(8.0, taken=(-24.0 * 5,), chance=0.99)
    assert due is not None
    assert when(9.5) < due.at < when(12.0)
