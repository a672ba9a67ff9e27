"""How likely each record is, given what the model says the instrument should have seen.

Every record is reduced to one predicted number (a pH on the meter, a KH at the kit, a pH inside the
cell), and its log likelihood is a function of that number alone.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

SLIP_SHARE = 0.01
"""Share of readings that are slips of eye or pen; common practice, no source."""

SLIP_WIDTH_PH = 4.0
"""A slip can be anywhere in this many pH units; common practice, no source."""

_FINE_STEP = 1.0
"""Rounding to a step below this many sds is as good as a little more noise (Sheppard's correction)."""


class Observed(Protocol):
    """Records of one kind: n of them, against predictions of shape (n, B)."""

    def log_likelihood(self, predicted: Array) -> Array:
        """Log likelihood of each record, shape (n, B)."""
        ...


@dataclass(frozen=True, slots=True)
class MeterReadings:
    """Readings rounded to the meter's step [pH]; shapes (n, 1); now and then one is a slip."""

    ph: Array
    step_ph: Array
    sd_ph: float

    def log_likelihood(self, predicted: Array) -> Array:
        """Shape (n, B), per pH unit."""
        return np.asarray(np.log(self._density(predicted) + SLIP_SHARE / SLIP_WIDTH_PH))

    def are_slips(self, predicted: Array) -> npt.NDArray[np.bool_]:
        """Which readings are rather slips than readings of what is predicted, shape (n, B)."""
        return np.asarray(self._density(predicted) < SLIP_SHARE / SLIP_WIDTH_PH)

    def _density(self, predicted: Array) -> Array:
        """Density of readings that are no slips, shape (n, B), per pH unit."""
        if np.all(self.step_ph <= _FINE_STEP * self.sd_ph):
            sd = np.sqrt(self.sd_ph**2 + self.step_ph**2 / 12.0)
            scaled = (self.ph - predicted) / sd
            return np.asarray(
                np.exp(-0.5 * scaled * scaled) * ((1.0 - SLIP_SHARE) / np.sqrt(2.0 * np.pi) / sd)
            )
        upper, lower = self.ph + 0.5 * self.step_ph, self.ph - 0.5 * self.step_ph
        share = _normal_cdf((upper - predicted) / self.sd_ph) - _normal_cdf((lower - predicted) / self.sd_ph)
        return np.asarray((1.0 - SLIP_SHARE) * share / self.step_ph)


@dataclass(frozen=True, slots=True)
class DropCounts:
    """KH counts: the true titre lies within the last drops; edges [dKH] of shape (n, 1), soft by `sd`."""

    low_dkh: Array
    high_dkh: Array
    sd_dkh: Array

    def log_likelihood(self, predicted: Array) -> Array:
        """Shape (n, B)."""
        upper = _normal_cdf((self.high_dkh - predicted) / self.sd_dkh)
        lower = _normal_cdf((self.low_dkh - predicted) / self.sd_dkh)
        return np.asarray(np.log(np.maximum(upper - lower, 0.0) + 1e-12))


@dataclass(frozen=True, slots=True)
class Colours:
    """Cell colours: ordinal; the pH in the cell between two edges, read with an eye's scatter [pH]."""

    low_ph: Array
    high_ph: Array
    sd_ph: float

    def log_likelihood(self, predicted: Array) -> Array:
        """Shape (n, B); one in fifty is named wrongly."""
        upper = _normal_cdf((self.high_ph - predicted) / self.sd_ph)
        lower = _normal_cdf((self.low_ph - predicted) / self.sd_ph)
        return np.asarray(np.log(0.98 * np.maximum(upper - lower, 0.0) + 0.02 / 4.0))


def _normal_cdf(x: Array) -> Array:
    """Cumulative normal distribution."""
    from scipy.special import ndtr  # noqa: PLC0415 - scipy would slow the start of every command

    return np.asarray(ndtr(x))
