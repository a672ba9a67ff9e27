"""Daily figures against the truth of simulated tanks: each day alone, and pooled.

    python -m benchmarks.watching_pooling --tanks 24

Clean logs of 3, 5, 10 and 28 days, a reading a minute and one every ten. The truth of a day is what the
tank did: exchange and gain as they wandered, uptake brought to the half-saturation that the fit assumes. A
tank has two zones and the fit one, so figures are off by a factor that is the same every day; the error from
day to day leaves that factor out. Intervals are of 2000 bootstraps over tanks.
"""

import argparse
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from benchmarks._watch_worlds import World, draw_world, log_of
from benchmarks.watching import card_of
from dawnlevel.practice.dynamics import gas_mg_l_h, temp_c
from dawnlevel.watch.days import Bins, Card, cut_days
from dawnlevel.watch.figures import daily_figures
from dawnlevel.watch.fit import EXCHANGE, GAIN, KM_MG_L, UPTAKE, fit_days

Floats = npt.NDArray[np.float64]

LENGTHS_D = (3, 5, 10, 28)
EVERY_MIN = (1, 10)
FIGURES = (("exchange", EXCHANGE), ("gain", GAIN), ("uptake", UPTAKE))
_BOOTSTRAPS = 2000


@dataclass(frozen=True, slots=True)
class Errors:
    """Root mean squared relative errors of one log, shape (3,) each: all of it, and from day to day."""

    whole: Floats
    daily: Floats


def truth_of(world: World, card: Card, first_day: int, days: int) -> Floats:
    """Exchange [1/h], gain and uptake [mg/L/h] of each gas day, shape (days, 3)."""
    found = np.empty((days, 3))
    for row in range(days):
        hours = 24.0 * (first_day + row) + card.begin_h + np.arange(0.25, 24.0, 0.5)
        found[row] = _day_truth(world, card, hours)
    return found


def _day_truth(world: World, card: Card, hours: Floats) -> tuple[float, float, float]:
    air, life = world.tank.air, world.tank.life
    kla = [
        air.kla_per_h * air.surface.at(h) * np.exp(air.kla_per_k * (temp_c(world.tank, h) - air.mean_c))
        for h in hours
    ]
    co2 = [
        world.tank.water.level_at_ph(float(np.interp(h, world.hours, world.ph)), temp_c(world.tank, h))
        for h in hours
    ]
    clock = hours % 24.0
    gassed = np.flatnonzero((clock >= card.gas_on_h) & (clock < card.gas_off_h))
    lit = np.flatnonzero((clock >= card.lights_on_h) & (clock < card.lights_off_h))
    gains = [gas_mg_l_h(world.tank, world.course.flow(float(hours[i])), co2[i]) for i in gassed]
    growth = 1.0 + world.course.growth_per_day * float(hours[0]) / 24.0
    eaten = [
        world.course.base_uptake * growth * life.vigour.at(float(hours[i]))
        * (co2[i] + KM_MG_L) / (co2[i] + life.half_saturation_mg_l)
        for i in lit
    ]  # fmt: skip
    return float(np.mean(kla)), float(np.mean(gains)), float(np.mean(eaten))


def errors_of(values: Floats, truth: Floats) -> Errors:
    """Relative errors of figures (days, 4) against truth (days, 3)."""
    with np.errstate(invalid="ignore"):
        ratio = np.log(np.maximum(values[:, [EXCHANGE, GAIN, UPTAKE]], 1e-3 * truth) / truth)
    clipped = np.clip(ratio, -1.5, 1.5)
    return Errors(
        np.sqrt(np.mean(clipped**2, axis=0)),
        np.sqrt(np.mean((clipped - np.median(clipped, axis=0)) ** 2, axis=0)),
    )


def both(bins: Bins, card: Card, truth: Floats) -> tuple[Errors, Errors] | None:
    """Errors of each day alone and pooled, over the days that can be compared; None where there are none."""
    figures = daily_figures(bins, card)
    usable = np.flatnonzero(figures.usable)
    if usable.size < 2:
        return None
    alone = fit_days(bins, card).values[usable]
    return errors_of(alone, truth[usable]), errors_of(figures.fits.values[usable], truth[usable])


def one_tank(seed: int) -> dict[tuple[int, int], tuple[Errors, Errors]]:
    """Errors by length of the log and minutes between readings."""
    longest = max(LENGTHS_D) + 2
    world = draw_world("none", seed, longest)
    log = log_of(world, longest)
    card = card_of(log)
    found = {}
    for days in LENGTHS_D:
        for every in EVERY_MIN:
            kept = (log.hours < 24.0 * (days + 1)) & (np.round(60.0 * log.hours) % every < 0.5)
            bins = cut_days(log.hours[kept], log.ph[kept], log.temp_c[kept], card)
            errors = both(bins, card, truth_of(world, card, bins.first_day, bins.ph.shape[0]))
            if errors is not None:
                found[days, every] = errors
    return found


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tanks", type=int, default=24)
    parser.add_argument("--first", type=int, default=3000, help="first seed")
    chosen = parser.parse_args()
    tanks = [one_tank(chosen.first + i) for i in range(chosen.tanks)]
    print("| readings | days | figure | from day to day, alone | pooled | less | whole error: less |")
    print("|---|---|---|---|---|---|---|")
    for every in EVERY_MIN:
        for days in LENGTHS_D:
            pairs = [one[days, every] for one in tanks if (days, every) in one]
            for column, (name, _) in enumerate(FIGURES):
                print(_row(pairs, every, days, name, column))


def _row(pairs: list[tuple[Errors, Errors]], every: int, days: int, name: str, column: int) -> str:
    daily = np.array([[one.daily[column] for one in pair] for pair in pairs])
    whole = np.array([[one.whole[column] for one in pair] for pair in pairs])
    alone, pooled = 100.0 * np.median(daily, axis=0)
    return (
        f"| every {every} min | {days} | {name} | {alone:.1f} % | {pooled:.1f} % | {_less(daily)} "
        f"| {_less(whole)} |"
    )


def _less(errors: Floats) -> str:
    """How much less the pooled error is, over all tanks (rms), with a 95 % interval over tanks."""
    rng = np.random.default_rng(1)
    drawn = rng.integers(0, len(errors), (_BOOTSTRAPS, len(errors)))

    def less(chosen: Floats) -> Floats:
        rms = np.sqrt(np.mean(chosen**2, axis=-2))
        return np.asarray(100.0 * (1.0 - rms[..., 1] / rms[..., 0]))

    low, high = np.quantile(less(errors[drawn]), (0.025, 0.975))
    return f"{float(less(errors)):.0f} % ({low:.0f} to {high:.0f})"


if __name__ == "__main__":
    main()
