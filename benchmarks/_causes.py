"""Why a day was not dialled in: a fixed tree of questions, asked of the truth after play by the scorer alone.

The questions are asked in order and the first that is answered with yes is the cause. The first ones ask
whether the day could have been dialled in at all, by playing the evening's copy of the tank over again.
"""

import copy
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

from benchmarks._card import number
from benchmarks._goal import Goal
from benchmarks._oracle import Day, Plan, constant, day_of, two_parts
from benchmarks._said import DaySaid, Look
from benchmarks._scoring import GasDay
from benchmarks._watched import EPS_H, Sample, Watched

LIKELY = 0.5
"""Advice that gives success less than this has said that the day will probably fail."""

CONFIDENT = 0.9
"""Advice that gives the hold at least this and fails was surer than it should have been."""

READING_OFF_PH = 0.05
"""A last reading off by more than this [pH], half the usual band, leads any advice astray; own choice."""

EARLIER_H = 3.0
"""How much earlier than allowed the gas is let start when it is asked whether that would have helped [h]."""

_CLOSINGS_H = (1.5, 2.4, 0.6)
_FISH_ACTIONS = ("close_gas", "lower_and_aerate")


@dataclass(frozen=True, slots=True)
class Finding:
    """Why one day failed.

    Attributes:
        cause: key in `TREE`.
        went_wrong_h: when it went wrong [h since midnight of day 0].
        side: `low` or `high`; empty where the level was right and the gas closed at the wrong time.
        stated: chance of success last stated before that, None where none was.
        said_so: whether the advice had said that the day would probably fail, or that fish came first.
    """

    cause: str
    went_wrong_h: float
    side: str
    stated: float | None
    said_so: bool


@dataclass(frozen=True)
class Failed:
    """A day that failed, with what was seen, said and done."""

    watched: Watched
    goal: Goal
    day: GasDay
    said: DaySaid
    stopped_h: float

    @cached_property
    def wrong_h(self) -> float:
        """When it went wrong [h]."""
        if not self.day.hit:
            return self.day.lights_on
        return self.day.lights_off if self.day.left_at is None else self.day.left_at

    @cached_property
    def at_fault(self) -> Sample | None:
        """The truth when it went wrong; None where play ended before."""
        found = [s for s in self.watched.samples if abs(s.hour - self.wrong_h) < 1.0 / 12.0]
        return min(found, key=lambda s: abs(s.hour - self.wrong_h)) if found else None

    @property
    def side(self) -> str:
        """Too low or too high when it went wrong."""
        level_is_right = self.day.hit and self.day.left_at is None
        if self.at_fault is None or level_is_right or math.isnan(self.at_fault.quantity(self.goal)):
            return ""
        return "low" if self.at_fault.quantity(self.goal) < self.goal.middle else "high"

    @cached_property
    def looks(self) -> list[Look]:
        """The rounds beside the tank before it went wrong."""
        return [look for look in self.said.looks if look.hour < self.wrong_h - EPS_H]

    @property
    def stated(self) -> float | None:
        """The chance of success last stated before it went wrong."""
        told = [look.chance_if_done for look in self.looks if look.chance_if_done is not None]
        planned = self.said.planned
        return told[-1] if told else None if planned is None else planned.chance_held

    @property
    def last_reading_h(self) -> float:
        """When the meter was last read that day before it went wrong [h]; -inf if it was not."""
        start = 24.0 * self.day.number
        return max((r.hour for r in self.watched.meter if start <= r.hour < self.wrong_h), default=-math.inf)

    @cached_property
    def limit_mg_l(self) -> float:
        """The livestock ceiling."""
        return number(self.watched.card(), "co2_limit_mg_l")

    def level_at(self, quantity: float) -> float:
        """CO2 [mg/L] at which the goal's quantity has this value, by the day's own water; NaN if unknown."""
        if self.goal.quantity == "co2_mg_l":
            return quantity
        start, end = 24.0 * self.day.number, self.day.lights_off
        near = [s for s in self.watched.samples if start <= s.hour <= end and not math.isnan(s.drop)]
        if not near:
            return math.nan
        nearest = min(near, key=lambda s: abs(s.drop - quantity))
        return float(nearest.co2_mg_l * 10.0 ** (quantity - nearest.drop))

    @cached_property
    def reach(self) -> str:
        """What it would have taken: `one_setting`, `earlier`, `two_settings`, `nothing`; `unknown`."""
        twin = self.watched.twins.get(self.day.number)
        if twin is None:
            return "unknown"
        twin = copy.deepcopy(twin)
        twin.set_gas(0.0)
        ahead = day_of(twin, self.watched.card(), self.goal, self.day.number)
        if any(_works(constant(ahead, before)) for before in _CLOSINGS_H):
            return "one_setting"
        earlier = replace(ahead, earliest=max(ahead.earliest - EARLIER_H, twin.clock() - ahead.midnight))
        if any(_works(constant(earlier, before)) for before in _CLOSINGS_H[:2]):
            return "earlier"
        return "two_settings" if _two_settings_work(ahead) else "nothing"

    @property
    def forecast_missed(self) -> bool:
        """Whether the truth lay outside what was forecast at the last reading.

        For lights-on by the stated 90 % interval; for the hold, whose interval is not stated, by a stated
        chance of success that should not have failed.
        """
        if self.day.hit:
            return self.stated is not None and self.stated >= CONFIDENT
        forecast = self.said.last_forecast()
        if forecast is None or self.at_fault is None:
            return False
        truth = self.at_fault.quantity(self.goal)
        return not forecast.quantity[0] <= truth <= forecast.quantity[-1]


def _works(plan: Plan) -> bool:
    """Whether a plan, played on a copy, stayed within the band's tolerances and below the ceiling."""
    return plan.worst <= 1.0


def _two_settings_work(ahead: Day) -> bool:
    """Whether windows (where the timer has them) or a second rate would have done."""
    kinds = ("windows", "two rates") if ahead.windows > 1 else ("two rates",)
    return any(_works(two_parts(ahead, kind, _CLOSINGS_H[1])) for kind in kinds)


def _policy_failed(failed: Failed) -> bool:
    return failed.wrong_h >= failed.stopped_h


def _above_ceiling(failed: Failed) -> bool:
    return failed.level_at(failed.goal.band("held")[0]) > failed.limit_mg_l


def _for_the_fish(failed: Failed) -> bool:
    return bool(failed.said.unplanned) or any(look.action in _FISH_ACTIONS for look in failed.looks)


def _gas_hours(failed: Failed) -> bool:
    return failed.day.hit and failed.day.left_at is None and not failed.day.in_hours


def _under_ceiling(failed: Failed) -> bool:
    return failed.side == "low" and failed.level_at(failed.goal.high) >= failed.limit_mg_l


def _reading_off(failed: Failed) -> bool:
    last = [r for r in failed.watched.meter if r.hour == failed.last_reading_h]
    return bool(last) and abs(last[-1].shown_ph - last[-1].true_ph) > READING_OFF_PH


def _level_misjudged(failed: Failed) -> bool:
    if not failed.looks:
        return False
    look = failed.looks[-1]
    stated = look.now_drop_ph if failed.goal.quantity == "drop" else look.now_co2_mg_l
    then = min(failed.watched.samples, key=lambda s: abs(s.hour - look.hour))
    return stated is not None and not stated[0] <= then.quantity(failed.goal) <= stated[-1]


def _no_remedy(failed: Failed) -> bool:
    look = failed.looks[-1] if failed.looks else None
    return look is not None and look.chance_if_done is not None and look.chance_if_done < LIKELY


def _unread(failed: Failed) -> bool:
    return failed.last_reading_h == -math.inf


def _new_setting(failed: Failed) -> bool:
    count, changed_h = 0.0, -math.inf
    for hour, rate in failed.watched.settings:
        if hour < failed.wrong_h and rate > 0.0 and rate != count:
            count, changed_h = rate, hour
    return changed_h >= failed.last_reading_h - EPS_H and failed.forecast_missed


@dataclass(frozen=True, slots=True)
class Question:
    """One question of the tree: the cause's key, the cause in words, and when it is that."""

    key: str
    words: str
    holds: Callable[[Failed], bool]


TREE: tuple[Question, ...] = (
    Question("policy_failed", "the program itself stopped with an error", _policy_failed),
    Question("above_ceiling", "the band lies above the livestock ceiling", _above_ceiling),
    Question(
        "earlier_start",
        f"gas would have to start up to {EARLIER_H:g} h earlier than the keeper allows",
        lambda failed: failed.reach == "earlier",
    ),
    Question(
        "two_settings",
        "no single start, rate and stop does it; windows or a second rate would",
        lambda failed: failed.reach == "two_settings",
    ),
    Question(
        "out_of_reach",
        "nothing an all-knowing keeper tried does it",
        lambda failed: failed.reach == "nothing",
    ),
    Question("fish", "gas was lowered or closed for the fish", _for_the_fish),
    Question("gas_hours", "the level was right, the gas closed outside its hours", _gas_hours),
    Question(
        "under_ceiling", "the ceiling lies within the band, and the level was kept below", _under_ceiling
    ),
    Question("reading_off", f"the last reading was off by over {READING_OFF_PH:g} pH", _reading_off),
    Question(
        "level_misjudged",
        "the level at the last reading lay outside its 90 % interval (meter, cup or kit)",
        _level_misjudged,
    ),
    Question(
        "no_remedy", "at the last reading the advice saw less than even odds and knew no remedy", _no_remedy
    ),
    Question("unread", "no reading that day: needle or tank had moved since the last", _unread),
    Question("new_setting", "the needle was set at or after the last reading and missed", _new_setting),
    Question(
        "forecast_missed",
        "the forecast's 90 % interval missed, or a hold given 90 % failed",
        lambda failed: failed.forecast_missed,
    ),
    Question("odds", "within what the advice had given as its chances", lambda _: True),
)
"""The tree; the last question is always answered with yes."""


def find_cause(watched: Watched, goal: Goal, day: GasDay, stopped_h: float = math.inf) -> Finding:
    """The cause of a failed `day`; `stopped_h` is when the policy stopped with an error [h], if it did."""
    failed = Failed(watched, goal, day, watched.report.days.get(day.number, DaySaid()), stopped_h)
    question = next(question for question in TREE if question.holds(failed))
    stated = failed.stated
    said_so = question.key == "fish" or (stated is not None and stated < LIKELY)
    return Finding(question.key, failed.wrong_h, failed.side, stated, said_so)
