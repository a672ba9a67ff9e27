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
    """What the keeper knows; hours of the day [h], alkalinity [meq/L], usual temperature [degC].

    `is_judged`: gas is due by these hours; without, nothing is expected of the day. `revised`: cards that
    hold instead from a wall-clock day on [days since day 0 of the log's hours], in their order; their
    alkalinity and temperature do not count.
    """

    gas_on_h: float
    gas_off_h: float
    lights_on_h: float
    lights_off_h: float
    alkalinity_meq_l: float
    temp_c: float
    is_judged: bool = True
    revised: tuple[tuple[int, "Card"], ...] = ()

    def on(self, day: int) -> "Card":
        """The card that holds on a wall-clock day [days since day 0 of the log's hours]."""
        return next((card for since, card in reversed(self.revised) if since <= day), self)

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

    def part(self, begin: int, end: int) -> "Bins":
        """The gas days from row `begin` up to row `end`, the latter left out."""
        rows = slice(begin, end)
        return Bins(
            self.first_day + begin, self.ph[rows], self.count[rows], self.co2_mg_l[rows],
            self.excess_mg_l[rows], self.excess_per_ph[rows], self.noise_ph,
        )  # fmt: skip

    def cards(self, card: Card) -> list[Card]:
        """The card of each gas day."""
        return [card.on(self.first_day + row) for row in range(self.ph.shape[0])]


def cut_days(hours: Floats, ph: Floats, temp_c: Floats, card: Card) -> Bins:
    """Bins of a log: wall-clock hours since midnight of its day 0 [h], pH, temperature [degC] or NaN.

    Raises NotEnoughRecordsError for a log that holds no gas day.
    """
    first, begins = _begins(np.asarray(hours), card)
    minute, fits = _gas_minutes(np.asarray(hours), begins)
    days, ph, temp_c = begins.size, np.asarray(ph)[fits], np.asarray(temp_c)[fits]
    shown, count, noise = _means(minute, ph, days)
    if not np.isfinite(shown).any():
        raise NotEnoughRecordsError(
            "The log holds no half hour with readings.", where="log", cure="Log at least every 10 minutes."
        )
    warm, _, _ = _means(minute, np.where(np.isfinite(temp_c), temp_c, card.temp_c), days)
    coefficients = carbonate_coefficients(
        card.alkalinity_meq_l, np.clip(np.where(np.isfinite(warm), warm, card.temp_c), 5.0, 39.0)
    )
    carbon = _carbon(shown, card.alkalinity_meq_l, coefficients)
    follows = np.diff(begins) == 24.0
    shown, count, co2, excess, per_ph = (_wide(one, follows) for one in (shown, count, *carbon))
    return Bins(first, shown, count, co2, excess, per_ph, noise)


def _begins(hours: Floats, card: Card) -> tuple[int, Floats]:
    """The wall-clock day of the first gas day, and the hours at which gas days begin."""
    around = np.arange(int(hours[0] // 24.0) - 2, int(hours[-1] // 24.0) + 2)
    begins = np.array([24.0 * day + card.on(int(day)).begin_h for day in around])
    first, last = (int(np.searchsorted(begins, hours[end], side="right")) - 1 for end in (0, -1))
    return int(around[first]), begins[first : last + 1]


def _gas_minutes(hours: Floats, begins: Floats) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.bool_]]:
    """The minute of the log's gas days in which each reading falls; which readings fall in any.

    Where gas days begin later than before, some hours belong to none; a gas day is 24 h long.
    """
    row = np.maximum(np.searchsorted(begins, hours, side="right") - 1, 0)
    into = hours - begins[row]
    minute = 1440 * row + (into * _PER_MINUTE + 1e-6).astype(np.int64)
    fits = into < 24.0
    return np.clip(minute, 0, 1440 * begins.size - 1)[fits], fits


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


def _wide(flat: Floats, follows: npt.NDArray[np.bool_]) -> Floats:
    """Shape (days * BINS,) to (days, BINS + 1): each row closed by the first bin of the one that follows."""
    square = flat.reshape(-1, BINS)
    following = np.append(np.where(follows, square[1:, 0], np.nan), np.nan)
    return np.column_stack([square, following])
