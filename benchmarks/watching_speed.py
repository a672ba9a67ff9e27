"""A year of gas days fitted at once, against scipy's curve_fit day by day on the same model and half hours.

    python -m benchmarks.watching_speed

Then a year's log brought into a store, read back and watched; then what pooling brings: the error of daily
figures of simulated tanks, each day alone and pooled.
"""

from time import process_time

import numpy as np
import numpy.typing as npt
from scipy.optimize import curve_fit

from benchmarks._stored_log import stored
from benchmarks._watch_worlds import draw_log
from benchmarks.watching import card_of
from dawnlevel.watch.days import BIN_H, Bins, Card, cut_days
from dawnlevel.watch.figures import daily_figures
from dawnlevel.watch.fit import EXCHANGE, GAIN, KM_MG_L, UPTAKE, columns_of, fit_days

Floats = npt.NDArray[np.float64]
YEAR = 365


def scipy_day(bins: Bins, card: Card, day: int) -> Floats:
    """The four figures of one day by curve_fit, the gas on its timer."""
    gas, lamp, co2, change, sd = (one[day] for one in columns_of(bins, card))
    good = np.isfinite(sd)

    def model(_: Floats, k: float, gain: float, uptake: float, rest: float) -> Floats:
        eaten = uptake * lamp[good] * co2[good] / (KM_MG_L + co2[good])
        return np.asarray(BIN_H * (gain * gas[good] - k * co2[good] - eaten + rest))

    values, _ = curve_fit(model, co2[good], change[good], p0=(0.1, 5.0, 1.0, 0.1), sigma=sd[good])
    return np.asarray(values)


def speed() -> None:
    """Seconds of processor for a year, both ways, and the largest difference."""
    log = draw_log("none", 7, 43)
    card = card_of(log)
    times = 9
    hours = np.concatenate([log.hours + 24.0 * 43 * i for i in range(times)])
    began = process_time()
    bins = cut_days(hours, np.tile(log.ph, times), np.tile(log.temp_c, times), card)
    pooled = daily_figures(bins, card)
    everything = process_time() - began
    days = [day for day in range(1, pooled.usable.size - 1) if pooled.usable[day]][:YEAR]
    began = process_time()
    ours = fit_days(bins, card, np.zeros(4), np.full(4, 1e4), timed=False).values
    quick = process_time() - began
    began = process_time()
    theirs = np.array([scipy_day(bins, card, day) for day in days])
    slow = (process_time() - began) * ours.shape[0] / len(days)
    apart = np.max(np.abs(ours[days] - theirs) / np.maximum(np.abs(theirs), 1e-2))
    size, ratio = ours.shape[0], slow / quick
    print(f"{size} days: all at once {quick:.3f} s, curve_fit {slow:.2f} s, ratio {ratio:.0f}")
    print(f"largest relative difference {apart:.1e}")
    print(
        f"cut, fitted with moments searched, fitted again pooled, {hours.size} readings: {everything:.2f} s"
    )


def pooling(tanks: int = 6) -> None:
    """Scatter of daily figures about their five-day median, each day alone and pooled."""
    ratios = []
    for seed in range(tanks):
        log = draw_log("none", 200 + seed, 28)
        card = card_of(log)
        bins = cut_days(log.hours, log.ph, log.temp_c, card)
        figures = daily_figures(bins, card)
        both = (fit_days(bins, card).values, figures.fits.values)
        ratios.append([_scatter(values[figures.usable]) for values in both])
    alone, pooled = np.median(np.array(ratios), axis=0)
    for name, i in (("exchange", EXCHANGE), ("gain", GAIN), ("uptake", UPTAKE)):
        less = 100.0 * (1.0 - pooled[i] / alone[i])
        print(f"{name}: scatter alone {alone[i]:.3f}, pooled {pooled[i]:.3f} of itself, {less:.0f} % less")


def _scatter(values: Floats) -> Floats:
    """Standard deviation from one day to the next, relative to the median, of each figure."""
    return np.asarray(np.std(np.diff(values, axis=0), axis=0) / np.sqrt(2.0) / np.median(values, axis=0))


if __name__ == "__main__":
    speed()
    stored()
    pooling()
