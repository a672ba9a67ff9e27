"""Use case: a change looked at closely, and a day: the course before against after, figures, what to do."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from dawnlevel.desk.phrases import date_text
from dawnlevel.desk.steadiness.watch import Watched
from dawnlevel.desk.steadiness.watch_band import band_limits
from dawnlevel.desk.steadiness.watch_pages import watched_days
from dawnlevel.desk.steadiness.watch_series import KINDS, Daily, daily_of, known_or_none
from dawnlevel.desk.steadiness.watch_views import (
    BandLimits,
    BeforeAfter,
    CourseView,
    DayPageView,
    FindingPageView,
    NextStep,
    OverlayView,
    SpanOfDay,
    ToldFinding,
)
from dawnlevel.desk.steadiness.watch_words import CAUTIONS, next_steps
from dawnlevel.tank import Record, Tank
from dawnlevel.watch.days import BIN_H, BINS
from dawnlevel.watch.findings import Finding

Rows = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

MOST_DAYS = 10
"""Days laid over one another before and after a change; more would hide the seasons (judgement)."""

_FEWEST = 3
"""With fewer days than this between two changes, days beyond the other change are shown too (judgement)."""

_OF_THE_METER = ("probe_step", "probe_drift", "baseline_shift")
"""Kinds whose CO2 cannot be trusted, since pH itself is shifted: shown as pH."""


@dataclass(frozen=True, slots=True)
class _Sides:
    """Rows of the log's days before and after a change."""

    before: Rows
    after: Rows


def finding_page_of(
    watched: Watched, tank: Tank, records: Sequence[Record], told: ToldFinding
) -> FindingPageView:
    """The page of the change `told`, which is one of the log's."""
    place = next(i for i, one in enumerate(watched.view.findings) if one == told.finding)
    found = watched.found[place]
    sides = _sides(watched, found)
    band = None if found.kind in _OF_THE_METER else band_limits(tank, records, watched.placed.card)
    daily = daily_of(watched)
    return FindingPageView(
        tank.name,
        told,
        _overlay(watched, sides, band, ("before", "after")),
        tuple(_before_after(daily, sides)),
        tuple(NextStep(text, page) for text, page in next_steps(found.kind)),
        CAUTIONS.get(found.kind, ""),
    )


def day_page_of(watched: Watched, tank: Tank, records: Sequence[Record], day: date) -> DayPageView | None:
    """The page of one gas day; None where the log has no readings of it."""
    daily = daily_of(watched)
    if day not in daily.days:
        return None
    place = daily.days.index(day)
    row = int(daily.rows[place])
    band = band_limits(tank, records, watched.placed.card)
    ordinary = daily.rows[daily.usual]
    earlier = ordinary[ordinary < row][-MOST_DAYS:]
    sides = _Sides(earlier if earlier.size else ordinary[ordinary != row][:MOST_DAYS], np.array([row]))
    days = watched_days(watched, band, ZoneInfo(tank.timezone))
    start = watched.figures.fits.start_h[row]
    seen = np.isfinite(start) and not watched.figures.missed[row]
    opened = watched.placed.card_of(row).gas_on_h + float(start) if seen else None
    return DayPageView(
        tank.name,
        days[place],
        _overlay(watched, sides, band, ("on usual days", "on this day")),
        tuple(_before_after(daily, sides)),
        "" if opened is None else _hour_text(opened),
        daily.days[place - 1] if place else None,
        daily.days[place + 1] if place + 1 < len(daily.days) else None,
    )


def _hour_text(hour: float) -> str:
    whole = timedelta(hours=hour % 24.0) + timedelta(seconds=30)
    minutes = int(whole.total_seconds() // 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _sides(watched: Watched, found: Finding) -> _Sides:
    """Days on both sides of a change, as far as the next change on either side."""
    figures = watched.figures
    others = [one.day for one in watched.found if one.day != found.day]
    begin = max((day for day in others if day < found.day), default=0)
    end = min((day for day in others if day > found.day), default=figures.usable.size)
    usable = np.flatnonzero(figures.usable)
    before = usable[(usable >= begin) & (usable < found.day)]
    if before.size < _FEWEST:
        before = usable[usable < found.day]
    marked = {
        "start_missed": figures.missed,
        "stuck_open": figures.open_night,
        "gas_empty": figures.fits.rows > 0.0,
    }
    rows = np.flatnonzero(marked.get(found.kind, figures.usable))
    after = rows[(rows >= found.day) & (rows < end)]
    if after.size < _FEWEST:
        after = rows[rows >= found.day]
    late = found.kind == "probe_drift"  # what creeps shows best at the end
    return _Sides(before[-MOST_DAYS:], after[-MOST_DAYS:] if late else after[:MOST_DAYS])


def _overlay(watched: Watched, sides: _Sides, band: BandLimits | None, names: tuple[str, str]) -> OverlayView:
    """The courses of both sides; CO2 where there is a band to hold it against, else pH.

    Where the timer was set anew in between, courses lie over one another by the hour of the gas; the clock is
    that of the days after.
    """
    placed, card = watched.placed, watched.placed.card_of(int(sides.after[0]))
    shown = (placed.bins.ph if band is None else placed.bins.co2_mg_l)[:, :BINS]
    digits, unit = (2, "") if band is None else (1, "mg/L")
    before = _course(watched, shown, sides.before, names[0], digits) if sides.before.size else None
    after = _course(watched, shown, sides.after, names[1], digits)
    begin = card.begin_h
    lights_on = begin + (card.lights_on_h - begin) % 24.0
    quantity = "pH" if band is None else "CO2"
    return OverlayView(
        quantity, unit,
        tuple(begin + (place + 0.5) * BIN_H for place in range(BINS)),
        before, after,
        SpanOfDay(card.gas_on_h, card.gas_off_h),
        SpanOfDay(lights_on, min(lights_on + card.lights_off_h - card.lights_on_h, begin + 24.0)),
        band,
        _overlay_words((quantity, unit, digits), names, before, after, int((lights_on - begin) / BIN_H)),
    )  # fmt: skip


def _course(watched: Watched, shown: Floats, rows: Rows, name: str, digits: int) -> CourseView:
    """Median and range of 9 days in 10 of some rows."""
    part = shown[rows]
    seen = np.isfinite(part).any(axis=0)
    ends = np.full((3, part.shape[1]), np.nan)
    ends[:, seen] = np.round(np.nanquantile(part[:, seen], (0.5, 0.05, 0.95), axis=0), digits + 1)
    first, last = watched.placed.day(int(rows[0])), watched.placed.day(int(rows[-1]))
    span = date_text(first) if first == last else f"{date_text(first)} to {date_text(last)}"
    count = "" if first == last else f", {rows.size} days"
    label = name.removeprefix("on ")
    return CourseView(
        f"{label[:1].upper()}{label[1:]}: {span}{count}", rows.size, *(known_or_none(one) for one in ends)
    )


def _overlay_words(
    shown: tuple[str, str, int],
    names: tuple[str, str],
    before: CourseView | None,
    after: CourseView,
    lit: int,
) -> str:
    """The picture in one sentence; `shown`: quantity, unit, decimals; `lit`: the half hour of lights-on."""
    quantity, unit, digits = shown
    extreme, end = ("highest", max) if quantity == "CO2" else ("lowest", min)

    def text(value: float | None) -> str:
        return "not known" if value is None else f"{value:.{digits}f}{f' {unit}' if unit else ''}"

    def furthest(course: CourseView) -> str:
        return text(end(one for one in course.median if one is not None))

    if before is None:
        return (
            f"{quantity} at lights-on {text(after.median[lit])}, {extreme} {furthest(after)}; there are no "
            "days before to hold it against."
        )
    return (
        f"{quantity} at lights-on: {text(before.median[lit])} {names[0]}, {text(after.median[lit])} "
        f"{names[1]}; {extreme}: {furthest(before)} and {furthest(after)}."
    )


def _before_after(daily: Daily, sides: _Sides) -> Iterator[BeforeAfter]:
    """Every daily figure on both sides."""
    for kind in KINDS:
        values = daily.values[kind.key]
        before, after = (values[np.isin(daily.rows, rows)] for rows in (sides.before, sides.after))
        name = f"{kind.title} ({kind.unit})" if kind.unit else kind.title
        yield BeforeAfter(name, _range_text(before, kind.digits), _range_text(after, kind.digits))


def _range_text(values: Floats, digits: int) -> str:
    """Middle and 9 days in 10; the value alone where there is one; empty where there is none."""
    known = values[np.isfinite(values)]
    if not known.size:
        return ""
    low, middle, high = (
        f"{round(float(one), digits) + 0.0:.{digits}f}"  # no nought below nought
        for one in np.quantile(known, (0.05, 0.5, 0.95))
    )
    return middle if known.size == 1 else f"{middle} ({low} to {high})"
