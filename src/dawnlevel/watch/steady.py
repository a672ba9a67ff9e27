"""Is a figure steady? One keeper's figure, daily, weekly or as it comes: its chart, its alarms, since when.

A figure is judged against all that came before it since the last change (`standard.self_starting`), averaged
over irregular times with limits that hold false alarms to a stated rate in time (`limits.watch_average`).
After an alarm the change point (`changepoint.single_change`) says since when, and the chart starts anew
there: what is usual after a change is not what was usual before it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from dawnlevel.watch.changepoint import Change, single_change
from dawnlevel.watch.limits import Watched, watch_average
from dawnlevel.watch.standard import LEAST_BEFORE, self_starting

Floats = npt.NDArray[np.float64]

FEWEST = LEAST_BEFORE + 1
"""Figures since the last change with which a chart begins to judge [-]."""

LOOKED_BACK_D, LEAST_LOOKED_AT = 45.0, 8
"""A change is looked for among the figures of so many days, and at least so many of them (judgement)."""

WARNING = 2.0 / 3.0
"""Share of the limit from which a chart warns; common practice for warning limits at 2 sd of 3."""


@dataclass(frozen=True, slots=True)
class Series:
    """One figure of a tank.

    Attributes:
        name: machine name.
        days: times, rising, shape (n,) [d].
        values: shape (n,), in the figure's own unit.
        errors: what one figure is off by at least, sd, shape (n,), same unit.
        wander: what the figure may wander by in a day while nothing changes, sd, same unit.
    """

    name: str
    days: Floats
    values: Floats
    errors: Floats
    wander: float = 0.0


@dataclass(frozen=True, slots=True)
class Shift:
    """One alarm, told by places in the series.

    `begin` and `end` (not included) of the stretch it was judged in, `since` the first figure after the
    change and `alarm` the one at which it was told. `change` says how sure and how large, places counted from
    `begin`; `is_lasting` is False where the next figure was back at the old level.
    """

    begin: int
    since: int
    alarm: int
    end: int
    change: Change
    is_lasting: bool


@dataclass(frozen=True, slots=True)
class Charted:
    """A chart up to its latest figure: alarms in order, the place since which it judges, average and limit.

    `average` and `limit` in standard deviations, NaN while there are too few figures.
    """

    series: Series
    shifts: tuple[Shift, ...]
    begin: int
    average: float
    limit: float

    @property
    def count(self) -> int:
        """Figures since the last change."""
        return int(self.series.values.size) - self.begin

    @property
    def is_warning(self) -> bool:
        """Whether the average is near its limit."""
        return bool(abs(self.average) > WARNING * self.limit)


def chart(series: Series, between_alarms_d: float, breaks_d: Sequence[float] = ()) -> Charted:
    """Judge a series with so many days between false alarms [d].

    `breaks_d` are times [d] at which the keeper changed what the figure depends on: there it starts anew.
    """
    size = int(series.values.size)
    cuts = {0, *np.searchsorted(series.days, np.asarray(breaks_d, dtype=np.float64)).tolist()}
    begins = sorted(cut for cut in cuts if cut < max(size, 1))
    values, shifts, begin = series.values.copy(), list[Shift](), 0
    for first, end in zip(begins, [*begins[1:], size], strict=True):
        begin = first
        while True:
            found = _first_shift(replace(series, values=values), begin, end, between_alarms_d)
            if found is None:
                break
            shifts.append(found)
            if found.is_lasting:
                begin = max(found.since, begin + 1)
            else:
                values[found.alarm] = np.nan
    left = replace(series, values=values)
    watched = _watch(left, begin, size, between_alarms_d)
    judged = np.flatnonzero(np.isfinite(watched.limits))
    average, limit = (
        (float(watched.path[judged[-1]]), float(watched.limits[judged[-1]]))
        if judged.size
        else (float("nan"), float("nan"))
    )
    return Charted(left, tuple(_dated(left, shifts, size)), begin, average, limit)


def _watch(series: Series, begin: int, end: int, between_alarms_d: float) -> Watched:
    """The average over the figures from `begin` up to `end`."""
    part = slice(begin, end)
    days = series.days[part]
    standard = self_starting(
        series.values[part], series.errors[part], least=1.0, days=days, wander=series.wander
    )
    return watch_average(standard, days, between_alarms_d)


def _first_shift(series: Series, begin: int, end: int, between_alarms_d: float) -> Shift | None:
    """The first alarm among the figures from `begin` up to `end`; None where there is none."""
    alarms = np.flatnonzero(_watch(series, begin, end, between_alarms_d).alarms)
    if not alarms.size:
        return None
    at = begin + int(alarms[0])
    begin = _late_enough(series, begin, at)
    change = _change(series, begin, at + 1)
    since = begin + change.index
    return Shift(begin, since, at, end, change, not (since == at and _is_back(series, begin, at, end)))


def _late_enough(series: Series, begin: int, at: int) -> int:
    """The first figure that a change told at `at` is looked for from: not long before, for levels wander."""
    recent = int(np.searchsorted(series.days, series.days[at] - LOOKED_BACK_D))
    known = np.flatnonzero(np.isfinite(series.values[begin : at + 1]))
    return max(begin, min(recent, begin + int(known[max(known.size - LEAST_LOOKED_AT, 0)])))


def _change(series: Series, begin: int, end: int) -> Change:
    part = slice(begin, end)
    return single_change(series.values[part], days=series.days[part])


def _is_back(series: Series, begin: int, at: int, end: int) -> bool:
    """Whether the next known figure after the one at `at` is nearer to the level before it."""
    values = series.values
    later = values[at + 1 : end][np.isfinite(values[at + 1 : end])]
    if not later.size:
        return False
    return bool(abs(later[0] - np.nanmean(values[begin:at])) < abs(later[0] - values[at]))


def _dated(series: Series, shifts: list[Shift], size: int) -> list[Shift]:
    """The lasting shifts dated with all figures up to the next change, not only those up to the alarm."""
    dated = []
    for number, one in enumerate(shifts):
        later = [other.since for other in shifts[number + 1 :] if other.is_lasting]
        end = min(later[0] if later else size, one.end)
        if not one.is_lasting or end <= one.alarm:
            dated.append(one)
            continue
        change = _change(series, one.begin, end)
        since = one.begin + change.index
        is_earlier = since <= one.alarm  # what came after the alarm is another change
        dated.append(replace(one, since=since, end=end, change=change) if is_earlier else one)
    return dated
