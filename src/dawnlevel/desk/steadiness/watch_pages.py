"""Use case: is it steady? A log's months, daily figures and changes, as the pages show them."""

import calendar
from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date
from zoneinfo import ZoneInfo

from dawnlevel.desk.phrases import date_text
from dawnlevel.desk.steadiness.watch import Watched, WatchView
from dawnlevel.desk.steadiness.watch_band import band_limits
from dawnlevel.desk.steadiness.watch_series import daily_of, known_or_none, oddities_of, series_of
from dawnlevel.desk.steadiness.watch_views import (
    BandLimits,
    LevelMark,
    MonthCell,
    MonthView,
    ToldFinding,
    WatchedDay,
    WatchPageView,
)
from dawnlevel.desk.steadiness.watch_words import SAID, between_text, since_text, size_text
from dawnlevel.desk.wording import percent
from dawnlevel.tank import Record, Tank
from dawnlevel.watch.findings import FEWEST_DAYS

_SHIFTS = ("baseline_shift", "probe_step")
_RATHER_SURE = 0.8
"""Below this chance the readings of a change are told as open (judgement)."""


def watch_page_of(watched: Watched, tank: Tank, records: Sequence[Record]) -> WatchPageView:
    """The page of a log. NotEnoughRecordsError where no gas day can be shown."""
    view, zone = watched.view, ZoneInfo(tank.timezone)
    band = band_limits(tank, records, watched.placed.card)
    days = watched_days(watched, band, zone)
    findings = told_findings(view, zone)
    return WatchPageView(
        tank.name,
        _verdict(view, findings, days),
        tuple(_more(view, findings)),
        findings,
        tuple(months_of(days)),
        band,
        days,
        series_of(daily_of(watched)),
        view.readings,
        days[0].day,
        days[-1].day,
    )


def told_findings(view: WatchView, zone: ZoneInfo) -> tuple[ToldFinding, ...]:
    """The findings in words, in their order."""
    return tuple(
        ToldFinding(
            f"{one.kind}-{one.since.astimezone(zone):%Y-%m-%d}",
            one, SAID[one.kind], size_text(one), since_text(one, zone), between_text(one, zone),
        )
        for one in view.findings
    )  # fmt: skip


def watched_days(watched: Watched, band: BandLimits, zone: ZoneInfo) -> tuple[WatchedDay, ...]:
    """Every gas day with readings at a glance."""
    daily = daily_of(watched)
    begins: dict[date, list[str]] = {}
    for one in watched.view.findings:
        begins.setdefault(one.since.astimezone(zone).date(), []).append(SAID[one.kind])
    levels = known_or_none(daily.values["lights_on"])
    return tuple(
        WatchedDay(
            day,
            _mark(level, band),
            level,
            odd,
            tuple(begins.get(day, ())),
        )
        for day, level, odd in zip(daily.days, levels, oddities_of(watched, daily), strict=True)
    )


def _mark(level_mg_l: float | None, band: BandLimits) -> LevelMark:
    if level_mg_l is None:
        return LevelMark.UNKNOWN
    if level_mg_l < band.low_mg_l:
        return LevelMark.BELOW
    return LevelMark.ABOVE if level_mg_l > band.high_mg_l else LevelMark.INSIDE


def _verdict(view: WatchView, findings: Sequence[ToldFinding], days: Sequence[WatchedDay]) -> str:
    if findings:
        return f"Not steady: since {findings[0].since} {_change_words(findings)}."
    if not view.is_long_enough:
        return (
            f"Too early to say: {view.comparable_days} whole gas days can be compared, "
            f"and it takes {FEWEST_DAYS} to know what is usual."
        )
    return f"Steady since {days[0].day:%a} {date_text(days[0].day)}, as far as this log can tell."


def _change_words(findings: Sequence[ToldFinding]) -> str:
    """The first change in words; a shift of pH with both readings it has."""
    first = findings[0]
    twins = [one for one in findings if one.finding.kind in _SHIFTS and one.since == first.since]
    if first.finding.kind in _SHIFTS and len(twins) > 1:
        size, way = first.finding.size, "higher" if first.finding.size > 0.0 else "lower"
        odds = {one.finding.kind: percent(one.finding.probability) for one in twins}
        return (
            f"pH stands {abs(size):.2f} {way}: the water's KH has changed ({odds['baseline_shift']}) or "
            f"the meter has ({odds['probe_step']})"
        )
    return f"{first.said}{f', {first.size}' if first.size else ''}"


def _more(view: WatchView, findings: Sequence[ToldFinding]) -> Iterator[str]:
    """What else belongs to the answer."""
    if findings and findings[0].finding.causes[0].is_recorded:
        yield f"Written down about then: {findings[0].finding.causes[0].cause}."
    if findings and findings[0].finding.probability < _RATHER_SURE:
        yield "I can't tell these apart yet: the check under the first one decides."
    elif len(findings) > 1:
        yield f"{len(findings) - 1} more below."
    if any(one.finding.kind in _SHIFTS for one in findings):
        yield "Until the check is made, do not trust levels since then: they are worked out from that pH."
    if findings and not view.is_long_enough:
        yield (
            f"Only {view.comparable_days} whole gas days can be compared, so smaller changes do not show yet."
        )


def months_of(days: Sequence[WatchedDay]) -> Iterator[MonthView]:
    """Months as weeks from Monday, the newest first."""
    known = {one.day: one for one in days}
    begun = sorted({(one.day.year, one.day.month) for one in days}, reverse=True)
    for year, month in begun:
        weeks = calendar.Calendar().monthdatescalendar(year, month)
        cells = tuple(
            tuple(
                MonthCell(day, known.get(day)) if day.month == month else MonthCell(None, None)
                for day in week
            )
            for week in weeks
            if any(day in known and day.month == month for day in week)
        )
        shown = [one for one in days if (one.day.year, one.day.month) == (year, month)]
        yield MonthView(date(year, month, 1), cells, _month_words(shown))


def _month_words(days: Sequence[WatchedDay]) -> str:
    """A month's days in one sentence."""
    marks = Counter(one.level for one in days)
    parts = [
        f"{marks[mark]} {words}"
        for mark, words in (
            (LevelMark.INSIDE, "in the band"),
            (LevelMark.BELOW, "below it"),
            (LevelMark.ABOVE, "above it"),
            (LevelMark.UNKNOWN, "without a reading then"),
        )
        if marks[mark]
    ]
    odd = sum(bool(one.oddities) for one in days)
    unusual = f" {odd} unlike the usual." if odd else " All like the usual."
    return f"{len(days)} {'day' if len(days) == 1 else 'days'} at lights-on: {', '.join(parts)}.{unusual}"


def found_again(findings: Sequence[ToldFinding], slug: str) -> ToldFinding | None:
    """The change that `slug` names; where more readings have moved its day, the same kind nearest to it."""
    kind, _, day = slug.partition("-")
    same = [one for one in findings if one.finding.kind == kind]
    try:
        wanted = date.fromisoformat(day)
    except ValueError:
        return None
    return min(same, key=lambda one: abs(_day_of(one) - wanted), default=None)


def _day_of(told: ToldFinding) -> date:
    return date.fromisoformat(told.slug.partition("-")[2])
