"""The target as a band of one quantity, so that a pH drop and a level in mg/L are planned alike."""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.estimate.posterior import Interval, Posterior, interval
from dawnlevel.tank import Target, TargetKind

Array = npt.NDArray[np.float64]

HIT_SLACK = 0.02
"""How far outside the band the level may be at lights-on [pH or log10 of mg/L]: a meter's last digits."""

HOLD_SLACK = 0.05
"""How far outside the band it may wander while held [pH or log10 of mg/L]; common practice, no source."""

BREACH_DROP = 0.15
"""A drop this far above the band's top counts as a breach even below the ceiling [pH]."""

CEILING_RISK = 0.02
"""Largest chance of breaching the ceiling in a day that a plan may take."""


@dataclass(frozen=True, slots=True)
class Goal:
    """A band in `quantity` units: pH drop from the recorded baseline, or log10 of CO2 in mg/L.

    Attributes:
        kind: which of the two.
        low, high: the band.
        ceiling_mg_l: the livestock ceiling.
        baseline_ph: recorded baseline the drop counts from (drop only).
    """

    kind: TargetKind
    low: float
    high: float
    ceiling_mg_l: float
    baseline_ph: float

    @property
    def middle(self) -> float:
        """The middle of the band."""
        return 0.5 * (self.low + self.high)

    def quantity(self, posterior: Posterior, co2_mg_l: Array, day_ph: Array | float = 0.0) -> Array:
        """Levels [mg/L], shape (..., n), in the goal's unit; `day_ph` [pH] is what a mixed balance misses."""
        if self.kind is TargetKind.DROP:
            return np.asarray(self.baseline_ph - posterior.meter_ph(co2_mg_l) - day_ph)
        return np.asarray(np.log10(co2_mg_l) - day_ph)

    def shown(self, quantity: float) -> float:
        """A quantity as the keeper knows it: drop in pH, or mg/L."""
        return quantity if self.kind is TargetKind.DROP else 10.0**quantity


def goal(target: Target, posterior: Posterior, ceiling_mg_l: float, told: str = "") -> Goal:
    """The target as a goal under the ceiling [mg/L].

    Raises NotEnoughRecordsError for a drop without a baseline; its message ends with what is `told` even so.
    """
    if target.kind is TargetKind.CO2:
        return Goal(target.kind, math.log10(target.low), math.log10(target.high), ceiling_mg_l, 0.0)
    if posterior.baseline_ph is None:
        raise NotEnoughRecordsError(
            f"A pH drop needs a baseline to drop from, and none is recorded.{told}",
            where=posterior.model.tank.name,
            cure="Aerate a cup of tank water for an hour, read its pH and record it: "
            "dawnlevel cup PH --method aerated --hours 1",
        )
    return Goal(target.kind, target.low, target.high, ceiling_mg_l, posterior.baseline_ph)


@dataclass(frozen=True, slots=True)
class Translation:
    """What a band means in the other unit: levels at its two ends, with intervals."""

    low_end: Interval
    high_end: Interval


def translate(goal_: Goal, posterior: Posterior) -> Translation:
    """A drop band in mg/L, or a mg/L band as drops from the recorded baseline (0 where there is none)."""
    if goal_.kind is TargetKind.DROP:
        ends = [posterior.co2_of_reading(goal_.baseline_ph - drop) for drop in (goal_.low, goal_.high)]
    else:
        base = posterior.baseline_ph if posterior.baseline_ph is not None else math.nan
        ends = [
            base - posterior.meter_ph(np.full((1, posterior.size), 10.0**end))[0]
            for end in (goal_.low, goal_.high)
        ]
    return Translation(interval(ends[0]), interval(ends[1]))
