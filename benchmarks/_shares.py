"""Shares and means with their uncertainty, over tanks: days of one tank are not independent of each other."""

from collections.abc import Callable, Sequence
from math import sqrt
from typing import Any

import numpy as np
import numpy.typing as npt

Z_95 = 1.959964
"""Two-sided 95 % point of the normal distribution."""

RESAMPLES = 2000
_SEED = 1

Figure = dict[str, Any]
"""`value` with `low` and `high` (95 %) and `n` tanks, days or forecasts behind it; None where undefined."""


def wilson(hits: int, n: int) -> Figure:
    """A share of n independent tanks with its 95 % interval; Wilson 1927, JASA 22, 209, from memory."""
    return _wilson(hits / n, float(n)) | {"n": n} if n else _nothing()


def _wilson(p: float, n: float) -> Figure:
    """Wilson's interval about a share p of n."""
    z2 = Z_95**2 / n
    middle = (p + 0.5 * z2) / (1.0 + z2)
    half = Z_95 * sqrt(p * (1.0 - p) / n + 0.25 * z2 / n) / (1.0 + z2)
    low, high = max(middle - half, 0.0), min(middle + half, 1.0)
    return _figure(p, low if p > 0.0 else 0.0, high if p < 1.0 else 1.0, round(n))


def share(by_tank: Sequence[Sequence[bool]]) -> Figure:
    """The share of all days (forecasts, ...) of all tanks; n counts them.

    The 95 % interval is Wilson's with as many days as would be worth as much if they were independent: the
    variance of the share from the tanks' own shares tells how many (Korn & Graubard 1998, Survey
    Methodology 24, 193; from memory). Where all days are alike, the number of tanks is taken.
    """
    counted = [values for values in by_tank if len(values)]
    n, hits = sum(map(len, counted)), sum(map(sum, counted))
    if n == 0:
        return _nothing()
    p, tanks = hits / n, len(counted)
    apart = sum((sum(values) - p * len(values)) ** 2 for values in counted)
    variance = apart / n**2 * tanks / max(tanks - 1, 1)
    worth = p * (1.0 - p) / variance if variance > 0.0 else float(tanks)
    return _wilson(p, min(max(worth, 1.0), float(n))) | {"n": n}


def pooled(by_tank: Sequence[Sequence[float]]) -> Figure:
    """The mean over all values of all tanks, its 95 % interval by resampling whole tanks; n counts values."""
    sums = np.array([sum(values) for values in by_tank], dtype=np.float64)
    counts = np.array([len(values) for values in by_tank], dtype=np.float64)
    return _resampled(sums, counts)


def difference(first: Sequence[Sequence[float]], second: Sequence[Sequence[float]]) -> Figure:
    """Pooled mean of the first less that of the second, tank by tank in the same order, resampled alike.

    Where no tank differs, resampling says nothing: then the interval is as far either way as the share of
    tanks that may differ unseen, none having been seen to (Wilson).
    """

    def sums(values: Sequence[Sequence[float]]) -> npt.NDArray[np.float64]:
        return np.array([[sum(one), len(one)] for one in values], dtype=np.float64)

    a, b = sums(first), sums(second)
    if not len(a) or not a[:, 1].sum() or not b[:, 1].sum():
        return _nothing()

    def apart(pick: npt.NDArray[np.intp]) -> npt.NDArray[np.float64]:
        both = (values[pick].sum(axis=-2) for values in (a, b))
        left, right = (total[..., 0] / np.maximum(total[..., 1], 1.0) for total in both)
        return np.asarray(left - right)

    if np.array_equal(a, b):
        unseen = _wilson(0.0, float(len(a)))["high"]
        return _figure(0.0, -unseen, unseen, int(a[:, 1].sum()))
    return _with_interval(apart, len(a), int(a[:, 1].sum()))


def _resampled(sums: npt.NDArray[np.float64], counts: npt.NDArray[np.float64]) -> Figure:
    if not counts.sum():
        return _nothing()

    def mean(pick: npt.NDArray[np.intp]) -> npt.NDArray[np.float64]:
        return np.asarray(sums[pick].sum(axis=-1) / np.maximum(counts[pick].sum(axis=-1), 1.0))

    return _with_interval(mean, len(sums), int(counts.sum()))


def _with_interval(
    of: Callable[[npt.NDArray[np.intp]], npt.NDArray[np.float64]], tanks: int, n: int
) -> Figure:
    """A figure of all tanks with the middle 95 % of what it is over tanks drawn with replacement."""
    rng = np.random.default_rng(_SEED)
    drawn = of(rng.integers(0, tanks, size=(RESAMPLES, tanks)))
    low, high = np.quantile(drawn, (0.025, 0.975))
    return _figure(float(of(np.arange(tanks))), float(low), float(high), n)


def _figure(value: float, low: float, high: float, n: int) -> Figure:
    return {"value": round(value, 6), "low": round(low, 6), "high": round(high, 6), "n": n}


def _nothing() -> Figure:
    return {"value": None, "low": None, "high": None, "n": 0}
