"""The day that runs: raise, hold or lower, and where the level will be at lights-on."""

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from dawnlevel.estimate.posterior import Interval, Posterior, interval
from dawnlevel.plan.day import evaluate, levels_ahead, thinned
from dawnlevel.plan.future import Chances
from dawnlevel.plan.goal import CEILING_RISK, HIT_SLACK, Goal
from dawnlevel.plan.horizon import Horizon
from dawnlevel.plan.schedule import Schedule, countable

Array = npt.NDArray[np.float64]


class Action(StrEnum):
    """What to do with the needle now."""

    HOLD = "hold"
    RAISE = "raise"
    LOWER = "lower"


REAL_GAIN = 0.08
"""The needle is touched only where that raises the chance of success by about this much."""

GOOD_ENOUGH = 0.9
"""Chance of success from which the needle is left alone whatever another rate promises; own choice."""

SETTLED_GAIN = 0.25
"""The same once the tank is settled: then only clear evidence moves a hand."""

_AFTER = (0.25, 0.4, 0.55, 0.7, 0.85)

_FIRST_DRAWS, _SECOND_LOOKS = 48, 8

_FACTORS = np.array(
    [0.12, 0.25, 0.37, 0.5, 0.6, 0.7, 0.78, 0.84, 0.9, 0.95, 1.05, 1.1, 1.18, 1.28, 1.42, 1.6, 1.8, 2.0]
)


@dataclass(frozen=True, slots=True)
class Steering:
    """Advice for the rest of the day.

    Attributes:
        action: raise, hold or lower.
        schedule: windows and rate from now on, if the advice is followed.
        held, breach: chances if followed.
        held_if_left, breach_if_left: chances if nothing is touched.
        closes_earlier: the stop time moved.
    """

    action: Action
    schedule: Schedule
    held: float
    breach: float
    held_if_left: float
    breach_if_left: float
    closes_moved: bool


@dataclass(frozen=True, slots=True)
class LightsOn:
    """Forecast for lights-on: CO2 [mg/L], the meter's pH, the goal's quantity, chance of the band."""

    co2_mg_l: Interval
    ph: Interval
    quantity: Interval
    in_band: float


def lights_on_forecast(
    posterior: Posterior, goal: Goal, luck: Chances, ahead: Horizon, schedule: Schedule
) -> LightsOn | None:
    """What lights-on will find under `schedule`; None where lights-on is past."""
    if ahead.lights_on_h < 0:
        return None
    co2 = levels_ahead(posterior, luck, ahead, [schedule])[:, 0, :]
    edge = int(np.argmin(np.abs(ahead.hours.edges_h - ahead.lights_on_h)))
    at_on = co2[edge][None, :]
    is_next_day = bool(ahead.hours.next_day[min(edge, ahead.hours.next_day.size - 1)])
    day_ph = luck.missed_ph(posterior, ahead.lights_on_h, is_next_day=is_next_day)
    quantity = goal.quantity(posterior, at_on, day_ph)[0]
    in_band = (quantity >= goal.low - HIT_SLACK) & (quantity <= goal.high + HIT_SLACK)
    meter = posterior.meter_ph(at_on)[0] + day_ph
    return LightsOn(interval(at_on[0]), interval(meter), interval(quantity), float(in_band.mean()))


def steer(
    posterior: Posterior, goal: Goal, luck: Chances, ahead: Horizon, present_bps: float, *, settled: bool
) -> Steering | None:
    """Raise, hold or lower for the gas day that runs; None where no gas is due any more."""
    if not ahead.standing or ahead.lights_off_h <= 0:
        return None
    standing = Schedule(ahead.standing, present_bps, is_new=False)
    kept = [standing, *_other_closings(standing, ahead)]
    changed = [
        replace(schedule, rate_bps=countable(present_bps * float(factor)), is_new=True)
        for schedule in kept
        for factor in _FACTORS
    ]
    if not settled and ahead.lights_on_h > 0:
        changed += _two_handed(standing, present_bps, ahead)
    few, few_luck = thinned(posterior, luck, _FIRST_DRAWS)
    first_look = evaluate(few, goal, few_luck, ahead, changed)
    changed = [changed[index] for index in np.argsort(-first_look.worth)[:_SECOND_LOOKS]]
    verdict = evaluate(posterior, goal, luck, ahead, [*kept, *changed])
    worth_kept, worth_changed = verdict.worth[: len(kept)], verdict.worth[len(kept) :]
    best_kept = int(np.argmax(worth_kept - 0.01 * (np.arange(len(kept)) > 0)))
    best_changed = int(np.argmax(worth_changed))
    needed = SETTLED_GAIN if settled else REAL_GAIN
    fine = verdict.held[best_kept] >= GOOD_ENOUGH and verdict.breach[best_kept] <= CEILING_RISK
    touch = not fine and worth_changed[best_changed] > worth_kept[best_kept] + needed
    chosen = len(kept) + best_changed if touch else best_kept
    schedule = [*kept, *changed][chosen]
    action = Action.HOLD
    if touch and schedule.is_new:
        action = Action.RAISE if schedule.rate_bps > present_bps else Action.LOWER
    return Steering(
        action=action,
        schedule=schedule,
        held=float(verdict.held[chosen]),
        breach=float(verdict.breach[chosen]),
        held_if_left=float(verdict.held[0]),
        breach_if_left=float(verdict.breach[0]),
        closes_moved=abs(schedule.close_h - standing.close_h) > 1e-6,
    )


def _two_handed(standing: Schedule, present_bps: float, ahead: Horizon) -> list[Schedule]:
    """Rates for the rest of the ramp with a lower one from lights-on: while tuning, a hand is near then."""
    return [
        replace(
            standing,
            rate_bps=countable(present_bps * float(now)),
            is_new=now != 1.0,
            later=(ahead.lights_on_h, countable(present_bps * float(now * after))),
        )
        for now in (1.0, *_FACTORS[_FACTORS > 1.0])
        for after in _AFTER
    ]


def _other_closings(standing: Schedule, ahead: Horizon) -> list[Schedule]:
    """The same windows with another allowed stop, half an hour apart."""
    first, last = ahead.close_span_h
    opens = standing.windows_h[-1][0]
    return [
        replace(standing, windows_h=(*standing.windows_h[:-1], (opens, float(close))))
        for close in np.arange(first, last + 1e-6, 0.5)
        if close > max(opens, 0.0) and abs(close - standing.close_h) > 0.1
    ]
