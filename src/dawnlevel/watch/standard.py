"""Raw daily figures made standard normal without knowing their usual level or scatter beforehand."""

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

LEAST_BEFORE = 3
"""Figures that must come before one can be judged: with fewer the scatter is hardly known; own choice."""


def self_starting(figures: npt.ArrayLike, errors: npt.ArrayLike | None = None) -> Array:
    """Each figure against all before it, as a standard normal, shape (n,).

    While nothing changes, and figures are normal and independent, the results are independent standard
    normals from the first days on, whatever the true level and scatter: no false alarms come from a
    level that was guessed badly (Hawkins 1987, The Statistician 36, 299: from memory, not checked; the
    property itself is tested by simulation).

    NaN where the figure is NaN, or fewer than three came before it. `errors` (n,) are the figures' standard
    deviations up to a common factor, where they differ from day to day (a day with few readings): a figure
    less sure than the others then counts less, both against them and among them.
    """
    from scipy.special import ndtri  # noqa: PLC0415 - scipy is slow to import
    from scipy.stats import t as student  # noqa: PLC0415 - the same

    values = np.asarray(figures, dtype=np.float64)
    known = np.isfinite(values)
    if not known.any():
        return np.full(values.shape, np.nan)
    spread = np.ones(values.shape) if errors is None else np.asarray(errors, dtype=np.float64)
    w = np.where(known, 1.0 / spread**2, 0.0)
    x = np.where(known, values - np.median(values[known]), 0.0)  # so that sums of squares keep their digits
    count, total = np.cumsum(known), np.cumsum(w)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.cumsum(w * x) / total
        squares = np.maximum(np.cumsum(w * x * x) - total * mean**2, 0.0)
        n, sum_w, level, scatter = (np.roll(sums, 1) for sums in (count, total, mean, squares))
        variance = scatter / (n - 1) * (1.0 / w + 1.0 / sum_w)
        ratio = (x - level) / np.sqrt(variance)
        usable = known & (n >= LEAST_BEFORE) & (np.arange(values.size) > 0) & (variance > 0)
    found = np.full(values.shape, np.nan)
    chance = student.sf(np.abs(ratio[usable]), n[usable] - 1)
    found[usable] = -np.sign(ratio[usable]) * ndtri(chance)
    return found
