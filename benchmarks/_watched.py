"""A tank as its policy sees it, with a scorer's notes.

`Watched` hides the truth from the policy, samples it every five minutes whatever the policy waits for, and
writes down what the policy did. It takes any module's tank: clocks of any grid, scalars of any type.
"""

import copy
import math
from dataclasses import dataclass
from typing import NoReturn

from benchmarks._card import hours_of, plain_card
from benchmarks._goal import Goal
from benchmarks._said import Notebook
from dawnlevel.errors import BadInputError
from dawnlevel.practice.draw import Card
from dawnlevel.practice.tank import PlayableTank

SAMPLES_PER_H = 12
EPS_H = 1e-6


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


@dataclass(frozen=True, slots=True)
class MeterReading:
    """One reading in the tank: when [h], what the meter showed, and what it would show without error [pH]."""

    hour: float
    shown_ph: float
    true_ph: float


class Watched:
    """The same members as a tank, but no truth; everything done and read is noted.

    `twins` holds a copy of the tank from each evening on (by the day it precedes), for questions of the
    kind "could this day have been dialled in at all?"; a tank that cannot be copied has none.
    """

    def __init__(self, tank: PlayableTank, *, keep_twins: bool = False) -> None:
        self._tank = tank
        self._card = plain_card(tank.card())
        _, self._lights_on_h, self._lights_off_h = hours_of(self._card)
        self._keep_twins = keep_twins
        self.samples: list[Sample] = []
        self.settings: list[tuple[float, float]] = []
        self.readings: list[float] = []
        self.meter: list[MeterReading] = []
        self.twins: dict[int, PlayableTank] = {}
        self.report = Notebook()
        self._sample(self.clock())

    @property
    def forecasts(self) -> dict[int, tuple[float, float]]:
        """The 90 % interval [pH] of each day's last forecast of lights-on."""
        return self.report.forecasts

    def _sample(self, hour: float) -> None:
        """Note the truth now, at the `hour` that was asked for: a clock may differ in the last digits."""
        truth = self._tank.truth()
        self.samples.append(Sample(hour, float(truth["co2_mg_l"]), float(truth["ph"]), float(truth["drop"])))

    def _next_sample(self, now: float) -> float:
        """The next five-minute mark or lights-on after `now` [h]."""
        mark = (math.floor(now * SAMPLES_PER_H + EPS_H) + 1) / SAMPLES_PER_H
        day = math.floor((now - self._lights_on_h + EPS_H) / 24.0) + 1
        return min(mark, 24.0 * day + self._lights_on_h)

    def _keep_twin(self, hour: float) -> None:
        """Copy the tank once for the gas day to come, as soon as the lights of the day before are off."""
        day = math.floor((hour + EPS_H - self._lights_off_h) / 24.0) + 1
        if not self._keep_twins or day in self.twins:
            return
        try:
            self.twins[day] = self.twin()
        except BadInputError:
            self._keep_twins = False

    def card(self) -> Card:
        """What the keeper knows, as plain figures."""
        return dict(self._card)

    def clock(self) -> float:
        """Now [h]."""
        return float(self._tank.clock())

    def wait_until(self, hour: float) -> None:
        """Let time pass to `hour` [h], sampling on the way."""
        self._keep_twin(self.clock())
        mark = self._next_sample(max(self.clock(), self.samples[-1].hour))
        while mark <= hour + EPS_H:
            if mark > self.clock():
                self._tank.wait_until(mark)
            self._sample(mark)
            self._keep_twin(mark)
            mark = self._next_sample(mark)
        if hour > self.clock():
            self._tank.wait_until(hour)

    def set_gas(self, bubbles_per_second: float) -> None:
        """Set the needle [1/s], noted."""
        rate = float(bubbles_per_second)
        self._tank.set_gas(rate)
        self.settings.append((self.clock(), rate))

    def read_ph(self) -> float:
        """One reading [pH], counted."""
        hour = self.clock()
        self.readings.append(hour)
        shown = float(self._tank.read_ph())
        self.meter.append(MeterReading(hour, shown, float(self._tank.truth()["ph"])))
        return shown

    def read_degassed_ph(self) -> float:
        """One baseline reading [pH], counted."""
        self.readings.append(self.clock())
        return float(self._tank.read_degassed_ph())

    def read_cell(self) -> str:
        """The cell's colour, counted."""
        self.readings.append(self.clock())
        return _word(self._tank.read_cell())

    def watch_fish(self) -> str:
        """How the fish behave; a look, not a reading."""
        return _word(self._tank.watch_fish())

    def truth(self) -> NoReturn:
        """Refused: a keeper has none. Raises BadInputError."""
        raise BadInputError(
            "The truth is the scorer's.", where="practice tank", cure="Read the meter, the cell or the fish."
        )

    def twin(self) -> PlayableTank:
        """A copy with the same future; the oracle's privilege. Raises BadInputError where there is none."""
        try:
            return copy.deepcopy(self._tank)
        except Exception as error:
            raise BadInputError(
                f"This tank cannot be copied ({error}), and the oracle looks ahead on copies.",
                where="--policy oracle",
                cure="Leave the oracle out, or let copy.deepcopy give a twin of the tank.",
            ) from error


def _word(said: object) -> str:
    """A word, or an enumeration's, in lower case."""
    return str(getattr(said, "value", said)).lower()
