"""Daily figures of a log: the pooled fits, what state each gas day was in, and how the figures scatter."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.watch.days import BEFORE_H, BIN_H, BINS, Bins, Card
from dawnlevel.watch.fit import EXCHANGE, GAIN, REST, UPTAKE, DayFits, fit_days

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Bin = npt.NDArray[np.int64]

MISSED_SHARE = 0.3
"""A day that got less than this share of the usual gas counts as missed [-] (judgement)."""

OPEN_H = 2.5
"""Gas that flows on for longer than this after the timer's end counts as stuck open [h] (judgement)."""

GASSED_MG_L, GASSED_MG_L_H = 3.0, 0.3
"""With less CO2 [mg/L] and less gain [mg/L/h] no day had gas; air alone holds under 2 mg/L (judgement)."""

POOL_SD = np.array([0.35, 3.0, 0.8, 0.7])
"""How far a day may lie from the tank's usual exchange, gain, uptake, rest: sd relative to it (judgement)."""


@dataclass(frozen=True, slots=True)
class Figures:
    """One row a gas day.

    `fits`: pooled; `dose`: gas of the day over the usual [-]; `level_off_mg_l`: CO2 when gas should close;
    `missed`, `open_night`: states; `usable`: the
    day can be compared with others; `table` (days, 4): ln gain, ln exchange, uptake over usual gain, rest
    over usual gain; NaN where not usable. `jump_ph`: largest sudden step of the day [pH], `jump_bin` where;
    `jump_sd_ph` what noise makes.
    `usual`: exchange [1/h], gain, uptake, rest [mg/L/h] of the log's ordinary days.
    """

    fits: DayFits
    dose: Floats
    level_off_mg_l: Floats
    missed: Flags
    open_night: Flags
    usable: Flags
    table: Floats
    jump_ph: Floats
    jump_bin: npt.NDArray[np.int64]
    jump_sd_ph: float
    usual: Floats


def daily_figures(bins: Bins, card: Card) -> Figures:
    """Fit all days twice, the second time pooled, and put the days in order.

    Raises NotEnoughRecordsError where no gas day can be fitted.
    """
    alone = fit_days(bins, card)
    if not np.isfinite(alone.values).any():
        raise NotEnoughRecordsError(
            "No gas day of the log has readings in enough half hours.",
            where="log",
            cure="Log a whole day or more, with a reading at least every half hour.",
        )
    usual = _usual(alone)
    sd = np.maximum(POOL_SD * usual, [0.02, 1.0, 0.1 * usual[GAIN], 0.05])
    fits = fit_days(bins, card, usual, sd)
    cards = bins.cards(card)
    length = np.array([one.gas_off_h - one.gas_on_h for one in cards])
    judged = np.array([one.is_judged for one in cards])
    gain = fits.values[:, GAIN]
    dose = gain * np.clip(fits.stop_h - fits.start_h + length, 0.0, None) / (usual[GAIN] * length)
    reached = _reach_h(bins)
    missed, open_night, carried = _states(bins, length, fits, dose, usual, reached)
    missed, open_night = missed & judged, open_night & judged
    usable = (
        np.isfinite(gain) & ~missed & ~open_night & ~carried & (gain > 0.0) & (fits.values[:, EXCHANGE] > 0.0)
    ) & judged
    usable &= (reached > BEFORE_H + length + 2.0) & (fits.stop_h > -1.0)
    for alike in _alike(cards):
        usable[alike] &= _as_sure_as_usual(fits.errors[alike, :3])
    table = np.full((gain.size, 4), np.nan)
    kept = fits.values[usable]
    table[usable] = np.column_stack(
        [
            np.log(kept[:, GAIN]),
            np.log(kept[:, EXCHANGE]),
            kept[:, UPTAKE] / usual[GAIN],
            kept[:, REST] / usual[GAIN],
        ]
    )
    jump, where = _jumps(bins)
    off = _off_bin(length)
    level = _mean_level(bins, off - 3, off)
    noise = bins.noise_ph * np.sqrt(2.0 / max(float(np.median(bins.count[bins.count > 0])), 1.0))
    return Figures(fits, dose, level, missed, open_night, usable, table, jump, where, noise, usual)


def _alike(cards: list[Card]) -> list[Flags]:
    """Which days are of the same card, for each card: other hours tell more or less of the same figures."""
    kinds = list(dict.fromkeys(cards))
    return [np.array([one == kind for one in cards]) for kind in kinds]


def _as_sure_as_usual(errors: Floats) -> Flags:
    """Days whose figures are not twice as uncertain as those of most."""
    if not np.isfinite(errors).any():
        return np.zeros(errors.shape[0], dtype=bool)
    with np.errstate(invalid="ignore"):
        return np.asarray((errors < 2.0 * np.nanmedian(errors, axis=0)).all(axis=1))


def _states(
    bins: Bins, length: Floats, fits: DayFits, dose: Floats, usual: Floats, reached: Floats
) -> tuple[Flags, Flags, Flags]:
    """Which days had no gas, which nights had it, and which days began with last night's gas.

    `length`: how long the gas is due each day [h].
    """
    off = _off_bin(length)
    every = np.zeros_like(off)
    at_off, at_end = _mean_level(bins, off - 3, off), _mean_level(bins, every + BINS - 4, every + BINS)
    at_begin = _mean_level(bins, every, every + 4)
    gassed_days = at_off[(dose > 0.5) & np.isfinite(at_off)]
    high = float(np.median(gassed_days)) if gassed_days.size else np.nan
    with np.errstate(invalid="ignore"):
        kept = at_end / at_off
        gassed = bool(high > GASSED_MG_L) or bool(usual[GAIN] > GASSED_MG_L_H)
        full = (at_off > 0.5 * high) & gassed
        known = kept[full & np.isfinite(kept)]
        ordinary = float(np.quantile(known, 0.25)) if known.size else 0.3
        level = full & (kept > ordinary + 0.6 * (1.0 - ordinary))
        late = (fits.stop_h > OPEN_H) & (reached > BEFORE_H + length + OPEN_H)
        open_night = (late & (kept > ordinary + 0.15 * (1.0 - ordinary)) & full) | level
        gain, error = fits.values[:, GAIN], fits.errors[:, GAIN]
        quiet = (gain + error < MISSED_SHARE * usual[GAIN]) | (dose < 0.5 * MISSED_SHARE)
        seen = (bins.count[:, :-1] > 0.0) @ _around_the_start()
        missed = quiet & (seen > 0.7) & (reached > BEFORE_H + 2.0) & ~((at_begin > 0.5 * high) & gassed)
        missed |= (seen > 0.7) & (reached > BEFORE_H + length) & (not gassed)
    carried = np.zeros_like(open_night)
    carried[1:] = open_night[:-1] & ~open_night[1:]
    return missed & ~open_night & ~carried, open_night, carried


def _around_the_start() -> Floats:
    """Weights of the bins from the gas day's begin to two hours after the gas should open."""
    upto = int((BEFORE_H + 2.0) / BIN_H)
    return np.where(np.arange(BINS) < upto, 1.0 / upto, 0.0)


def _off_bin(length: Floats) -> Bin:
    """The bin in which gas that is due for so long [h] should close."""
    return ((BEFORE_H + length) / BIN_H).astype(np.int64)


def _mean_level(bins: Bins, first: Bin, last: Bin) -> Floats:
    """Mean CO2 a day [mg/L] over each day's bins `first` to `last`; NaN where none has readings."""
    part = bins.co2_mg_l
    place = np.arange(part.shape[1])
    seen = np.isfinite(part) & (place >= first[:, None]) & (place < last[:, None])
    number = seen.sum(axis=1)
    return np.where(number > 0, np.where(seen, part, 0.0).sum(axis=1) / np.maximum(number, 1), np.nan)


def _usual(fits: DayFits) -> Floats:
    """Medians of the ordinary days, the first half of the log weighing as much as the second."""
    gain = fits.values[:, GAIN]
    with np.errstate(invalid="ignore"):
        ordinary = gain > 0.5 * np.nanquantile(gain, 0.85)
    chosen = fits.values[ordinary] if ordinary.any() else fits.values[np.isfinite(gain)]
    if not chosen.size:
        return np.array([0.2, 5.0, 0.5, 0.3])
    return np.maximum(np.median(chosen, axis=0), [0.01, 0.1, 0.02, 0.02])


def _reach_h(bins: Bins) -> Floats:
    """How far into each gas day readings go [h]."""
    seen = bins.count[:, :-1] > 0
    last = seen.shape[1] - 1 - np.argmax(seen[:, ::-1], axis=1)
    return np.where(seen.any(axis=1), (last + 1) * BIN_H, 0.0)


def _jumps(bins: Bins) -> tuple[Floats, npt.NDArray[np.int64]]:
    """Largest sudden step a day [pH], beyond what the hour usually brings, and its bin."""
    step = bins.ph[:, 2:] - bins.ph[:, :-2]  # over two bins: a step inside one bin shows in full
    seen = np.isfinite(step)
    usual = np.array(
        [np.median(step[seen[:, i], i]) if seen[:, i].any() else 0.0 for i in range(step.shape[1])]
    )
    rest = np.where(seen, step - usual, 0.0)
    place = np.argmax(np.abs(rest), axis=1)
    return rest[np.arange(rest.shape[0]), place], place + 1
