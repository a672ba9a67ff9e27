"""A prior as a frozen value: median, 90 % span, unit and where it comes from."""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.errors import BadInputError

#: Standard deviations from the median to either end of a 90 % span of a normal (identity).
Z_90 = 1.6448536269514722


@dataclass(frozen=True, slots=True)
class Prior:
    """A lognormal prior, as `median (low-high)`; low and high are the ends of the 90 % span.

    `log_sd` is taken from the whole span, so a span that is not quite even about its median (in logs)
    is met on average. `source` names where the figures come from.
    """

    median: float
    low: float
    high: float
    unit: str
    source: str

    def __post_init__(self) -> None:
        """Refuse spans that do not hold their median."""
        if not 0.0 < self.low < self.median < self.high:
            raise BadInputError(
                f"The span {self.low:g} to {self.high:g} does not hold its median {self.median:g}.",
                where="prior",
                cure="Give low < median < high, all above nought.",
            )

    @property
    def log_sd(self) -> float:
        """Standard deviation of the natural logarithm, dimensionless."""
        return math.log(self.high / self.low) / (2.0 * Z_90)

    @property
    def factor_90(self) -> float:
        """Factor either way that holds 90 %, dimensionless."""
        return math.exp(Z_90 * self.log_sd)

    def from_normal(self, z: npt.ArrayLike) -> npt.NDArray[np.float64]:
        """The prior's values (in its unit) for standard normal scores `z`, any shape."""
        values: npt.NDArray[np.float64] = self.median * np.exp(self.log_sd * np.asarray(z, dtype=np.float64))
        return values

    def draw(self, rng: np.random.Generator, size: int) -> npt.NDArray[np.float64]:
        """`size` random values in the prior's unit, shape (size,)."""
        return self.from_normal(rng.standard_normal(size))


@dataclass(frozen=True, slots=True)
class SharePrior:
    """A prior of a share between 0 and 1: normal on the log-odds; `median (low-high)`, 90 % span."""

    median: float
    low: float
    high: float
    source: str

    def __post_init__(self) -> None:
        """Refuse spans that do not hold their median or leave 0 to 1."""
        if not 0.0 < self.low < self.median < self.high < 1.0:
            raise BadInputError(
                f"The span {self.low:g} to {self.high:g} does not hold its median {self.median:g}.",
                where="prior of a share",
                cure="Give 0 < low < median < high < 1.",
            )

    def from_normal(self, z: npt.ArrayLike) -> npt.NDArray[np.float64]:
        """Shares for standard normal scores `z`, any shape."""
        width = (_log_odds(self.high) - _log_odds(self.low)) / (2.0 * Z_90)
        log_odds = _log_odds(self.median) + width * np.asarray(z, dtype=np.float64)
        shares: npt.NDArray[np.float64] = 0.5 * (1.0 + np.tanh(0.5 * log_odds))
        return shares


def _log_odds(share: float) -> float:
    """ln(p/(1 - p)), dimensionless."""
    return math.log(share / (1.0 - share))
