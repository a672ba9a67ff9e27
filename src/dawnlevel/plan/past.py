"""The gas days that are over: were they dialled in, and is the tank settled?"""

from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from dawnlevel.estimate.posterior import Interval, Posterior, interval
from dawnlevel.estimate.timeline import gas_day
from dawnlevel.plan.goal import HIT_SLACK, HOLD_SLACK, Goal
from dawnlevel.plan.horizon import EARLIEST_CLOSE_H
from dawnlevel.tank import PhReading, Record
from dawnlevel.tank.clock import light_spans

SETTLED_DAYS = 3
"""Days in a row that must be dialled in before a tank counts as settled; common practice, no source."""

LIKELY, HARDLY = 0.5, 0.1
"""A day read counts as dialled in from the first chance on; one without a reading speaks against a settled
tank only below the second (the gas stayed closed, the needle was moved): fading knowledge alone is no
evidence. Own choice."""


@dataclass(frozen=True, slots=True)
class DayPast:
    """One gas day as the records tell it.

    Attributes:
        day: its calendar day.
        lights_on: the moment (UTC).
        co2_mg_l: level at lights-on.
        quantity: the goal's quantity at lights-on.
        dialled_in: chance that it was in the band at lights-on and stayed until the gas could close.
        readings: pH readings taken that day.
    """

    day: date
    lights_on: datetime
    co2_mg_l: Interval
    quantity: Interval
    dialled_in: float
    readings: int


def days_past(posterior: Posterior, goal: Goal, records: list[Record], now: datetime) -> list[DayPast]:
    """Every remembered gas day whose lights-on lies within the records, oldest first."""
    tank, timeline = posterior.model.tank, posterior.model.timeline
    spans = light_spans(tank.photoperiod, ZoneInfo(tank.timezone), timeline.origin, now)
    readings = Counter(gas_day(tank, r.at) for r in records if isinstance(r, PhReading))
    return [
        _day(posterior, goal, readings[gas_day(tank, on)], on, min(off, now))
        for on, off in spans
        if timeline.origin <= on < now and timeline.remembers(timeline.hour(on))
    ]


def _day(posterior: Posterior, goal: Goal, readings: int, on: datetime, until: datetime) -> DayPast:
    tank, timeline = posterior.model.tank, posterior.model.timeline
    hold_h = max((until - on) / timedelta(hours=1) - EARLIEST_CLOSE_H, 0.0)
    moments = [on + timedelta(hours=float(hour)) for hour in np.linspace(0.0, hold_h, 9)]
    co2 = posterior.levels_at(moments)
    number = int(timeline.day[timeline.step_of(timeline.hour(on))])
    q = goal.quantity(posterior, co2, posterior.unknowns.day_ph[number])
    margin = np.minimum(q - goal.low, goal.high - q)
    good = (margin[0] + HIT_SLACK >= 0) & (margin.min(axis=0) + HOLD_SLACK >= 0)
    return DayPast(gas_day(tank, on), on, interval(co2[0]), interval(q[0]), float(good.mean()), readings)


def is_settled(days: list[DayPast]) -> bool:
    """Whether three gas days in a row were probably dialled in, most of them with a reading to show it.

    Once settled a tank stays so, read or not, until a day speaks against it; then it takes three again.
    """
    settled, since = False, 0
    for number, day in enumerate(days, start=1):
        if settled:
            settled = day.dialled_in >= (LIKELY if day.readings else HARDLY)
            since = since if settled else number
            continue
        last = days[max(number - SETTLED_DAYS, since) : number]
        read = sum(one.readings > 0 for one in last)
        good = all(one.dialled_in >= LIKELY for one in last)
        settled = len(last) == SETTLED_DAYS and read >= SETTLED_DAYS - 1 and good
    return settled
