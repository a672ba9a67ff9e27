"""A log cut into gas days: half-hour means of pH and temperature, spikes dropped, chemistry done.

A gas day begins three hours before the gas should open and lasts 24 h, so that the rise, the hold and the
night that follows lie in one piece. Arrays in, arrays out; nothing here knows a file or a clock.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.chemistry import CarbonateCoefficients, carbonate_coefficients, co2_from_ph_fast
from dawnlevel.errors import NotEnoughRecordsError

Floats = npt.NDArray[np.float64]

BINS = 48
"""Bins a gas day [-]; half an hour holds 30 readings of a minute log and follows any rise."""

BIN_H = 24.0 / BINS
BEFORE_H = 3.0
"""A gas day begins this long before the gas should open [h]."""

_PER_MINUTE = 60
_CO2_G_MOL = 44.0095  # standard atomic weights
WIDEST_SPIKE_PH = 0.12
"""Further from its half hour's median than this [pH], a reading is a spike (judgement)."""


@dataclass(frozen=True, slots=True)
class Card:
    """What the keeper knows; hours of the day [h], alkalinity [meq/L], usual temperature [degC]."""

    gas_on_h: float
    gas_off_h: float
    lights_on_h: float
    lights_off_h: float
    alkalinity_meq_l: float
    temp_c: float

    @property
    def begin_h(self) -> float:
        """Hour of the day at which a gas day begins [h]."""
        return self.gas_on_h - BEFORE_H


@dataclass(frozen=True, slots=True)
class Bins:
    """Half-hour means, shape (days, BINS + 1); the last bin is the first of the next day.

    `first_day` is the wall-clock day of row 0 since day 0 of the log's hours; `ph` and `temp_c` NaN where
    too few readings fell; `count` readings a bin; `co2_mg_l`; `excess_mg_l` carbon less alkalinity as CO2,
    which gas, plants and air change; `excess_per_ph` its size against pH [mg/L].
    """

    first_day: int
    ph: Floats
    count: Floats
    co2_mg_l: Floats
    excess_mg_l: Floats
    excess_per_ph: Floats
    noise_ph: float


def cut_days(hours: Floats, ph: Floats, temp_c: Floats, card: Card) -> Bins:
    """Bins of a log: wall-clock hours since midnight of its day 0 [h], pH, temperature [degC] or NaN.

    Raises NotEnoughRecordsError for a log that holds no gas day.
    """
    place = np.asarray(hours) - card.begin_h
    first, last = int(np.floor(place[0] / 24.0)), int(np.floor(place[-1] / 24.0))
    days = last - first + 1
    minute = np.clip(((place - 24.0 * first) * _PER_MINUTE + 1e-6).astype(np.int64), 0, days * 1440 - 1)
    shown, count, noise = _means(minute, ph, days)
    if not np.isfinite(shown).any():
        raise NotEnoughRecordsError(
            "The log holds no half hour with readings.", where="log", cure="Log at least every 10 minutes."
        )
    warm, _, _ = _means(minute, np.where(np.isfinite(temp_c), temp_c, card.temp_c), days)
    coefficients = carbonate_coefficients(
        card.alkalinity_meq_l, np.clip(np.where(np.isfinite(warm), warm, card.temp_c), 5.0, 39.0)
    )
    co2, excess, per_ph = _carbon(shown, card.alkalinity_meq_l, coefficients)
    return Bins(first, _wide(shown), _wide(count), _wide(co2), _wide(excess), _wide(per_ph), noise)


def _means(minute: npt.NDArray[np.int64], values: Floats, days: int) -> tuple[Floats, Floats, float]:
    """Means of the readings near each bin's median, their number, and the scatter inside bins (robust sd)."""
    grid = np.full(days * 1440, np.nan)
    grid[minute] = values
    rows = np.sort(grid.reshape(days * BINS, -1), axis=1)  # NaN goes last
    count = np.isfinite(rows).sum(axis=1)
    middle = rows[np.arange(rows.shape[0]), np.maximum(count // 2, 0) - (count > 0) * 0]
    middle = np.where(count > 0, middle, np.nan)
    gap = np.abs(rows - middle[:, None])
    kept = gap <= WIDEST_SPIKE_PH if values.size else gap < 0.0
    number = kept.sum(axis=1).astype(np.float64)
    total = np.where(kept, rows, 0.0).sum(axis=1)
    mean = np.where(number > 0, total / np.maximum(number, 1.0), np.nan)
    steps = np.abs(np.diff(grid))
    steps = steps[np.isfinite(steps)]
    noise = 1.05 * float(np.sqrt(np.mean(np.minimum(steps, 0.1) ** 2) / 2.0)) if steps.size else 0.01
    return mean, number, max(noise, 0.003)


def _carbon(ph: Floats, alkalinity_meq_l: float, k: CarbonateCoefficients) -> tuple[Floats, Floats, Floats]:
    """CO2, carbon less alkalinity as CO2, and the latter's change a pH unit, all mg/L."""
    alkalinity = np.full_like(ph, alkalinity_meq_l)

    def both(at: Floats) -> tuple[Floats, Floats]:
        co2 = np.maximum(co2_from_ph_fast(at, alkalinity, k), 1e-3)
        activity = 10.0**-at
        carbon = co2 * (1.0 + k.k1 / activity * (1.0 + k.k2 / activity))
        return co2, carbon - alkalinity_meq_l * _CO2_G_MOL

    co2, excess = both(ph)
    _, above = both(ph + 0.01)
    return co2, excess, np.abs(above - excess) / 0.01


def _wide(flat: Floats) -> Floats:
    """Shape (days * BINS,) to (days, BINS + 1), each row closed by the next one's first bin."""
    square = flat.reshape(-1, BINS)
    following = np.append(square[1:, 0], np.nan)
    return np.column_stack([square, following])
