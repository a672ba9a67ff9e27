"""Watching a policy play on a practice tank, and scoring what happened.

`Watched` stands between the two: it hides the truth from the policy, samples it every five minutes
whatever the policy waits for, and writes down what the policy did.
"""

import copy
import math
from dataclasses import dataclass, field
from typing import Literal, NoReturn, Self

from dawnlevel.errors import BadInputError
from dawnlevel.practice.draw import Card
from dawnlevel.practice.tank import PlayableTank

SAMPLES_PER_H = 12
_EPS_H = 1e-6
_CLOSES_BEFORE_H = (0.5, 2.5)
_DROP_TOLERANCE = {"hit": 0.02, "held": 0.05}
_CO2_TOLERANCE = {"hit": 0.04, "held": 0.12}
_DROP_BREACH = 0.15


@dataclass(frozen=True, slots=True)
class Goal:
    """The target band: `drop` [pH] or `co2_mg_l` [mg/L]."""

    quantity: Literal["drop", "co2_mg_l"]
    low: float
    high: float

    @classmethod
    def parse(cls, text: str) -> Self:
        """From `drop:LO-HI` or `co2:LO-HI`. Raises BadInputError."""
        kind, _, band = text.partition(":")
        low, _, high = band.partition("-")
        quantity: Literal["drop", "co2_mg_l"] = "drop" if kind == "drop" else "co2_mg_l"
        try:
            goal = cls(quantity, float(low), float(high))
        except ValueError:
            goal = cls(quantity, 1.0, 0.0)
        if kind not in {"drop", "co2"} or not 0.0 < goal.low < goal.high:
            raise BadInputError(
                f"{text!r} is no target.", where="--target", cure="Write drop:1.0-1.2 or co2:20-30."
            )
        return goal

    def as_dict(self) -> dict[str, list[float]]:
        """As policies get it."""
        return {self.quantity: [self.low, self.high]}

    def band(self, width: Literal["hit", "held"]) -> tuple[float, float]:
        """The band widened for a lights-on hit or for the hold [pH or mg/L]."""
        if self.quantity == "drop":
            return self.low - _DROP_TOLERANCE[width], self.high + _DROP_TOLERANCE[width]
        return self.low * (1.0 - _CO2_TOLERANCE[width]), self.high * (1.0 + _CO2_TOLERANCE[width])

    def inside(self, value: float, width: Literal["hit", "held"]) -> bool:
        """Whether `value` lies in the widened band; NaN does not."""
        low, high = self.band(width)
        return low - 1e-9 <= value <= high + 1e-9


@dataclass(frozen=True, slots=True)
class Sample:
    """The truth at one moment: hour [h], CO2 [mg/L], pH on the keeper's meter, drop [pH]."""

    hour: float
    co2_mg_l: float
    ph: float
    drop: float

    def quantity(self, goal: Goal) -> float:
        """What the goal is about."""
        return self.drop if goal.quantity == "drop" else self.co2_mg_l


class Watched:
    """A tank as its policy sees it, with a scorer's notes; the same members, but no truth."""

    def __init__(self, tank: PlayableTank) -> None:
        self._tank = tank
        self._lights_on_h = float(str(tank.card()["lights_on_h"]))
        self.samples: list[Sample] = []
        self.settings: list[tuple[float, float]] = []
        self.readings: list[float] = []
        self.forecasts: dict[int, tuple[float, float]] = {}
        self._sample()

    def _sample(self) -> None:
        """Note the truth now."""
        truth = self._tank.truth()
        self.samples.append(
            Sample(self._tank.clock(), float(truth["co2_mg_l"]), float(truth["ph"]), float(truth["drop"]))
        )

    def _next_sample(self, now: float) -> float:
        """The next five-minute mark or lights-on after `now` [h]."""
        mark = (math.floor(now * SAMPLES_PER_H + _EPS_H) + 1) / SAMPLES_PER_H
        day = math.floor((now - self._lights_on_h + _EPS_H) / 24.0) + 1
        return min(mark, 24.0 * day + self._lights_on_h)

    def card(self) -> Card:
        """What the keeper knows."""
        return self._tank.card()

    def clock(self) -> float:
        """Now [h]."""
        return self._tank.clock()

    def wait_until(self, hour: float) -> None:
        """Let time pass to `hour` [h], sampling on the way."""
        mark = self._next_sample(self._tank.clock())
        while mark <= hour + _EPS_H:
            self._tank.wait_until(mark)
            self._sample()
            mark = self._next_sample(mark)
        if hour > self._tank.clock():
            self._tank.wait_until(hour)

    def set_gas(self, bubbles_per_second: float) -> None:
        """Set the needle [1/s], noted."""
        self._tank.set_gas(bubbles_per_second)
        self.settings.append((self._tank.clock(), float(bubbles_per_second)))

    def read_ph(self) -> float:
        """One reading [pH], counted."""
        self.readings.append(self._tank.clock())
        return self._tank.read_ph()

    def read_degassed_ph(self) -> float:
        """One baseline reading [pH], counted."""
        self.readings.append(self._tank.clock())
        return self._tank.read_degassed_ph()

    def read_cell(self) -> str:
        """The cell's colour, counted."""
        self.readings.append(self._tank.clock())
        return self._tank.read_cell()

    def watch_fish(self) -> str:
        """How the fish behave; a look, not a reading."""
        return self._tank.watch_fish()

    def truth(self) -> NoReturn:
        """Refused: a keeper has none. Raises BadInputError."""
        raise BadInputError(
            "The truth is the scorer's.", where="practice tank", cure="Read the meter, the cell or the fish."
        )

    def report(self, day: int, low_ph: float, high_ph: float) -> None:
        """Note the 90 % interval [pH] of `day`'s lights-on forecast; the last one counts."""
        self.forecasts[day] = (float(low_ph), float(high_ph))

    def twin(self) -> PlayableTank:
        """A copy with the same future; the oracle's privilege."""
        return copy.deepcopy(self._tank)


@dataclass(slots=True)
class TankScore:
    """One policy on one tank, by day (index 0 is day 1)."""

    hit: list[bool] = field(default_factory=list)
    dialled_in: list[bool] = field(default_factory=list)
    breach: bool = False
    readings: list[int] = field(default_factory=list)
    readings_before: int = 0
    rate_changes: list[int] = field(default_factory=list)
    forecasts_held: list[bool] = field(default_factory=list)
    seconds: float = 0.0
    failure: str = ""


def score(watched: Watched, goal: Goal, days: int) -> TankScore:
    """Score days 1 to `days` of what was watched, exactly as the practice tank's contract says."""
    card = watched.card()
    result = TankScore(breach=_breach(watched, goal, float(str(card["co2_limit_mg_l"]))))
    changes = _rate_changes(watched.settings, int(str(card.get("timer_windows") or 1)))
    result.readings_before = sum(hour < 24.0 for hour in watched.readings)
    for day in range(1, days + 1):
        lights_on, lights_off = _light(card, day)
        at_lights = [s for s in watched.samples if abs(s.hour - lights_on) < _EPS_H]
        hit = bool(at_lights) and goal.inside(at_lights[0].quantity(goal), "hit")
        result.hit.append(hit)
        result.dialled_in.append(hit and _held(watched, goal, lights_on, lights_off))
        result.readings.append(sum(24.0 * day <= hour < 24.0 * (day + 1) for hour in watched.readings))
        result.rate_changes.append(changes.get(day, 0))
        if day in watched.forecasts and at_lights:
            low, high = watched.forecasts[day]
            result.forecasts_held.append(low <= at_lights[0].ph <= high)
    return result


def _light(card: Card, day: int) -> tuple[float, float]:
    """Lights-on and lights-off [h] of `day`; a photoperiod may run over midnight."""
    on_h, off_h = float(str(card["lights_on_h"])), float(str(card["lights_off_h"]))
    return 24.0 * day + on_h, 24.0 * day + (off_h if off_h > on_h else off_h + 24.0)


def end_of_play(card: Card, days: int) -> float:
    """When the last day is over [h]."""
    return max(24.0 * (days + 1), _light(card, days)[1])


def _breach(watched: Watched, goal: Goal, limit_mg_l: float) -> bool:
    """Whether CO2 ever passed the ceiling, or the drop the band's top + 0.15."""
    top = goal.high + _DROP_BREACH if goal.quantity == "drop" else math.inf
    return any(s.co2_mg_l > limit_mg_l or s.drop > top for s in watched.samples)


def _held(watched: Watched, goal: Goal, lights_on: float, lights_off: float) -> bool:
    """Whether the band was held from lights-on until the gas closed, and it closed in time."""
    closed_at = _last_closing(watched.settings, lights_on, lights_off)
    if closed_at is None:
        return False
    before = lights_off - closed_at
    if not _CLOSES_BEFORE_H[0] - _EPS_H <= before <= _CLOSES_BEFORE_H[1] + _EPS_H:
        return False
    during = [s for s in watched.samples if lights_on - _EPS_H <= s.hour <= closed_at + _EPS_H]
    return all(goal.inside(s.quantity(goal), "held") for s in during)


def _last_closing(settings: list[tuple[float, float]], lights_on: float, lights_off: float) -> float | None:
    """When the gas last closed in the light [h]; None if it did not or is open at lights-off."""
    is_open, closed_at = False, None
    for hour, rate in settings:
        if hour > lights_off + _EPS_H:
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
        day = math.floor(hour / 24.0 + _EPS_H)
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
