"""Two surveys side by side: what changed, and how long water in a place stays."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from dawnlevel.desk.evenness.spread_views import ComparisonView, ExchangeView
from dawnlevel.desk.evenness.surveys import Surveyed
from dawnlevel.desk.evenness.unread import missed_place
from dawnlevel.desk.wording import percent
from dawnlevel.estimate.posterior import interval
from dawnlevel.survey.compare import change
from dawnlevel.survey.evenness import variation
from dawnlevel.survey.exchange import exchange_time

Array = npt.NDArray[np.float64]

SAME_DAY = timedelta(hours=12)
"""Two surveys within this time tell of exchange; later, the level has been up and down (own choice)."""

MOST_PLACES = 3
TOLD = 0.5
"""Share of the doubt that must be gone before an exchange time is stated as a figure; own choice."""

_EVERY_H = 1.0 / 12.0


def compared(before: Surveyed, after: Surveyed, zone: ZoneInfo) -> ComparisonView:
    """The later survey against the earlier one."""
    found = change(before.field, after.field)
    earlier = before.at.astimezone(zone)
    name = f"the survey of {earlier:%a} {earlier.day} {earlier:%b}, {earlier:%H:%M}"
    chance, missed = f"chance {percent(found.more_even)}", missed_place(before, after)
    said = {
        1: f"More even than in {name}, beyond meter noise ({chance}).",
        -1: f"Less even than in {name}, beyond meter noise (chance that it is more even: "
        f"{percent(found.more_even)}).",
        0: f"Whether it is more even than in {name} cannot be told ({chance}); "
        "more places, or the same places again, would tell.",
    }
    unlike = (
        f"Whether it is more even than in {name} cannot be told: the lowest place, {missed}, was read in one "
        "of the two only. Read it again near the day's peak."
    )
    return ComparisonView(
        at=earlier,
        before_percent=interval(100.0 * variation(before.field)),
        change_percent=interval(100.0 * found.variation),
        chance_more_even=found.more_even,
        missed=missed,
        verdict=unlike if missed else said[found.verdict],
    )


def exchanges(before: Surveyed, after: Surveyed, rng: np.random.Generator) -> list[ExchangeView]:
    """Exchange times of the lowest places that both surveys read; none where they are of different days."""
    length_h = (after.at - before.at) / timedelta(hours=1)
    if after.at - before.at > SAME_DAY:
        return []
    first, then = _ratios(before), _ratios(after)
    both = sorted((name for name in then if name in first), key=lambda name: then[name][0])
    grid_h = np.linspace(0.0, length_h, max(int(length_h / _EVERY_H), 2) + 1)
    moments = [before.at + timedelta(hours=float(hour)) for hour in grid_h]
    level = after.estimate.levels_at(moments).mean(axis=1)
    hours = np.array([0.0, length_h])
    return [
        _exchange(name, np.array([first[name], then[name]]), hours, level, grid_h, rng)
        for name in both[:MOST_PLACES]
    ]


def _ratios(found: Surveyed) -> dict[str, tuple[float, float]]:
    """CO2 at each place over the mean of the water, with its sd; the last reading of a place counts."""
    means = np.exp(found.field.logs).mean(axis=0)
    sds = np.sqrt(np.diag(found.brought.covariance) + np.var(np.log(means)))
    ratios = np.exp(found.brought.relative) / np.median(means)
    return {
        one.where: (float(ratio), float(ratio * sd))
        for one, ratio, sd in zip(found.readings, ratios, sds, strict=True)
    }


def _exchange(
    name: str, ratios: Array, hours: Array, level: Array, grid_h: Array, rng: np.random.Generator
) -> ExchangeView:
    found = exchange_time(ratios[:, 0], ratios[:, 1], hours, level, grid_h, rng)
    hours_h = interval(found.draws_h)
    if found.told >= TOLD:
        span = f"9 in 10: {span_text(hours_h.low_90)} to {span_text(hours_h.high_90)}"
        text = f"{name}: water stays about {span_text(hours_h.median)} before it is exchanged ({span})."
    else:
        text = f"{name}: the exchange time cannot be told yet; read it again while the level still rises."
    return ExchangeView(name, hours_h, found.told, text)


def span_text(hours: float) -> str:
    """A time in minutes below two hours, else in hours."""
    return f"{60.0 * hours:.0f} min" if hours < 2.0 else f"{hours:.0f} h"
