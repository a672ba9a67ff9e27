"""What changed, by likelihood: every kind on every day against no change, with the tank's own wander.

The daily figures y (ln gain, ln exchange, uptake, rest; days one under another) of a tank without change
are a mean plus day-to-day scatter, taken from the log itself, plus slow wander of gain, exchange, plants
and meter. A change of kind k and size s on day d adds s v_k to all days from d on (a ramp for drift).
Whitened by the Cholesky factor of that covariance, what is left is compared by a Student t (5 degrees of
freedom) so that one odd day decides nothing; sizes and strengths of wander are summed over a grid.
"""

from dataclasses import dataclass
from math import lgamma, log, pi

import numpy as np
import numpy.typing as npt

from dawnlevel.watch.figures import Figures
from dawnlevel.watch.fit import EXCHANGE, GAIN, REST, UPTAKE

Floats = npt.NDArray[np.float64]

LN10 = float(np.log(10.0))
CONTINUOUS = ("injection", "exchange", "uptake", "offset", "drift")
WANDER = (0.004, 0.012, 0.025)
"""Slow wander of the gain a day, log sd [-]; needle valves creep (common practice, no source)."""

FREEDOM = 15.0
"""Of the Student t by which whitened misses are judged [-] (judgement)."""

LEAST_DRIFT = 0.006
"""Smallest creep of a meter that is told [pH a day]; less is for a monthly calibration (judgement)."""

_FLOOR = np.array([0.012, 0.025, 0.012, 0.012])
_SIZES = {
    "injection": np.concatenate([-np.geomspace(0.06, 1.2, 14), np.geomspace(0.06, 0.8, 12)]),
    "exchange": np.concatenate([-np.geomspace(0.12, 1.0, 12), np.geomspace(0.12, 1.0, 12)]),
    "uptake": np.concatenate([-np.geomspace(0.1, 2.0, 12), np.geomspace(0.1, 1.0, 12)]),
    "offset": np.concatenate([-np.geomspace(0.05, 0.4, 12), np.geomspace(0.05, 0.4, 12)]),
    "drift": np.concatenate([-np.geomspace(LEAST_DRIFT, 0.04, 10), np.geomspace(LEAST_DRIFT, 0.04, 10)]),
}
_AIR_MG_L = 0.9
_COUPLING = (0.0, 0.6, 1.6)
# how far a shift of pH bends the apparent exchange, ln a pH (seen on simulated tanks of little KH)
_JUMP_SD_PH = 0.015
_FEWEST_BEFORE = 4  # days before a change without which nothing can be called usual


@dataclass(frozen=True, slots=True)
class Odds:
    """Log evidence against no change: `by_day` a kind (days,), best `size` a kind and day (days,)."""

    by_day: dict[str, Floats]
    size: dict[str, Floats]


def effect(kind: str, sizes: Floats, usual: Floats) -> Floats:
    """What a change of these sizes does to the four figures, (sizes, 4)."""
    zero = np.zeros_like(sizes)
    uptake, rest = usual[UPTAKE] / usual[GAIN], usual[REST] / usual[GAIN]
    match kind:
        case "injection":
            columns = [sizes, zero, zero, zero]
        case "exchange":
            columns = [zero, sizes, zero, np.expm1(sizes) * usual[EXCHANGE] * _AIR_MG_L / usual[GAIN]]
        case "uptake":
            columns = [zero, zero, uptake * np.expm1(sizes), zero]
        case _:  # a shift of pH scales every concentration
            share = np.expm1(-LN10 * sizes)
            columns = [-LN10 * sizes, zero, uptake * share, rest * share]
    return np.stack(columns, axis=-1)


def white_covariance(table: Floats) -> Floats:
    """Day-to-day covariance (4, 4) of the figures from their differences, robust to steps and odd days."""
    steps = np.diff(table, axis=0) / np.sqrt(2.0)
    scale = np.maximum(1.4826 * np.median(np.abs(steps), axis=0), _FLOOR)
    clipped = np.clip(steps / scale, -2.5, 2.5)
    shared = np.clip(np.corrcoef(clipped.T + 1e-9 * np.arange(steps.shape[0])), -0.95, 0.95)
    shared = 0.95 * np.nan_to_num(shared) + 0.05 * np.eye(4)
    np.fill_diagonal(shared, 1.0)
    covariance: Floats = shared * np.outer(scale, scale)
    return covariance


def change_odds(figures: Figures, table: Floats | None = None) -> Odds:
    """Log evidence of every kind on every day; days that cannot be compared are left out of the sums."""
    whole = figures.table if table is None else table
    days = np.flatnonzero(figures.usable)
    y = whole[days]
    white = white_covariance(y)
    smooth = _without_odd_days(y, np.sqrt(np.diag(white)))
    n = whole.shape[0]
    names = (*CONTINUOUS, "unsteady")
    by_day = {kind: np.full((len(WANDER), n), -np.inf) for kind in names}
    size = {kind: np.zeros(n) for kind in names}
    base, rough_base = np.empty(len(WANDER)), np.empty(len(WANDER))
    for q, wander in enumerate(WANDER):
        whitener = _whitener(days, white, wander, figures.usual)
        clean, rough = whitener @ smooth.ravel(), whitener @ y.ravel()
        base[q], rough_base[q] = _student(clean).sum(), _student(rough, 5.0).sum()
        steps, ramps = (_profiles(whitener, days, is_ramp=ramp) for ramp in (False, True))
        for kind in CONTINUOUS:
            profiles = ramps if kind == "drift" else steps
            _scan(kind, figures, days, profiles, clean, by_day[kind][q], size[kind])
        _scan_scatter(days, rough, by_day["unsteady"][q], size["unsteady"], white)
    nothing = {kind: log_sum(rough_base if kind == "unsteady" else base) for kind in names}
    return Odds({kind: log_sum(rows) - nothing[kind] for kind, rows in by_day.items()}, size)


def _without_odd_days(y: Floats, scale: Floats) -> Floats:
    """The figures with days that lie apart from both their neighbourhoods brought near the closer one."""
    smooth = y.copy()
    for i in range(1, y.shape[0] - 1):
        before, after = np.median(y[max(i - 3, 0) : i], axis=0), np.median(y[i + 1 : i + 4], axis=0)
        low, high = np.minimum(before, after) - 2.5 * scale, np.maximum(before, after) + 2.5 * scale
        smooth[i] = np.clip(y[i], low, high)
    return smooth


def _whitener(days: npt.NDArray[np.int64], white: Floats, wander: float, usual: Floats) -> Floats:
    """Inverse Cholesky factor of the covariance of all figures of all days."""
    n = days.size
    at = days - days[0] + 1.0
    walk = np.minimum(at[:, None], at[None, :])
    near = np.exp(-np.abs(at[:, None] - at[None, :]) / 3.0)
    ways = effect("offset", np.array([0.001]), usual)[0] / 0.001
    slow = np.diag([wander**2, 0.002**2, (0.01 * usual[UPTAKE] / usual[GAIN] + 0.001) ** 2, 1e-6])
    slow += 0.0008**2 * np.outer(ways, ways)
    covariance = np.kron(np.eye(n) + 0.3 * near, white / 1.3) + np.kron(walk, slow)
    covariance += np.kron(np.ones((n, n)), np.diag([4.0, 4.0, 4.0, 4.0]))
    return np.linalg.inv(np.linalg.cholesky(covariance))


def log_sum(values: Floats, axis: int = 0) -> Floats:
    """Ln of the sum of exponentials along an axis; -inf where all are."""
    top = np.maximum(np.max(values, axis=axis, keepdims=True), -1e300)
    with np.errstate(divide="ignore"):
        total: Floats = np.log(np.exp(values - top).sum(axis=axis)) + np.squeeze(top, axis)
    return total


def _student(miss: Floats, freedom: float = FREEDOM) -> Floats:
    """Log density of whitened misses."""
    constant = lgamma(0.5 * (freedom + 1.0)) - lgamma(0.5 * freedom) - 0.5 * log(freedom * pi)
    density: Floats = constant - 0.5 * (freedom + 1.0) * np.log1p(miss * miss / freedom)
    return density


def _profiles(whitener: Floats, days: npt.NDArray[np.int64], *, is_ramp: bool) -> Floats:
    """What a unit change of each figure from each day on does to the whitened misses: (days, 4, misses)."""
    since = days[:, None] - days[None, :]
    shape = np.where(since >= 0, since + 0.5 if is_ramp else 1.0, 0.0)
    columns = whitener.reshape(whitener.shape[0], days.size, 4)
    return np.asarray(np.einsum("mtf,td->dfm", columns, shape, optimize=True))


def _scan(
    kind: str, figures: Figures, days: npt.NDArray[np.int64], profiles: Floats, clean: Floats,
    evidence: Floats, best: Floats,
) -> None:  # fmt: skip
    """Fill `evidence` and the `best` size of one kind for a change on each day."""
    sizes = _SIZES[kind]
    shifts = effect(kind, sizes, figures.usual)
    if kind == "drift":
        shifts = sizes[:, None] * effect("offset", np.array([0.001]), figures.usual) / 0.001
    if kind in {"offset", "drift"}:
        bent = [shifts + np.outer(c * sizes, [0.0, 1.0, 0.0, 0.0]) for c in _COUPLING]
        shifts, sizes = np.concatenate(bent), np.tile(sizes, len(_COUPLING))
    for i in range(_FEWEST_BEFORE, days.size):
        day = int(days[i])
        found = _student(clean[None, :] - shifts @ profiles[i]).sum(axis=1)
        if kind == "offset":
            found = found + _jump_evidence(figures, day, sizes, int(days[i - 1]))
        evidence[day] = log_sum(found) - np.log(sizes.size)
        best[day] = sizes[np.argmax(found)]


def _jump_evidence(figures: Figures, day: int, sizes: Floats, before: int) -> Floats:
    """Log ratio for the sudden step that a shift of pH should leave in its day or the one before."""
    seen = [figures.jump_ph[before], figures.jump_ph[day]]

    noise = figures.jump_sd_ph
    small, near_by = float(np.hypot(0.02, noise)), float(np.hypot(_JUMP_SD_PH, noise))

    def none(jump: float) -> float:
        return float(np.log(0.85 * _bell(jump, small) + 0.15 * _bell(jump, 0.15)))

    def shift(jump: float) -> Floats:
        near = 0.75 * _bell(jump - sizes, near_by) + 0.2 * _bell(jump - sizes, 0.08)
        return np.log(near + 0.003 * _bell(jump, small))

    ratios = [shift(jump) - none(jump) for jump in seen]
    return np.asarray(np.logaddexp(ratios[0], ratios[1]) - np.log(2.0))


def _bell(miss: Floats | float, sd: float) -> Floats:
    return np.asarray(np.exp(-0.5 * (np.asarray(miss) / sd) ** 2) / (sd * np.sqrt(2.0 * np.pi)))


def _scan_scatter(
    days: npt.NDArray[np.int64], clean: Floats, evidence: Floats, best: Floats, white: Floats
) -> None:
    """Fill in a growth of the gain's scatter from each day on."""
    gain = clean.reshape(-1, 4)[:, 0]
    spread = np.sqrt(1.0 + np.array([0.12, 0.2, 0.3, 0.45]) ** 2 / white[0, 0])
    whole = _student(clean, 5.0).sum()
    now = _student(gain, 5.0)
    wide = -0.5 * (gain[:, None] / spread) ** 2 - np.log(spread * np.sqrt(2.0 * np.pi))
    gained = np.cumsum((wide - now[:, None])[::-1], axis=0)[::-1]
    for i, day in enumerate(days.tolist()):
        if _FEWEST_BEFORE <= i < days.size - 1:
            evidence[day] = whole + log_sum(gained[i]) - np.log(spread.size)
            best[day] = (0.12, 0.2, 0.3, 0.45)[int(np.argmax(gained[i]))]
