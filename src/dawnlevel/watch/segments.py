"""A series cut into stretches of one level each: best cuts by least squares, evidence for a set of cuts."""

from dataclasses import dataclass, replace
from math import lgamma

import numpy as np
import numpy.typing as npt

from dawnlevel.errors import BadInputError, NotEnoughRecordsError, OutOfRangeError

Array = npt.NDArray[np.float64]

_FEWEST, _MOST = 4, 4000
_SHORTEST = 2  # figures a stretch must have: one alone is an outlier, not a level
_TINY = 1e-300


@dataclass(frozen=True, slots=True)
class Series:
    """Known figures of a series, ready for the algebra.

    Attributes:
        values: the known figures less their weighted mean, shape (k,).
        weights: 1 / variance of each, or 1 where the scatter is unknown, shape (k,).
        places: their positions in the series as given, shape (k,).
        days: their times, rising, shape (k,).
        jump: sd of a jump beforehand, in the figures' unit, or in scatters where the scatter is unknown.
        is_noise_unknown: whether the scatter is inferred.
    """

    values: Array
    weights: Array
    places: npt.NDArray[np.intp]
    days: Array
    jump: float
    is_noise_unknown: bool

    @property
    def log_shares(self) -> Array:
        """Log of each gap's share of the whole time, shape (k - 1,)."""
        return np.asarray(np.log(np.diff(self.days) / (self.days[-1] - self.days[0])))

    def part(self, first: int, end: int) -> "Series":
        """The figures from `first` up to `end` (not included) as a series of their own, places and all."""
        here = slice(first, end)
        values, weights = self.values[here], self.weights[here]
        return replace(
            self,
            values=values - np.average(values, weights=weights),
            weights=weights,
            places=self.places[here],
            days=self.days[here],
        )

    @property
    def total(self) -> float:
        """Weighted sum of squares about the mean."""
        return max(float(self.weights @ self.values**2), _TINY)

    def gained(self, left: Array) -> Array:
        """Log likelihood gained where the sum of squares falls from the total to `left`."""
        if self.is_noise_unknown:
            degrees = self.values.size - 1
            return -0.5 * degrees * np.log(np.maximum(left, 1e-12 * self.total) / self.total)
        return 0.5 * (self.total - left)

    def log_evidence(self, splits: tuple[int, ...], log_odds: float) -> float:
        """Log evidence for levels that change before the figures `splits`, against one level throughout.

        `log_odds` are those of one further change beforehand.
        """
        count = len(splits)
        if not count:
            return 0.0
        after = np.arange(self.values.size)[:, None] >= np.array(splits)
        steps = after - (self.weights @ after) / self.weights.sum()
        own = steps.T @ (self.weights[:, None] * steps) + np.eye(count) / self.jump**2
        drawn = steps.T @ (self.weights * self.values)
        left = np.asarray(self.total - drawn @ np.linalg.solve(own, drawn))
        log_prior = lgamma(count + 1) + float(self.log_shares[np.array(splits) - 1].sum()) + count * log_odds
        return float(
            log_prior - count * np.log(self.jump) - 0.5 * np.linalg.slogdet(own)[1] + self.gained(left)
        )


def series_of(
    figures: npt.ArrayLike, days: npt.ArrayLike | None, noise_sd: npt.ArrayLike | None, jump_sd: float
) -> Series:
    """The known ones of figures (n,) at times `days` (n,) with scatter `noise_sd`; a jump in scatters."""
    given = np.asarray(figures, dtype=np.float64)
    places = np.flatnonzero(np.isfinite(given))
    if places.size < _FEWEST:
        raise NotEnoughRecordsError(
            f"{places.size} figures cannot show a change of level.",
            where="change point",
            cure=f"At least {_FEWEST} are needed.",
        )
    if places.size > _MOST:
        raise OutOfRangeError("number of figures", places.size, _FEWEST, _MOST, "", where="change point")
    times = places.astype(np.float64) if days is None else np.asarray(days, dtype=np.float64)[places]
    if np.any(np.diff(times) <= 0):
        raise BadInputError("The times do not rise.", where="change point", cure="Sort the figures by time.")
    noise, jump = np.ones(places.size), jump_sd
    if noise_sd is not None:
        noise = np.broadcast_to(np.asarray(noise_sd, dtype=np.float64), given.shape)[places]
        jump = jump_sd * float(np.median(noise))
    if not np.all(noise > 0):
        raise BadInputError("A scatter is not above 0.", where="change point", cure="Give it as sd, above 0.")
    weights = noise**-2.0
    values = given[places] - np.average(given[places], weights=weights)
    return Series(values, weights, places, times, jump, noise_sd is None)


def best_splits(series: Series, at_most: int) -> list[tuple[int, ...]]:
    """For no cut, one, two ... up to `at_most` cuts, those that leave the least sum of squares.

    Dynamic programming over all segmentations (Bellman; as in Auger & Lawrence 1989, Bull. Math. Biol. 51,
    39: from memory, not checked). A stretch has at least two figures.
    """
    costs = _costs(series)
    n = series.values.size
    best, cuts = costs[0], []
    found: list[tuple[int, ...]] = [()]
    for _ in range(min(at_most, n // _SHORTEST - 1)):
        through = best[:, None] + costs  # (cut, end): best up to the cut, one stretch from it on
        cuts.append(np.argmin(through, axis=0))
        best = through[cuts[-1], np.arange(n + 1)]
        end, splits = n, []
        for cut in reversed(cuts):
            end = int(cut[end])
            splits.append(end)
        found.append(tuple(reversed(splits)))
    return found


def _costs(series: Series) -> Array:
    """Sum of squares of the stretch from figure a up to b (not included), shape (n + 1, n + 1)."""
    w = np.concatenate(([0.0], np.cumsum(series.weights)))
    wy = np.concatenate(([0.0], np.cumsum(series.weights * series.values)))
    wyy = np.concatenate(([0.0], np.cumsum(series.weights * series.values**2)))
    position = np.arange(w.size)
    is_long = position[None, :] - position[:, None] >= _SHORTEST
    mass = np.where(is_long, w[None, :] - w[:, None], 1.0)
    squares = wyy[None, :] - wyy[:, None] - (wy[None, :] - wy[:, None]) ** 2 / mass
    return np.where(is_long, squares, np.inf)
