"""Control charts on standardised figures: EWMA and CUSUM, and how long each runs until it alarms.

A chart watches figures that are standard normal while nothing changes (`standard.self_starting` makes such
figures from raw ones). Its run length is the number of figures until the alarm: long while nothing changes
(a false alarm), short after a change. Both charts start at 0 and after an alarm start there again.

Run lengths solve the integral equation L(u) = 1 + integral of L(v) p(v | u) dv over the region without
alarm, by Gauss-Legendre quadrature (Crowder 1987, Technometrics 29, 401, for the EWMA; Vance 1986, Journal
of Quality Technology 18, 189, for the CUSUM: second-hand; the equations are checked against the printed
tables in the tests).
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from dawnlevel.errors import OutOfRangeError
from dawnlevel.watch.quadrature import below, density, nodes_and_areas

Array = npt.NDArray[np.float64]

_LEAST_WEIGHT = 0.005
_WIDEST = 12.0  # sd; no run length below a million needs a wider limit


@dataclass(frozen=True, slots=True)
class Ewma:
    """Exponentially weighted moving average z' = (1 - weight) z + weight x, alarm beyond the limit.

    Attributes:
        weight: of the newest figure, 0.005 to 1: small ones see small lasting shifts, large ones jumps.
        limit: in standard deviations of z after many figures, weight / (2 - weight) of those of x.
        two_sided: alarm on both sides; else only upwards, and z never falls below 0.
    """

    weight: float
    limit: float
    two_sided: bool = True

    @property
    def edge(self) -> float:
        """The limit on the scale of z."""
        return self.limit * float(np.sqrt(self.weight / (2.0 - self.weight)))

    def path(self, figures: npt.ArrayLike) -> Array:
        """Z after each of the standardised figures (n,); not reset at an alarm, NaN figures passed over."""
        values, floor = np.asarray(figures, dtype=np.float64), -np.inf if self.two_sided else 0.0
        path, z = np.empty(values.shape), 0.0
        for i, x in enumerate(values):
            z = z if np.isnan(x) else max((1.0 - self.weight) * z + self.weight * float(x), floor)
            path[i] = z
        return path

    def run_length(self, shift: float = 0.0) -> float:
        """Mean number of figures until the alarm, for figures whose mean has moved by `shift` [sd]."""
        _check("weight of an EWMA", self.weight, _LEAST_WEIGHT, 1.0)
        _check("limit of a chart", self.limit, 0.0, _WIDEST)
        low = -self.edge if self.two_sided else 0.0
        nodes, areas = nodes_and_areas(low, self.edge, self.weight)
        start = (1.0 - self.weight) * np.append(nodes, 0.0)  # the last row starts at 0
        move = areas * density((nodes - start[:, None]) / self.weight - shift) / self.weight
        return _mean_run(move, None if self.two_sided else below(-start / self.weight - shift))


@dataclass(frozen=True, slots=True)
class Cusum:
    """Cumulative sum s' = max(0, s + x - reference), alarm above the decision; both sides by its mirror.

    Attributes:
        reference: half the shift it is to find fastest [sd].
        decision: the alarm's level [sd].
        two_sided: a second sum watches for falls.
    """

    reference: float
    decision: float
    two_sided: bool = True

    def path(self, figures: npt.ArrayLike) -> Array:
        """Both sums after each of the figures (n,), shape (2, n): rising, falling (0 if one-sided)."""
        values = np.asarray(figures, dtype=np.float64)
        path, sums = np.zeros((2, values.size)), np.zeros(2)
        signs = np.array([1.0, -1.0 if self.two_sided else 0.0])
        for i, x in enumerate(values):
            sums = sums if np.isnan(x) else np.maximum(sums + signs * x - self.reference, 0.0)
            path[:, i] = sums
        return path

    def run_length(self, shift: float = 0.0) -> float:
        """Mean number of figures until the alarm, for figures whose mean has moved by `shift` [sd].

        Two sides: 1/L = 1/L(rising) + 1/L(falling), exact for two sums that start at 0 (Lucas & Crosier
        1982, Technometrics 24, 199: second-hand).
        """
        _check("reference of a CUSUM", self.reference, 0.0, _WIDEST)
        _check("decision of a CUSUM", self.decision, 0.0, 100.0)
        rising = self._one_side(shift)
        return 1.0 / (1.0 / rising + 1.0 / self._one_side(-shift)) if self.two_sided else rising

    def _one_side(self, shift: float) -> float:
        nodes, areas = nodes_and_areas(0.0, self.decision, 1.0)
        start = np.append(nodes, 0.0)
        move = areas * density(nodes - start[:, None] + self.reference - shift)
        return _mean_run(move, below(self.reference - start - shift))


@lru_cache(maxsize=256)
def ewma_for(run_length: float, weight: float, *, two_sided: bool = True) -> Ewma:
    """The EWMA that alarms once in `run_length` figures on average while nothing changes."""
    _check("run length", run_length, 2.0, 1e6)
    limit = _solve(lambda limit: Ewma(weight, limit, two_sided).run_length(), run_length)
    return Ewma(weight, limit, two_sided)


@lru_cache(maxsize=256)
def cusum_for(run_length: float, reference: float = 0.5, *, two_sided: bool = True) -> Cusum:
    """The CUSUM that alarms once in `run_length` figures on average while nothing changes."""
    _check("run length", run_length, 2.0, 1e6)
    _check("reference of a CUSUM", reference, 0.1, 3.0)
    decision = _solve(lambda level: Cusum(reference, level, two_sided).run_length(), run_length)
    return Cusum(reference, decision, two_sided)


def _solve(run_length_at: Callable[[float], float], wanted: float) -> float:
    """The limit whose run length is `wanted`: run lengths rise with the limit."""
    from scipy.optimize import brentq  # noqa: PLC0415 - scipy is slow to import

    low, high = 1e-3, 1.0
    while run_length_at(high) < wanted:
        low, high = high, 1.4 * high
    return float(brentq(lambda limit: np.log(run_length_at(limit) / wanted), low, high, xtol=1e-6))


def _mean_run(move: Array, to_zero: Array | None) -> float:
    """Mean run from 0, for one-step chances (k + 1, k) from k nodes and from 0, and (k + 1,) back to 0."""
    count = move.shape[1]
    matrix = np.zeros((count + 1, count + 1))
    matrix[:, :count] = move
    if to_zero is not None:
        matrix[:, count] = to_zero
    return float(np.linalg.solve(np.eye(count + 1) - matrix, np.ones(count + 1))[count])


def _check(name: str, value: float, low: float, high: float) -> None:
    if not low <= value <= high:
        raise OutOfRangeError(name, value, low, high, "", where="control chart")
