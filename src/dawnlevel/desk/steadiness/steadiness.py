"""Use case: is it steady, by a keeper's own readings - daily, weekly or as they come; no probe needed."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from dawnlevel.desk.steadiness.steadiness_figures import Gathered, gather
from dawnlevel.desk.steadiness.steadiness_views import (
    ChartPointView,
    ChartView,
    KindView,
    PossibleCauseView,
    ShiftView,
    SteadinessView,
)
from dawnlevel.desk.steadiness.steadiness_words import (
    DENIED,
    LABELS,
    NEEDS,
    UNITS,
    answer_text,
    check_text,
    shift_text,
    shown,
)
from dawnlevel.desk.steadiness.watch import UNITS as SIZE_UNITS
from dawnlevel.desk.steadiness.watch_words import SAID
from dawnlevel.store import Store
from dawnlevel.tank import Record, Tank
from dawnlevel.watch.causes import CLOCK, SUDDEN, WATER, judged_by
from dawnlevel.watch.limits import days_between_alarms
from dawnlevel.watch.parting import KH, LEVEL, Kind, kinds_of, moved
from dawnlevel.watch.steady import FEWEST, Charted, Shift, chart

Floats = npt.NDArray[np.float64]

FALSE_ALARMS_A_YEAR = 1.0
"""A keeper told more often that something changed when nothing did stops listening (judgement)."""

_TOLD = 0.05  # kinds less likely than this are left out
_SIGNS = {
    SUDDEN: "the figure moved from one reading to the next",
    WATER: "a water change is recorded in that time",
    CLOCK: "the clocks were changed in that time",
    "slow": "the figure crept over several readings",
}


def steadiness_view(store: Store, name: str, now: datetime) -> SteadinessView:
    """Steadiness of tank `name` at `now` (aware) by its own records. Raises NoSuchTankError."""
    now = now.astimezone(UTC)
    records = [stored.record for stored in store.records(name, until=now)]
    return steadiness_of(store.tank(name), records, now)


def steadiness_of(
    tank: Tank, records: Sequence[Record], now: datetime, kla_per_h: float | None = None
) -> SteadinessView:
    """The same from records (sorted by time) up to `now` (UTC); exchange [1/h] where it is known."""
    figures = gather(tank, records, now, kla_per_h)
    named = [one for one in figures.series.values() if one.values.size]
    judged = [one for one in named if one.values.size >= FEWEST]
    between = days_between_alarms(max(len(judged), 1), FALSE_ALARMS_A_YEAR)
    charts = [chart(one, between, figures.breaks.get(one.name, ())) for one in named]
    zone = ZoneInfo(tank.timezone)
    shifts = sorted(
        (_shift(one, told, figures, zone) for one in charts for told in one.shifts),
        key=lambda view: view.since,
        reverse=True,
    )
    views = tuple(_chart(one, figures, zone) for one in charts)
    changes = _without_echoes(shifts)
    return SteadinessView(
        tank.name,
        tank.timezone,
        now.astimezone(zone).replace(microsecond=0),
        answer_text(views, changes),
        changes,
        views,
        FALSE_ALARMS_A_YEAR,
        () if any(one.count >= FEWEST for one in views if one.name == LEVEL) else NEEDS,
    )


def _without_echoes(shifts: Sequence[ShiftView]) -> tuple[ShiftView, ...]:
    """Of several figures that moved at one time only the one that told it with most certainty."""
    kept: list[ShiftView] = []
    for one in sorted(shifts, key=lambda view: (view.figure != LEVEL, -view.probability)):
        if not any(one.since_earliest <= other.since_latest and other.since_earliest <= one.since_latest
                   for other in kept):  # fmt: skip
            kept.append(one)
    return tuple(sorted(kept, key=lambda view: view.since, reverse=True))


def _chart(one: Charted, figures: Gathered, zone: ZoneInfo) -> ChartView:
    series = one.series
    values = shown(series.name, series.values)
    latest = series.values[one.begin :]
    known = latest[np.isfinite(latest)]
    told = any(shift.is_lasting and shift.since == one.begin for shift in one.shifts)
    is_judged = bool(np.isfinite(one.average))
    state = "warning" if is_judged and one.is_warning else "changed" if told else "steady"
    return ChartView(
        series.name,
        LABELS[series.name],
        UNITS[series.name],
        tuple(
            ChartPointView(_local(figures, day, zone), round(float(value), 3))
            for day, value in zip(series.days, values, strict=True)
            if np.isfinite(value)
        ),
        round(float(np.mean(shown(series.name, known))), 3) if known.size else None,
        _local(figures, float(series.days[one.begin]), zone),
        int(known.size),
        round(one.average, 3) if is_judged else None,
        round(one.limit, 3) if is_judged else None,
        state if is_judged or told else "too_few",
    )


def _local(figures: Gathered, day: float, zone: ZoneInfo) -> datetime:
    return figures.moment(day).astimezone(zone).replace(microsecond=0)


def _shift(charted: Charted, one: Shift, figures: Gathered, zone: ZoneInfo) -> ShiftView:
    """One alarm told: since when, what moved, which kinds, and the check that separates them."""
    series, change = charted.series, one.change
    low, high = one.begin + change.low, one.begin + change.high
    places = (one.since, max(low - 1, one.begin), high)
    since, earliest, latest = (_local(figures, float(series.days[place]), zone) for place in places)
    kinds = _kinds(charted, one, figures, (earliest, latest))
    ends = [float(end) for end in (change.size, change.size_low, change.size_high)]
    moved_by, least, most = (shown(series.name, np.array([end]), is_shift=True)[0] for end in ends)
    view = ShiftView(
        series.name,
        _local(figures, float(series.days[one.alarm]), zone),
        since,
        earliest,
        latest,
        round((latest - earliest) / timedelta(hours=1), 1),
        round(change.probability, 4),
        round(float(moved_by), 3),
        round(float(min(least, most)), 3),
        round(float(max(least, most)), 3),
        "share" if series.name == KH else UNITS[series.name],
        one.is_lasting,
        kinds,
        check_text(kinds, is_lasting=one.is_lasting, is_single=_known_since(charted, one) == 1),
        "",
    )
    return shift_text(view)


def _known_since(charted: Charted, one: Shift) -> int:
    """Figures after the change."""
    return int(np.isfinite(charted.series.values[one.since : one.end]).sum())


def _kinds(
    charted: Charted, one: Shift, figures: Gathered, ends: tuple[datetime, datetime]
) -> tuple[KindView, ...]:
    """What could have moved all figures so about that time."""
    if not one.is_lasting:
        return ()
    series = charted.series
    days = series.days
    begin, before = float(days[one.begin]), float(days[max(one.since - 1, one.begin)])
    after = float(days[one.since])
    end = float(days[one.end - 1]) + 1.0
    moves = [moved(other, begin - 30.0, before + 0.1, after - 0.1, end) for other in figures.series.values()]
    clocks = ends[0].utcoffset() != ends[1].utcoffset()
    kinds = kinds_of([one for one in moves if one is not None], figures.run, clocks_changed=clocks)
    signs = {
        CLOCK: clocks,
        WATER: any(ends[0] <= at <= ends[1] for at in figures.changed),
        **_is_sudden(charted, one),
    }
    return tuple(_kind(kind, signs) for kind in kinds if kind.chance >= _TOLD)


def _kind(one: Kind, signs: dict[str, bool]) -> KindView:
    causes = judged_by(one.name, signs, _SIGNS, DENIED)
    is_share = one.name.startswith(("injection", "exchange"))
    size = float(np.expm1(one.size)) if is_share or one.name == "start_missed" else one.size
    unit = "share of the usual gas" if one.name == "start_missed" else SIZE_UNITS[one.name]
    return KindView(
        one.name, SAID[one.name], round(one.chance, 4), float(f"{size:.3g}"), unit,
        tuple(PossibleCauseView(cause.cause, cause.speaks_for, cause.speaks_against) for cause in causes),
    )  # fmt: skip


def _is_sudden(charted: Charted, one: Shift) -> dict[str, bool]:
    """Whether the figure moved at a stroke, by a step against a ramp; nothing where that cannot be told."""
    part = slice(one.begin, one.end)
    days, values = charted.series.days[part], charted.series.values[part]
    known = np.isfinite(values)
    days, values, place = days[known], values[known], int(known[: one.since - one.begin].sum())
    if min(place, values.size - place) < 4:
        return {}
    step = sum(float(((side - side.mean()) ** 2).sum()) for side in (values[:place], values[place:]))
    ramp = min(_ramp_misfit(days, values, first) for first in range(max(place - 6, 1), place + 1))
    if min(step, ramp) <= 0.0 or abs(np.log(step / ramp)) * values.size < 4.0:
        return {}
    return {SUDDEN: step < ramp, "slow": step > ramp}


def _ramp_misfit(days: Floats, values: Floats, first: int) -> float:
    """Sum of squares that a level and a ramp from figure `first` on leave."""
    columns = np.column_stack([np.ones(days.size), np.maximum(days - days[first - 1], 0.0)])
    left = values - columns @ np.linalg.lstsq(columns, values, rcond=None)[0]
    return float(left @ left)
