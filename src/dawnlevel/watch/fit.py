"""Every gas day's balance, fitted at once: exchange, injected gain, uptake, rest, start and stop.

Over a half hour the carbon excess S (carbon less alkalinity, as CO2) of a tank changes by

    dS = [G g(t) - k C - U l(t) C/(Km + C) + r] dt

with the gas g and the lamp l on or off, gas exchange k, injected gain G, uptake U and the rest r (what air
and animals bring in). S and C follow from pH, so the equation is linear in (k, G, U, r); only the moments
at which the gas really opens and closes are not, and they are searched on a grid. All days, all moments
and all parameters are solved together as stacked 4 x 4 systems; a robust weight (Huber 1964) takes care of
water changes and lifted probes. The saturating law and Km: Van, Haller & Bowes 1976.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
import numpy.typing as npt

from dawnlevel.watch.days import BEFORE_H, BIN_H, BINS, Bins, Card

Floats = npt.NDArray[np.float64]

KM_MG_L = 5.0
"""Half-saturation of uptake [mg/L], inside 3.3 to 7.5 of Van, Haller & Bowes 1976, Plant Physiol. 58, 761."""

EXCHANGE, GAIN, UPTAKE, REST = range(4)
COARSE_H, STEP_H = 1.0 / 3.0, 1.0 / 12.0
"""Grids on which the moments are searched at which gas opens and closes [h]: first widely, then nearby."""

MODEL_SHARE = 0.01
"""What the one-box model leaves out in half an hour, as a share of CO2 (judgement)."""

_HUBER = 2.0
_WIDE_SD = np.array([0.5, 60.0, 6.0, 0.6])
_WIDE_MEAN = np.array([0.2, 0.0, 0.0, 0.3])
_FEWEST_ROWS = 16


@dataclass(frozen=True, slots=True)
class DayFits:
    """One row a gas day; NaN where a day has too few readings.

    `values` (days, 4): exchange [1/h], gain [mg/L/h], uptake [mg/L/h], rest [mg/L/h]; `errors` their sd;
    `start_h`, `stop_h`: when the gas really opened and closed, after the time it should have [h];
    `scatter`: robust sd of the half hours in units of what was expected; `rows`: half hours used.
    """

    values: Floats
    errors: Floats
    start_h: Floats
    stop_h: Floats
    scatter: Floats
    rows: Floats


@dataclass(slots=True)
class _Rows:
    """The half hours of all days: weighted columns (days, rows, 3) without gas, change and weights."""

    fixed: Floats
    change: Floats
    weight: Floats


def fit_days(
    bins: Bins, card: Card, mean: Floats | None = None, sd: Floats | None = None, *, timed: bool = True
) -> DayFits:
    """Fit every day; `mean` and `sd` (4,) or (days, 4) are a prior of the four parameters, wide without.

    Without `timed` the gas is taken to follow its timer and every half hour to count in full. Days of the
    same card are fitted together.
    """
    centre = np.broadcast_to(_WIDE_MEAN if mean is None else mean, (bins.ph.shape[0], 4))
    width = np.broadcast_to(_WIDE_SD if sd is None else sd, (bins.ph.shape[0], 4))
    cards = bins.cards(card)
    ends = [row for row in range(1, len(cards) + 1) if row == len(cards) or cards[row] != cards[row - 1]]
    parts = [
        _fit_alike(bins.part(begin, end), cards[begin], centre[begin:end], width[begin:end], timed=timed)
        for begin, end in zip([0, *ends], ends, strict=False)
    ]
    return parts[0] if len(parts) == 1 else DayFits(*(np.concatenate(column) for column in _columns(parts)))


def _columns(parts: list[DayFits]) -> list[tuple[Floats, ...]]:
    """Each field of the fits of several parts of a log."""
    names = ("values", "errors", "start_h", "stop_h", "scatter", "rows")
    return [tuple(getattr(part, name) for part in parts) for name in names]


def _fit_alike(bins: Bins, card: Card, centre: Floats, width: Floats, *, timed: bool) -> DayFits:
    """Fit days of one card."""
    rows = _rows(bins, card)
    length = card.gas_off_h - card.gas_on_h
    days = bins.ph.shape[0]
    start, stop = np.zeros(days), np.zeros(days)
    starts = np.arange(-BEFORE_H, length - 0.5 + 1e-9, COARSE_H)
    stops = np.arange(0.5 - length, 24.0 - BEFORE_H - length + 1e-9, COARSE_H)
    for turn in range(3 if timed else 0):
        opens = partial(_open_share, stop_h=stop, length_h=length)
        start = _search(rows, opens, starts, centre, width)
        closes = partial(_open_share, start, length_h=length)
        stop = _search(rows, closes, stops, centre, width)
        if turn < 2:
            _reweigh(rows, _open_share(start, stop, length), centre, width)
    return _outcome(rows, start, stop, length, centre, width)


def _open_share(start_h: Floats | float, stop_h: Floats | float, length_h: float) -> Floats:
    """Share of each half hour with gas, (days, BINS), opened and closed so long after the timer [h]."""
    begin = (np.arange(BINS) + 0.5) * BIN_H
    on = np.asarray(start_h)[..., None] + BEFORE_H
    off = np.asarray(stop_h)[..., None] + BEFORE_H + length_h
    share: Floats = np.clip(np.minimum(begin + BIN_H, off) - np.maximum(begin, on), 0.0, BIN_H) / BIN_H
    return share


def _rows(bins: Bins, card: Card) -> _Rows:
    """The half hours between the middles of neighbouring bins, in units of their expected scatter."""
    co2 = 0.5 * (bins.co2_mg_l[:, 1:] + bins.co2_mg_l[:, :-1])
    change = np.diff(bins.excess_mg_l, axis=1)
    lamp = _lamp_share(card)
    reading = bins.noise_ph**2 * bins.excess_per_ph**2 / np.maximum(bins.count, 1.0)
    spread = np.sqrt(reading[:, 1:] + reading[:, :-1] + (MODEL_SHARE * co2 + 0.02) ** 2)
    good = np.isfinite(change) & (bins.count[:, 1:] >= 1.0) & (bins.count[:, :-1] >= 1.0)
    weight = np.where(good, 1.0 / np.where(good, spread, 1.0), 0.0)
    co2, change = np.where(good, co2, 0.0), np.where(good, change, 0.0)
    fixed = np.stack([-co2, -lamp * co2 / (co2 + KM_MG_L), np.ones_like(co2)], axis=-1) * BIN_H
    return _Rows(fixed, change, weight)


def _lamp_share(card: Card) -> Floats:
    begin = card.begin_h + (np.arange(BINS) + 0.5) * BIN_H
    share = np.zeros(BINS)
    for shift in (-24.0, 0.0, 24.0):
        on, off = card.lights_on_h + shift, card.lights_off_h + shift
        share += np.clip(np.minimum(begin + BIN_H, off) - np.maximum(begin, on), 0.0, BIN_H) / BIN_H
    return share


def _systems(rows: _Rows, gas: Floats, mean: Floats, sd: Floats) -> tuple[Floats, Floats, Floats]:
    """Normal equations (days, moments, 4, 4) and (days, moments, 4), and the sum of squares without fit.

    `gas` is (days, moments, BINS).
    """
    square = rows.weight**2
    column = gas * BIN_H
    weighted = square[:, None, :] * column
    matrix = np.zeros((*column.shape[:2], 4, 4))
    order = [EXCHANGE, UPTAKE, REST]
    plain = np.einsum("dr,dri,drj->dij", square, rows.fixed, rows.fixed, optimize=True)
    matrix[..., np.ix_(order, order)[0], np.ix_(order, order)[1]] = plain[:, None]
    cross = weighted @ rows.fixed
    matrix[..., GAIN, order] = cross
    matrix[..., order, GAIN] = cross
    matrix[..., GAIN, GAIN] = (weighted * column).sum(axis=-1)
    right = np.zeros((*column.shape[:2], 4))
    right[..., order] = np.einsum("dr,dri,dr->di", square, rows.fixed, rows.change, optimize=True)[:, None]
    right[..., GAIN] = (weighted * rows.change[:, None, :]).sum(axis=-1)
    diagonal = np.arange(4)
    matrix[..., diagonal, diagonal] += (sd**-2.0)[:, None]
    right += (mean / sd**2)[:, None]
    total = (square * rows.change**2).sum(axis=1) + (mean**2 / sd**2).sum(axis=1)
    return matrix, right, total


def _search(
    rows: _Rows, share: Callable[[Floats], Floats], moments: Floats, mean: Floats, sd: Floats
) -> Floats:
    """The moment [h] a day with the least sum of squares; `share` makes gas shares of moments (days,)."""
    days = rows.weight.shape[0]

    def left(tried: Floats) -> Floats:
        gas = np.stack([share(tried[:, i]) for i in range(tried.shape[1])], axis=1)
        return _misfit(rows, gas, mean, sd)

    coarse = np.broadcast_to(moments, (days, moments.size))
    best = moments[np.argmin(left(coarse), axis=1)]
    steps = round(COARSE_H / STEP_H) + 1
    near = best[:, None] + STEP_H * np.arange(-steps, steps + 1)
    near = np.clip(near, moments[0], moments[-1])
    misfit = left(near)
    place = np.argmin(misfit, axis=1)
    inner = np.clip(place, 1, near.shape[1] - 2)
    day = np.arange(days)
    a, b, c = misfit[day, inner - 1], misfit[day, inner], misfit[day, inner + 1]
    bend = a - 2.0 * b + c
    shift = np.where(bend > 0.0, 0.5 * (a - c) / np.where(bend > 0.0, bend, 1.0), 0.0)
    between = (
        (inner == place)
        & (near[day, inner - 1] < near[day, inner])
        & (near[day, inner] < near[day, inner + 1])
    )
    found: Floats = near[day, place] + np.where(between, STEP_H * np.clip(shift, -1.0, 1.0), 0.0)
    return found


def _misfit(rows: _Rows, gas: Floats, mean: Floats, sd: Floats) -> Floats:
    """Sum of squares (days, moments) that the best parameters leave with gas shares (days, moments, BINS)."""
    matrix, right, total = _systems(rows, gas, mean, sd)
    values = np.linalg.solve(matrix, right[..., None])[..., 0]
    left = total[:, None] - (right * values).sum(axis=-1)
    # plants that give CO2 off in the light would be gas in disguise
    real = (values[..., GAIN] > 0.0) & (values[..., UPTAKE] > -0.15 * values[..., GAIN])
    return np.where(real, left, total[:, None])


def _solved(rows: _Rows, gas: Floats, mean: Floats, sd: Floats) -> tuple[Floats, Floats, Floats]:
    """Parameters and their covariances, and residuals in units of expected scatter."""
    matrix, right, _ = _systems(rows, gas[:, None, :], mean, sd)
    covariance = np.linalg.inv(matrix[:, 0])
    values = (covariance @ right[:, 0, :, None])[..., 0]
    plain = values[:, None, [EXCHANGE, UPTAKE, REST]]
    model = (rows.fixed * plain).sum(axis=-1) + gas * BIN_H * values[:, [GAIN]]
    miss: Floats = rows.change - model
    return values, np.asarray(covariance, dtype=np.float64), miss


def _reweigh(rows: _Rows, gas: Floats, mean: Floats, sd: Floats) -> None:
    """Huber's weights, after the scatter that the days really have."""
    _, _, miss = _solved(rows, gas, mean, sd)
    size = np.abs(miss) * rows.weight
    scale = np.maximum(_scatter(size), 1.0)[:, None]
    rows.weight *= np.sqrt(np.minimum(1.0, _HUBER * scale / np.maximum(size, 1e-9)))


def _scatter(size: Floats) -> Floats:
    """Robust sd a day from absolute misses (days, rows); 0 marks a row that is not there."""
    there = size > 0.0
    ordered = np.sort(np.where(there, size, np.inf), axis=1)
    number = there.sum(axis=1)
    middle = ordered[np.arange(size.shape[0]), np.minimum(number // 2, size.shape[1] - 1)]
    return np.where(number > 0, 1.4826 * middle, np.nan)


def _outcome(rows: _Rows, start: Floats, stop: Floats, length: float, mean: Floats, sd: Floats) -> DayFits:
    values, covariance, miss = _solved(rows, _open_share(start, stop, length), mean, sd)
    size = np.abs(miss) * rows.weight
    number = (rows.weight > 0.0).sum(axis=1)
    scatter = _scatter(size)
    errors = np.sqrt(np.einsum("dii->di", covariance)) * np.maximum(scatter, 1.0)[:, None]
    bad = number < _FEWEST_ROWS
    lit = [np.where(bad, np.nan, one) for one in (start, stop, scatter)]
    hollow = bad[:, None]
    return DayFits(
        np.where(hollow, np.nan, values), np.where(hollow, np.nan, errors), lit[0], lit[1], lit[2],
        number.astype(np.float64),
    )  # fmt: skip


def columns_of(bins: Bins, card: Card) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """What the equation is made of, (days, BINS) each, with the gas on its timer, for another solver.

    Gas and lamp [-], CO2 [mg/L], change of the carbon excess [mg/L], its expected scatter [mg/L] or inf.
    """
    rows = _rows(bins, card)
    shape = rows.change.shape
    gas = np.broadcast_to(_open_share(0.0, 0.0, card.gas_off_h - card.gas_on_h), shape)
    scatter = np.where(rows.weight > 0.0, 1.0 / np.maximum(rows.weight, 1e-12), np.inf)
    return gas, np.broadcast_to(_lamp_share(card), shape), -rows.fixed[..., 0] / BIN_H, rows.change, scatter
