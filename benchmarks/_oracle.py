"""The oracle: a policy that looks ahead on copies of the tank; what could be had, not what a keeper can do.

Every day it searches, in this order: yesterday's plan again; one rate from a start to a stop; one rate in
windows, if the timer has more than one; two rates by hand (ramp, then hold). It takes the first kind that
stays well inside the band, else the best it saw.
"""

import copy
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import exp, inf, log

from benchmarks._card import hours_of, number
from benchmarks._goal import Goal
from benchmarks._watched import Watched
from dawnlevel.practice.tank import PlayableTank

Switches = tuple[tuple[float, float], ...]
"""When [h since the day's midnight] and to what count [1/s] the gas is set."""

_WELL_INSIDE = 0.75
_CLOSES_BEFORE_H = 1.5
_LATEST_CLOSE_BEFORE_H = 2.4
_RATES_BPS = (0.01, 60.0)
_LOOKS_PER_H = 4


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a plan fares, in units of the allowed distance from the band's middle: 1 is the very edge.

    Attributes:
        at_lights: signed distance at lights-on [-].
        low, high: the furthest below and above, from lights-on until the gas closes, lights-on included [-].
        breached: whether the ceiling was passed.
    """

    at_lights: float
    low: float
    high: float
    breached: bool

    @property
    def worst(self) -> float:
        """The furthest from the middle; infinite with a breach."""
        return inf if self.breached else max(-self.low, self.high)

    @property
    def tilt(self) -> float:
        """How much further above than below; rises with the rate."""
        return self.low + self.high


@dataclass(frozen=True, slots=True)
class Plan:
    """What to do in a day, its kind and how it is expected to fare (infinite if it was not tried)."""

    kind: str
    switches: Switches
    worst: float = inf


@dataclass(frozen=True, slots=True)
class Day:
    """One day ahead of a tank: the tank as it is now, goal, ceiling, and the day's hours [h]."""

    tank: PlayableTank
    goal: Goal
    limit_mg_l: float
    midnight: float
    earliest: float
    lights_on: float
    lights_off: float
    windows: int

    def _distance(self, value: float, width: str) -> float:
        """Signed distance of a value from the band's middle, 1 at the widened band's edge."""
        middle = 0.5 * (self.goal.low + self.goal.high)
        low, high = self.goal.band("hit" if width == "hit" else "held")
        return (value - middle) / (high - middle if value > middle else middle - low)

    def outcome(self, switches: Switches) -> Outcome:
        """Play `switches` on a copy."""
        twin = copy.deepcopy(self.tank)
        closes = switches[-1][0]
        looks = {k / _LOOKS_PER_H for k in range(int(closes * _LOOKS_PER_H) + 1)} | {self.lights_on, closes}
        looks |= {hour for hour, _ in switches}
        waiting, at_lights, seen, breached = list(switches), 0.0, [], False
        for hour in sorted(looks):
            if self.midnight + hour < twin.clock() - 1e-9 or hour < switches[0][0]:
                continue
            twin.wait_until(self.midnight + hour)
            truth = twin.truth()
            value = truth[self.goal.quantity]
            breached = breached or truth["co2_mg_l"] > self.limit_mg_l
            if hour == self.lights_on:
                at_lights = self._distance(value, "hit")
            if self.lights_on <= hour <= closes:
                seen.append(self._distance(value, "held"))
            while waiting and waiting[0][0] <= hour:
                twin.set_gas(waiting.pop(0)[1])
        return Outcome(at_lights, min(*seen, at_lights), max(*seen, at_lights), breached)

    def starts(self) -> list[float]:
        """Hours at which the gas might start [h], late ones first."""
        latest = self.lights_on - 0.5
        return [latest - share * (latest - self.earliest) for share in (0.2, 0.45, 0.7, 1.0, 0.0)]


def _root(rising: Callable[[float], float], low: float, high: float, steps: int) -> float:
    """Where a rising function crosses nought, by bisection in the logarithm."""
    a, b = log(low), log(high)
    for _ in range(steps):
        middle = 0.5 * (a + b)
        if rising(exp(middle)) > 0.0:
            b = middle
        else:
            a = middle
    return exp(0.5 * (a + b))


def _finished(day: Day, kind: str, switches: Switches) -> Plan:
    """The plan with its outcome."""
    return Plan(kind, switches, day.outcome(switches).worst)


def constant(day: Day, before_h: float) -> Plan:
    """One rate from one start, closed `before_h` [h] before lights-off: the best found."""
    best = Plan("none", ())
    closes = day.lights_off - before_h
    for start in day.starts():

        def plan(rate: float, start: float = start) -> Switches:
            return ((start, rate), (closes, 0.0))

        rate = _root(lambda r, plan=plan: day.outcome(plan(r)).tilt, *_RATES_BPS, 12)  # type: ignore[misc]
        best = min(best, _finished(day, "constant", plan(rate)), key=lambda p: p.worst)
        if best.worst < _WELL_INSIDE:
            break
    return best


def two_parts(day: Day, kind: str, before_h: float) -> Plan:
    """A ramp that meets the middle at lights-on, then a hold that is balanced: windows or a second rate."""
    best = Plan("none", ())
    closes = day.lights_off - before_h
    for start in day.starts():

        def ramp(rate: float, start: float = start) -> Switches:
            return ((start, rate), (day.lights_on, 0.0))

        rate = _root(lambda r, ramp=ramp: day.outcome(ramp(r)).at_lights, *_RATES_BPS, 12)  # type: ignore[misc]

        def whole(part: float, start: float = start, rate: float = rate) -> Switches:
            if kind == "two rates":
                return ((start, rate), (day.lights_on, part), (closes, 0.0))
            return ((start, rate), *_pulses(day, rate, part, closes))

        span = _RATES_BPS if kind == "two rates" else (0.01, 0.99)
        part = _root(lambda x, whole=whole: day.outcome(whole(x)).tilt, *span, 9)  # type: ignore[misc]
        best = min(best, _finished(day, kind, whole(part)), key=lambda p: p.worst)
        if best.worst < _WELL_INSIDE:
            break
    return best


def _pulses(day: Day, rate: float, duty: float, closes: float) -> Switches:
    """The hold in all windows but one: shares `duty` of equal parts, each at its part's end."""
    count = day.windows - 1
    length = (closes - day.lights_on) / count
    switches: list[tuple[float, float]] = [(day.lights_on, 0.0)]
    for k in range(1, count + 1):
        ends = day.lights_on + k * length
        switches += [(ends - duty * length, rate), (ends, 0.0)]
    return tuple(switches)


def best_plan(day: Day, yesterday: Plan | None) -> Plan:
    """The first kind of plan that stays well inside the band, else the best of all."""
    tried: list[Plan] = []
    searches: list[Callable[[], Plan]] = []
    if yesterday is not None and yesterday.switches:
        searches.append(lambda: _finished(day, yesterday.kind, yesterday.switches))
    searches.append(lambda: constant(day, _CLOSES_BEFORE_H))
    searches.append(lambda: constant(day, _LATEST_CLOSE_BEFORE_H))
    if day.windows > 1:
        searches.append(lambda: two_parts(day, "windows", _LATEST_CLOSE_BEFORE_H))
    searches.append(lambda: two_parts(day, "two rates", _LATEST_CLOSE_BEFORE_H))
    for search in searches:
        tried.append(search())
        if tried[-1].worst < _WELL_INSIDE:
            return tried[-1]
    return min(tried, key=lambda plan: plan.worst)


def look_ahead(tank: Watched, goal: Goal, day: int) -> Day:
    """Day `day` as the oracle sees it from now."""
    return day_of(tank.twin(), tank.card(), goal, day)


def day_of(tank: PlayableTank, card: Mapping[str, object], goal: Goal, day: int) -> Day:
    """Day `day` ahead of `tank`, which is played on copies only."""
    earliest, lights_on, lights_off = hours_of(card)
    return Day(
        tank=tank,
        goal=goal,
        limit_mg_l=number(card, "co2_limit_mg_l"),
        midnight=24.0 * day,
        earliest=earliest,
        lights_on=lights_on,
        lights_off=lights_off,
        windows=max(int(number(card, "timer_windows")), 1),
    )


def play(
    tank: Watched,
    target: Mapping[str, Sequence[float]],
    days: int,
    report: Callable[[int, float, float], None] | None = None,
) -> None:
    """Play `days` days towards `target`; `report` is not used, the oracle has nothing to be unsure of."""
    del report
    quantity, (low, high) = next(iter(target.items()))
    goal = Goal("drop" if quantity == "drop" else "co2_mg_l", low, high)
    if goal.quantity == "drop":
        tank.read_degassed_ph()
    plan: Plan | None = None
    for day_no in range(1, days + 1):
        day = look_ahead(tank, goal, day_no)
        tank.wait_until(max(tank.clock(), day.midnight + day.earliest - 0.25))
        plan = best_plan(look_ahead(tank, goal, day_no), plan)
        for hour, rate in plan.switches:
            tank.wait_until(max(day.midnight + hour, tank.clock()))
            tank.set_gas(rate)
