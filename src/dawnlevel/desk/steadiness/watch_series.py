"""Daily figures of a log: one row a gas day, what was usual before anything changed, what stood out."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from dawnlevel.desk.phrases import span_text
from dawnlevel.desk.steadiness.watch import Watched
from dawnlevel.desk.steadiness.watch_views import SeriesView
from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.watch.days import BEFORE_H, BIN_H
from dawnlevel.watch.findings import FEWEST_DAYS
from dawnlevel.watch.fit import EXCHANGE, GAIN, UPTAKE

Floats = npt.NDArray[np.float64]
Rows = npt.NDArray[np.int64]

LATE_H = 0.5
"""Gas that opens this much off its usual hour is told of [h] (judgement)."""

ODD_SHARE, ODD_SD = 0.1, 3.0
"""A figure is odd when it lies this share and this many sd from the usual [-] (judgement)."""

_REMEMBERED = 14
"""Usual days before a day that it is held against (judgement): plants grow, so older ones say less."""


@dataclass(frozen=True, slots=True)
class Kind:
    """A daily figure: machine name, what it is in a keeper's words, unit, decimals worth showing."""

    key: str
    title: str
    unit: str
    digits: int


KINDS = (
    Kind("lights_on", "CO2 at lights-on", "mg/L", 1),
    Kind("gain", "Gas that dissolves", "mg/L an hour", 1),
    Kind("exchange", "CO2 lost to the air", "share an hour", 2),
    Kind("uptake", "Taken up by plants", "mg/L an hour", 1),
    Kind("night", "pH before the gas opens", "", 2),
    Kind("start", "Gas opens after its time", "h", 1),
    Kind("scatter", "How rough the course is", "times noise", 1),
)


@dataclass(frozen=True, slots=True)
class Daily:
    """Rows of the log that have readings, their days, and each figure of `KINDS` over them; NaN: not known.

    `usual`: places among the rows of comparable days before the first change.
    """

    rows: Rows
    days: tuple[date, ...]
    values: Mapping[str, Floats]
    errors: Mapping[str, Floats]
    usual: Rows


def begin_of(watched: Watched) -> date:
    """The day of the log's first reading: a gas day that began before it is no whole one."""
    probe = watched.placed.probe
    return (probe.day_0 + timedelta(hours=float(probe.hours[0]))).date()


def daily_of(watched: Watched) -> Daily:
    """The figures of a log's days in their order. NotEnoughRecordsError where there is none."""
    fits, bins = watched.figures.fits, watched.placed.bins
    begun = begin_of(watched)
    rows = np.array([row for row in np.flatnonzero(fits.rows > 0.0) if watched.placed.day(int(row)) >= begun])
    if not rows.size:
        raise NotEnoughRecordsError(
            "The log holds no gas day yet.", where="log", cure="Log a whole day, gas and night, first."
        )
    lit = np.array([watched.placed.lit(int(row)) for row in rows])
    night = max(int(BEFORE_H / BIN_H) - 2, 0)
    values, errors = fits.values[rows], fits.errors[rows]
    return Daily(
        rows,
        tuple(watched.placed.day(int(row)) for row in rows),
        {
            "lights_on": bins.co2_mg_l[rows, lit],
            "gain": values[:, GAIN],
            "exchange": values[:, EXCHANGE],
            "uptake": values[:, UPTAKE],
            "night": bins.ph[rows, night],
            "start": fits.start_h[rows],
            "scatter": fits.scatter[rows],
        },
        {"gain": errors[:, GAIN], "exchange": errors[:, EXCHANGE], "uptake": errors[:, UPTAKE]},
        _usual(watched, rows),
    )


def _usual(watched: Watched, rows: Rows) -> Rows:
    """Places of comparable days before the first change; of all comparable days where those are few."""
    comparable = np.flatnonzero(watched.figures.usable[rows])
    first = min((one.day for one in watched.found), default=int(rows[-1]) + 1)
    before = comparable[rows[comparable] < first]
    return before if before.size >= FEWEST_DAYS else comparable


def series_of(daily: Daily) -> tuple[SeriesView, ...]:
    """Every daily figure with its usual range."""
    return tuple(_series(kind, daily) for kind in KINDS)


def _series(kind: Kind, daily: Daily) -> SeriesView:
    values = daily.values[kind.key]
    ordinary = values[daily.usual]
    ordinary = ordinary[np.isfinite(ordinary)]
    low, high = (float(one) for one in np.quantile(ordinary, (0.05, 0.95))) if ordinary.size else (None, None)
    known = values[np.isfinite(values)]
    unit = f" {kind.unit}" if kind.unit else ""
    said = f"{kind.title}: no day of this log tells it."
    if known.size:
        usually = f", usually {low:.{kind.digits}f} to {high:.{kind.digits}f}" if ordinary.size else ""
        said = f"{kind.title}: last {known[-1]:.{kind.digits}f}{unit}{usually}."
    return SeriesView(
        kind.key, kind.title, kind.unit, kind.digits,
        known_or_none(values), known_or_none(daily.errors[kind.key]) if kind.key in daily.errors else (),
        low, high, said,
    )  # fmt: skip


def known_or_none(values: Floats) -> tuple[float | None, ...]:
    """Values with None where there is none."""
    return tuple(None if not np.isfinite(one) else float(one) for one in values)


def oddities_of(watched: Watched, daily: Daily) -> list[tuple[str, ...]]:
    """What was not as usual on each day, in words."""
    figures = watched.figures
    gas = _off(figures.dose[daily.rows], daily.usual)
    level = _off(daily.values["lights_on"], daily.usual)
    start = daily.values["start"] - _middle(daily.values["start"][daily.usual])
    told: list[tuple[str, ...]] = []
    for place, row in enumerate(daily.rows.tolist()):
        if figures.missed[row]:
            told.append(("no gas",))
        elif figures.open_night[row]:
            told.append(("gas all night",))
        elif row and figures.open_night[row - 1]:
            told.append(("began with last night's gas",))
        elif figures.usable[row]:
            said = (_late(float(start[place])), _gas(float(gas[place])), _level(float(level[place])))
            told.append(tuple(filter(None, said)))
        else:
            told.append(())
    return told


def _middle(values: Floats) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if known.size else 0.0


def _off(values: Floats, usual: Rows) -> Floats:
    """How far each value lies from the usual days before it, as a share; 0 where that is mere scatter.

    The first days are held against the first usual ones.
    """
    off = np.zeros_like(values)
    usual = usual[np.isfinite(values[usual])]
    if usual.size < FEWEST_DAYS:
        return off
    for place in np.flatnonzero(np.isfinite(values)):
        earlier = usual[usual < place][-_REMEMBERED:]
        near = values[earlier if earlier.size >= FEWEST_DAYS else usual[:_REMEMBERED]]
        middle = float(np.median(near))
        sd = 1.4826 * float(np.median(np.abs(near - middle))) / middle
        share = values[place] / middle - 1.0
        off[place] = share if abs(share) > max(ODD_SHARE, ODD_SD * sd) else 0.0
    return off


def _late(hours: float) -> str:
    if not abs(hours) > LATE_H:
        return ""
    return f"gas opened {span_text(timedelta(hours=abs(hours)))} {'late' if hours > 0.0 else 'early'}"


def _gas(off: float) -> str:
    return f"{100.0 * abs(off):.0f} % {'more' if off > 0.0 else 'less'} gas than usual" if off else ""


def _level(off: float) -> str:
    more = "above" if off > 0.0 else "below"
    return f"level at lights-on {100.0 * abs(off):.0f} % {more} the usual" if off else ""
