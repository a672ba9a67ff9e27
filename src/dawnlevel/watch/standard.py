"""Raw daily figures made standard normal without knowing their usual level or scatter beforehand."""

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

LEAST_BEFORE = 3
"""Figures that must come before one can be judged: with fewer the scatter is hardly known; own choice."""


def self_starting(
    figures: npt.ArrayLike,
    errors: npt.ArrayLike | None = None,
    *,
    least: float = 0.0,
    days: npt.ArrayLike | None = None,
    wander: float = 0.0,
) -> Array:
    """Each figure against all before it, as a standard normal, shape (n,).

    While nothing changes, and figures are normal and independent, the results are independent standard
    normals from the first days on, whatever the true level and scatter: no false alarms come from a
    level that was guessed badly (Hawkins 1987, The Statistician 36, 299: from memory, not checked; the
    property itself is tested by simulation).

    NaN where the figure is NaN, or fewer than three came before it.

    Args:
        figures: shape (n,).
        errors: standard deviations up to a common factor (n,), where they differ from day to day (a day with
            few readings): a figure less sure than the others then counts less, against them and among them.
        least: the common factor is not taken below this: with errors stated in full and 1, four readings that
            happen to agree do not make the fifth an alarm.
        days: times of the figures (n,), rising [d]; needed with `wander`.
        wander: what the level itself wanders by in a day, sd, before the common factor: a random walk under
            the readings (West & Harrison's local level with unknown variance: from memory, not checked).
            Older figures then count less, and a level that creeps within it is no change.
    """
    from scipy.special import ndtri  # noqa: PLC0415 - scipy is slow to import
    from scipy.stats import t as student  # noqa: PLC0415 - the same

    values = np.asarray(figures, dtype=np.float64)
    spread = np.ones(values.shape) if errors is None else np.asarray(errors, dtype=np.float64)
    times = np.arange(values.size, dtype=np.float64) if days is None else np.asarray(days, dtype=np.float64)
    ratio, freedom = _against_before(values, spread, times, least, wander)
    found = np.full(values.shape, np.nan)
    usable = np.isfinite(ratio)
    chance = student.sf(np.abs(ratio[usable]), freedom[usable])
    found[usable] = -np.sign(ratio[usable]) * ndtri(chance)
    return found


def _against_before(
    values: Array, spread: Array, times: Array, least: float, wander: float
) -> tuple[Array, Array]:
    """Each figure less what those before predict, in predicted sd; its degrees of freedom; NaN at first."""
    ratio, freedom = np.full(values.shape, np.nan), np.zeros(values.shape)
    level = variance = squares = last = 0.0
    count = 0
    for i in np.flatnonzero(np.isfinite(values)):
        own = float(spread[i]) ** 2
        if count:
            variance += wander**2 * float(times[i] - last)
            miss, total = float(values[i]) - level, variance + own
            scale = max(squares / (count - 1) if count > 1 else 0.0, least**2)
            if count >= LEAST_BEFORE and scale > 0.0:
                ratio[i], freedom[i] = miss / np.sqrt(total * scale), count - 1
            squares += miss**2 / total
            level += variance / total * miss
            variance *= own / total
        else:
            level, variance = float(values[i]), own
        last, count = float(times[i]), count + 1
    return ratio, freedom
