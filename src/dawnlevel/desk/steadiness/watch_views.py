"""What the pages of watching show: months of days, daily figures, a change before and after."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from dawnlevel.desk.steadiness.watch import FindingView


class LevelMark(StrEnum):
    """The level at lights-on against the band."""

    BELOW = "below"
    INSIDE = "inside"
    ABOVE = "above"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class BandLimits:
    """The band at lights-on [mg/L], the ceiling [mg/L], and on what its ends rest, in words."""

    low_mg_l: float
    high_mg_l: float
    ceiling_mg_l: float
    rests_on: str


@dataclass(frozen=True, slots=True)
class WatchedDay:
    """One gas day at a glance.

    Attributes:
        day: the day on which the gas should open.
        level: where the level at lights-on lay.
        co2_lights_on_mg_l: that level [mg/L]; None where the log has no readings then.
        oddities: what was not as usual, in words; empty on a steady day.
        begins: what changed from this day on, in words.
    """

    day: date
    level: LevelMark
    co2_lights_on_mg_l: float | None
    oddities: tuple[str, ...]
    begins: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class MonthView:
    """A month as weeks from Monday; None for days of another month or without a log; counts in words."""

    first: date
    weeks: tuple[tuple["MonthCell", ...], ...]
    in_words: str


@dataclass(frozen=True, slots=True)
class MonthCell:
    """A place in a month: its day, if it is one of the month, and what the log says of it."""

    day: date | None
    watched: WatchedDay | None


@dataclass(frozen=True, slots=True)
class SeriesView:
    """One daily figure over the days.

    Attributes:
        key: machine name.
        title: what it is, in a keeper's words.
        unit: its unit; empty where it has none.
        digits: decimals worth showing.
        values: one a day; None where the log cannot tell.
        errors: sd of each; empty where none is known.
        usual_low: lower end of the usual, 9 days in 10 before the first change.
        usual_high: upper end of it.
        in_words: the figure in one sentence.
    """

    key: str
    title: str
    unit: str
    digits: int
    values: tuple[float | None, ...]
    errors: tuple[float | None, ...]
    usual_low: float | None
    usual_high: float | None
    in_words: str


@dataclass(frozen=True, slots=True)
class SpanOfDay:
    """Wall-clock hours, from the gas day's begin on; may pass 24."""

    begin_h: float
    end_h: float


@dataclass(frozen=True, slots=True)
class CourseView:
    """The mean course of some days: median and the range of 9 days in 10, one a half hour; None: no readings.

    Attributes:
        label: which days.
        days: how many.
        median: the middle.
        low_90: lower end.
        high_90: upper end.
    """

    label: str
    days: int
    median: tuple[float | None, ...]
    low_90: tuple[float | None, ...]
    high_90: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class OverlayView:
    """The day's course before against after.

    Attributes:
        quantity: `CO2` or `pH`.
        unit: `mg/L`, or empty for pH.
        hours: wall-clock hours of the half hours' middles; pass 24 after midnight.
        before: the days before; None where there are none to compare.
        after: the days after.
        gas: when the timer opens the gas.
        light: when the lights are on.
        band: the band at lights-on; None for pH.
        in_words: the picture in one sentence.
    """

    quantity: str
    unit: str
    hours: tuple[float, ...]
    before: CourseView | None
    after: CourseView
    gas: SpanOfDay
    light: SpanOfDay
    band: BandLimits | None
    in_words: str


@dataclass(frozen=True, slots=True)
class BeforeAfter:
    """A daily figure in the days before and after: middle and 9 days in 10, as text; empty where unknown."""

    title: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class NextStep:
    """Something to do next and the page it is done on: `plan`, `baseline`, `gear`, `trouble`, `records`."""

    text: str
    page: str


@dataclass(frozen=True, slots=True)
class ToldFinding:
    """A change as the pages tell it.

    Attributes:
        slug: what names it in an address.
        finding: the change itself.
        said: what it is, in words.
        size: how large, in words; empty where the kind says it.
        since: the day from which on, in words.
        between: when it began, in words.
    """

    slug: str
    finding: FindingView
    said: str
    size: str
    since: str
    between: str


@dataclass(frozen=True, slots=True)
class WatchPageView:
    """Is it steady, and if not, since when?

    Attributes:
        tank: its name.
        verdict: the answer in one sentence.
        more: what else belongs to it, in sentences.
        findings: most important first.
        months: newest first.
        band: the band at lights-on.
        days: the days of the figures.
        series: the daily figures.
        readings: how many readings the log has.
        log_begin, log_end: the first and the last gas day.
    """

    tank: str
    verdict: str
    more: tuple[str, ...]
    findings: tuple[ToldFinding, ...]
    months: tuple[MonthView, ...]
    band: BandLimits
    days: tuple[WatchedDay, ...]
    series: tuple[SeriesView, ...]
    readings: int
    log_begin: date
    log_end: date


@dataclass(frozen=True, slots=True)
class FindingPageView:
    """One change: the day before and after, figures before and after, causes, the check, what to do next.

    Attributes:
        tank: its name.
        told: the change.
        overlay: the day's course before and after.
        figures: the daily figures before and after.
        steps: what to do next.
        caution: what to mind first, where livestock is at stake; empty otherwise.
    """

    tank: str
    told: ToldFinding
    overlay: OverlayView
    figures: tuple[BeforeAfter, ...]
    steps: tuple[NextStep, ...]
    caution: str


@dataclass(frozen=True, slots=True)
class DayPageView:
    """One gas day against the ordinary days before it.

    Attributes:
        tank: its name.
        watched: the day at a glance.
        overlay: its course against the days before.
        figures: its figures against theirs.
        gas_at: when the gas really opened, in words; empty where that cannot be told.
        previous, following: the neighbouring days of the log, if there are.
    """

    tank: str
    watched: WatchedDay
    overlay: OverlayView
    figures: tuple[BeforeAfter, ...]
    gas_at: str
    previous: date | None
    following: date | None
