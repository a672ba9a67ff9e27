"""When a series of figures changed its level: the chance that it did, since when, by how much.

Figures scatter normally about a level that jumps at the changes. Beforehand the first level may be anything,
a jump is normal with a few times the scatter, a moment is the likelier the longer the time between its two
figures, and an unknown scatter has Jeffreys' prior. All of these integrate out in closed form (conjugate
normal linear model, textbook), so with one change the chance of every moment is exact. Checked on the Nile's
flow at Aswan, 1871 to 1970, where Cobb 1978 (Biometrika 65, 243: second-hand) and others find 1898.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.watch.segments import Series, best_splits, series_of

Array = npt.NDArray[np.float64]

JUMP_SD = 3.0
"""A jump's standard deviation beforehand, in those of the scatter; own choice."""

EXPECTED = 0.5
"""Chance beforehand that a series holds a change; own choice: no opinion."""

EXPECTED_MORE = 0.1
"""Chance beforehand that a series holds a change more, where several are looked for; own choice."""

_SIDE = 0.05  # of a 90 % interval


@dataclass(frozen=True, slots=True)
class Change:
    """One change of level.

    Attributes:
        probability: that there is a change at all among the figures looked at.
        index: likeliest first figure after the change.
        low, high: 90 % interval of that index, given that there is a change.
        size, size_low, size_high: median and 90 % interval of new level less old, in the figures' unit.
        moments: chance that figure i is the first after the change, given that there is one, shape (n,).
    """

    probability: float
    index: int
    low: int
    high: int
    size: float
    size_low: float
    size_high: float
    moments: Array


def single_change(
    figures: npt.ArrayLike,
    *,
    days: npt.ArrayLike | None = None,
    noise_sd: npt.ArrayLike | None = None,
    expected: float = EXPECTED,
) -> Change:
    """The one change of level that figures (n,) may hold.

    `days` (n,), rising, are the figures' times (default: evenly spaced). `noise_sd`, a number or (n,), is
    their scatter where it is known, in the figures' unit; else it is inferred. NaN figures are passed over.

    Raises: NotEnoughRecordsError for fewer than four figures, BadInputError for times that do not rise.
    """
    return _one(series_of(figures, days, noise_sd, JUMP_SD), expected, np.asarray(figures).size)


def changes(
    figures: npt.ArrayLike,
    *,
    days: npt.ArrayLike | None = None,
    noise_sd: npt.ArrayLike | None = None,
    expected: float = EXPECTED_MORE,
    at_most: int = 6,
) -> list[Change]:
    """All changes of level in figures (n,), in order of time, each likelier than not.

    For each number of changes up to `at_most` the moments come from least squares over all segmentations;
    the number is the one with the most evidence. Each change then gets its chance, interval and size from
    the figures between its neighbours. Arguments and errors as for `single_change`; n up to 4000.
    """
    series, count = series_of(figures, days, noise_sd, JUMP_SD), np.asarray(figures).size

    def between_neighbours(splits: tuple[int, ...]) -> list[Change]:
        ends = (0, *splits, series.values.size)
        parts = [series.part(a, b) for a, b in zip(ends[:-2], ends[2:], strict=True)]
        return [_one(part, expected, count) for part in parts]

    def evidence(splits: tuple[int, ...]) -> float:  # at these moments, and summed over the moments nearby
        nearby = sum(-float(np.log(change.moments.max())) for change in between_neighbours(splits))
        return series.log_evidence(splits, _log_odds(expected)) + nearby

    best = max(best_splits(series, at_most), key=evidence)
    found = between_neighbours(best)
    while found and min(change.probability for change in found) <= 0.5:
        weakest = min(range(len(found)), key=lambda k: found[k].probability)
        best = best[:weakest] + best[weakest + 1 :]
        found = between_neighbours(best)
    return found


def _one(series: Series, expected: float, count: int) -> Change:
    """The one change that a series may hold, its places among `count` figures."""
    after = np.cumsum(series.weights[::-1])[-2::-1]  # weight from figure k + 1 on
    mass = float(series.weights.sum())
    own = after * (mass - after) / mass + series.jump**-2
    drawn = np.cumsum((series.weights * series.values)[::-1])[-2::-1]
    size = drawn / own
    left = series.total - drawn * size
    logs = series.log_shares - np.log(series.jump) - 0.5 * np.log(own) + series.gained(left)
    chances = np.exp(logs - logs.max())
    log_odds = float(logs.max() + np.log(chances.sum())) + _log_odds(expected)
    chances /= chances.sum()
    degrees = series.values.size - 1 if series.is_noise_unknown else None
    spread = np.sqrt((1.0 if degrees is None else np.maximum(left, 0.0) / degrees + 1e-300) / own)
    moments = np.zeros(count)
    moments[series.places[1:]] = chances
    low, high = (int(np.searchsorted(np.cumsum(moments), side)) for side in (_SIDE, 1.0 - _SIDE))
    index = int(np.argmax(moments))
    return Change(
        float(1.0 / (1.0 + np.exp(-np.clip(log_odds, -700.0, 700.0)))),
        index,
        min(low, index),
        max(high, index),
        *_sizes(chances, size, spread, degrees),
        moments,
    )


def _log_odds(chance: float) -> float:
    return float(np.log(chance) - np.log1p(-chance))


def _sizes(chances: Array, centres: Array, spreads: Array, degrees: int | None) -> tuple[float, float, float]:
    """Median, 5 % and 95 % of a mixture of normals, or of Student's t with `degrees`."""
    from scipy.optimize import brentq  # noqa: PLC0415 - scipy is slow to import
    from scipy.special import ndtr, stdtr  # noqa: PLC0415 - the same

    kept = chances > 1e-9
    p, c, s = chances[kept] / chances[kept].sum(), centres[kept], spreads[kept]
    far = 40.0 * float(s.max())

    def over(x: float, side: float) -> float:
        z = (x - c) / s
        return float(p @ (ndtr(z) if degrees is None else stdtr(degrees, z))) - side

    ends = float(c.min()) - far, float(c.max()) + far
    median, low, high = (float(brentq(over, *ends, args=(side,))) for side in (0.5, _SIDE, 1.0 - _SIDE))
    return median, low, high
