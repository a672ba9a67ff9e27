"""Readings that do not fit the tank the records describe: one may be a slip, several mean that it changed."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np
import numpy.typing as npt

from dawnlevel.estimate.evidence import TankPh
from dawnlevel.estimate.posterior import Posterior

CHANGED = 2
"""Readings in a row that do not fit from which the tank counts as changed, not the readings as slips: two
slips in a row are one in ten thousand; own choice."""

_RATHER = 0.5


@dataclass(frozen=True, slots=True)
class OddReading:
    """A reading that is rather a slip than one of the tank that the records describe.

    Attributes:
        at: when it was read (UTC).
        ph: what the meter showed [-].
        expected_ph: what the records expected of it [-].
        co2_mg_l: the level it stands for, if it is none [mg/L], shape (n,).
    """

    at: datetime
    ph: float
    expected_ph: float
    co2_mg_l: npt.NDArray[np.float64]

    @property
    def is_less(self) -> bool:
        """Whether it stands for less CO2 than expected."""
        return self.ph > self.expected_ph


def odd_readings(posterior: Posterior) -> tuple[OddReading, ...]:
    """The latest pH readings, back to the last that fits, that do not; oldest first."""
    found: list[OddReading] = []
    timeline = posterior.model.timeline
    for group in posterior.model.evidence:
        if not isinstance(group, TankPh):
            continue
        predicted = group.predict(posterior.unknowns, posterior.levels)
        slips = group.observed.are_slips(predicted).mean(axis=1)
        for row in range(slips.size - 1, -1, -1):
            if slips[row] <= _RATHER:
                break
            at = timeline.moment(timeline.edges_h[group.edge[row]])
            ph = float(group.observed.ph[row, 0])
            found.append(
                OddReading(at, ph, float(np.median(predicted[row])), posterior.co2_of_reading(ph, at))
            )
    return tuple(reversed(found))
