"""Scoring what was watched, exactly as the practice tank's contract says."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from benchmarks._card import hours_of, number, plain_card
from benchmarks._goal import Goal
from benchmarks._watched import EPS_H, Sample, Watched

_CLOSES_BEFORE_H = (0.5, 2.5)
_DROP_BREACH = 0.15


@dataclass(slots=True)
class TankScore:
    """One policy on one tank, by day (index 0 is day 1).

    Attributes:
        hit, dialled_in, breach: as the contract has them.
        readings, readings_before, rate_changes: counts by day, and readings before day 1.
        forecasts_held: for each forecast of lights-on, whether its 90 % interval held the truth.
        seconds, cpu_seconds: time of the policy by the clock and by the processor [s].
        failure: what the policy raised, if it did.
        detail: by day, what happened, what was said, and why it failed; empty where nobody asked.
    """

    hit: list[bool] = field(default_factory=list)
    dialled_in: list[bool] = field(default_factory=list)
    breach: bool = False
    readings: list[int] = field(default_factory=list)
    readings_before: int = 0
    rate_changes: list[int] = field(default_factory=list)
    forecasts_held: list[bool] = field(default_factory=list)
    seconds: float = 0.0
    cpu_seconds: float = 0.0
    failure: str = ""
    detail: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class GasDay:
    """One day of a watched tank.

    Attributes:
        number: the day.
        lights_on, lights_off: [h].
        at_lights: the truth at lights-on, if it was reached.
        closed_at: when the gas closed for good in the light [h]; None if it did not.
        hit: whether lights-on was in the band.
        in_hours: whether the gas closed within its hours.
        left_at: the first moment at which the level left the held band [h], if it did.
    """

    number: int
    lights_on: float
    lights_off: float
    at_lights: Sample | None
    closed_at: float | None
    hit: bool
    in_hours: bool
    left_at: float | None

    @property
    def dialled_in(self) -> bool:
        """Hit and held."""
        return self.hit and self.in_hours and self.left_at is None


def score(watched: Watched, goal: Goal, days: int) -> TankScore:
    """Score days 1 to `days` of what was watched."""
    card = watched.card()
    result = TankScore(breach=first_breach(watched, goal) is not None)
    changes = _rate_changes(watched.settings, max(int(number(card, "timer_windows")), 1))
    result.readings_before = sum(hour < 24.0 for hour in watched.readings)
    for day_no in range(1, days + 1):
        day = gas_day(watched, goal, day_no)
        result.hit.append(day.hit)
        result.dialled_in.append(day.dialled_in)
        start = 24.0 * day_no
        result.readings.append(sum(start <= hour < start + 24.0 for hour in watched.readings))
        result.rate_changes.append(changes.get(day_no, 0))
        if day_no in watched.forecasts and day.at_lights is not None:
            low, high = watched.forecasts[day_no]
            result.forecasts_held.append(low <= day.at_lights.ph <= high)
    return result


def gas_day(watched: Watched, goal: Goal, day_no: int) -> GasDay:
    """Day `day_no` of what was watched, held against `goal`."""
    lights_on, lights_off = light(watched.card(), day_no)
    found = [s for s in watched.samples if abs(s.hour - lights_on) < EPS_H]
    at_lights = found[0] if found else None
    closed_at = _last_closing(watched.settings, lights_on, lights_off)
    first, last = _CLOSES_BEFORE_H
    in_hours = closed_at is not None and first - EPS_H <= lights_off - closed_at <= last + EPS_H
    until = lights_off if closed_at is None else closed_at
    during = [s for s in watched.samples if lights_on - EPS_H <= s.hour <= until + EPS_H]
    outside = [s.hour for s in during if not goal.inside(s.quantity(goal), "held")]
    return GasDay(
        number=day_no,
        lights_on=lights_on,
        lights_off=lights_off,
        at_lights=at_lights,
        closed_at=closed_at,
        hit=at_lights is not None and goal.inside(at_lights.quantity(goal), "hit"),
        in_hours=in_hours,
        left_at=outside[0] if outside else None,
    )


def light(card: Mapping[str, object], day: int) -> tuple[float, float]:
    """Lights-on and lights-off [h] of `day`; a photoperiod may run over midnight."""
    _, on_h, off_h = hours_of(card)
    return 24.0 * day + on_h, 24.0 * day + off_h


def end_of_play(card: Mapping[str, Any], days: int) -> float:
    """When the last day is over [h]."""
    return max(24.0 * (days + 1), light(plain_card(card), days)[1])


def first_breach(watched: Watched, goal: Goal) -> Sample | None:
    """The first sample above the ceiling, or with a drop above the band's top + 0.15; None if none was."""
    limit_mg_l = number(watched.card(), "co2_limit_mg_l")
    top = goal.high + _DROP_BREACH if goal.quantity == "drop" else math.inf
    over = (s for s in watched.samples if s.co2_mg_l > limit_mg_l or s.drop > top)
    return next(over, None)


def _last_closing(settings: list[tuple[float, float]], lights_on: float, lights_off: float) -> float | None:
    """When the gas last closed in the light [h]; None if it did not or is open at lights-off."""
    is_open, closed_at = False, None
    for hour, rate in settings:
        if hour > lights_off + EPS_H:
            break
        if is_open and rate == 0.0 and hour > lights_on:
            closed_at = hour
        is_open = rate > 0.0
    return None if is_open else closed_at


def _rate_changes(settings: list[tuple[float, float]], windows: int) -> dict[int, int]:
    """Changes by day: every new count, and every opening beyond the timer's windows of that day."""
    changes: dict[int, int] = {}
    openings: dict[int, int] = {}
    count, is_open = 0.0, False
    for hour, rate in settings:
        day = math.floor(hour / 24.0 + EPS_H)
        if rate > 0.0:
            if rate != count:
                changes[day] = changes.get(day, 0) + 1
                count = rate
            if not is_open:
                openings[day] = openings.get(day, 0) + 1
                if openings[day] > windows:
                    changes[day] = changes.get(day, 0) + 1
        is_open = rate > 0.0
    return changes
