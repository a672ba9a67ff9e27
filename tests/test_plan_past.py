"""The days behind: what counts as dialled in, and what makes and unmakes a settled tank."""

import pytest

from dawnlevel.estimate.posterior import Interval
from dawnlevel.plan.goal import goal
from dawnlevel.plan.past import DayPast, days_past, is_settled
from dawnlevel.tank import Photoperiod, PhReading, Target, TargetKind
from tests.estimate_worlds import cup, gas_days, in_order, make_tank, when
from tests.plan_worlds import told

ANY = Interval(25.0, 24.0, 26.0, 23.0, 27.0)


def _days(*days: tuple[float, int]) -> list[DayPast]:
    """Days from (chance of having been dialled in, readings)."""
    return [
        DayPast(when(24.0 * k).date(), when(24.0 * k + 12.0), ANY, ANY, chance, readings)
        for k, (chance, readings) in enumerate(days)
    ]


GOOD, BAD, UNREAD, FADED, SHUT = (0.9, 2), (0.05, 2), (0.9, 0), (0.4, 0), (0.0, 0)


@pytest.mark.parametrize(
    ("days", "settled"),
    [
        ([], False),
        ([GOOD, GOOD], False),
        ([GOOD, GOOD, GOOD], True),
        ([GOOD, UNREAD, GOOD], True),
        ([UNREAD, UNREAD, GOOD], False),
        ([GOOD, BAD, GOOD, GOOD], False),
        ([BAD, GOOD, GOOD, GOOD], True),
        ([GOOD, GOOD, GOOD, GOOD], True),
        ([GOOD, GOOD, GOOD, BAD], False),
        ([GOOD, GOOD, GOOD, *[UNREAD] * 30], True),
        ([GOOD, GOOD, GOOD, *[FADED] * 6, GOOD], True),
        ([GOOD, GOOD, GOOD, *[FADED] * 6, BAD], False),
        ([GOOD, GOOD, GOOD, BAD, GOOD, GOOD], False),
        ([GOOD, GOOD, GOOD, BAD, GOOD, GOOD, GOOD], True),
        ([GOOD, GOOD, GOOD, SHUT], False),
        ([FADED, FADED, FADED], False),
    ],
)
def test_three_days_settle_and_only_evidence_unsettles(
    days: list[tuple[float, int]], *, settled: bool
) -> None:
    assert is_settled(_days(*days)) is settled


def _found(rate: float, low: float, high: float, now_h: float = 24.0 * 3 + 1.0) -> list[DayPast]:
    tank = make_tank(target=Target(kind=TargetKind.CO2, low=low, high=high))
    records = in_order([cup(0.5), *gas_days(3, (11.0, 15.0), rate)])
    known = told(tank, records, when(now_h), 16, gain_mg_l_h_per_bps=4.0, kla_per_h=0.15, start_mg_l=1.0)
    return days_past(known, goal(tank.target, known, 40.0), records, when(now_h))


def test_each_day_with_lights_on_behind_us_is_told_once_in_order() -> None:
    assert [day.day.day for day in _found(1.5, 15.0, 30.0)] == [2, 3, 4]
    assert [day.lights_on for day in _found(1.5, 15.0, 30.0)] == [when(12.0 + 24.0 * k) for k in range(3)]
    assert [day.readings for day in _found(1.5, 15.0, 30.0)] == [2, 2, 2]
    assert len(_found(1.5, 15.0, 30.0, now_h=35.9)) == 1
    assert len(_found(1.5, 15.0, 30.0, now_h=36.1)) == 2


def test_a_band_around_the_known_level_was_hit_and_one_beside_it_was_not() -> None:
    level = _found(1.5, 15.0, 30.0)[1].co2_mg_l.median
    inside = _found(1.5, 0.6 * level, 1.6 * level)
    assert [day.dialled_in for day in inside[1:]] == [1.0, 1.0]
    beside = _found(1.5, 2.0 * level, 3.0 * level)
    assert [day.dialled_in for day in beside] == [0.0, 0.0, 0.0]


def test_a_level_that_leaves_the_band_under_light_was_hit_but_not_dialled_in() -> None:
    """The band is set around lights-on; the rate then carries the level out of it."""
    on = _found(3.0, 5.0, 60.0)[1].co2_mg_l.median
    (day,) = [d for d in _found(3.0, 0.97 * on, 1.03 * on) if d.day.day == 3]
    assert 0.97 * on <= day.co2_mg_l.median <= 1.03 * on
    assert day.dialled_in == 0.0


def test_lights_over_midnight_belong_to_the_day_they_come_on() -> None:
    tank = make_tank(photoperiod=Photoperiod(lights_on_h=20.0, lights_off_h=4.0), target=Target())
    records = in_order([cup(0.5), PhReading(at=when(25.0), ph=6.5), PhReading(at=when(47.0), ph=6.5)])
    known = told(tank, records, when(60.0), 8)
    days = days_past(known, goal(tank.target, known, 30.0), records, when(60.0))
    assert [(day.day.day, day.readings) for day in days] == [(2, 1), (3, 1)]
