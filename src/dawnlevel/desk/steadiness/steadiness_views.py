"""View models of steadiness: a keeper's few figures on their charts, and what changed."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class ChartPointView:
    """One figure of a chart.

    Attributes:
        value: in the chart's unit.
    """

    at: datetime
    value: float


@dataclass(frozen=True, slots=True)
class ChartView:
    """One figure on its chart.

    Attributes:
        name: machine name: level, rest, cup, kh, cell.
        label: what the figure is, in plain words.
        unit: of `points` and `usual`.
        points: every figure, oldest first.
        usual: mean since the last change; None without a figure.
        since: from which moment on the figure is compared; None without a figure.
        count: figures since then.
        average, limit: of the chart, in standard deviations; None while there are too few figures.
        state: too_few, steady, warning or changed.
    """

    name: str
    label: str
    unit: str
    points: tuple[ChartPointView, ...]
    usual: float | None
    since: datetime | None
    count: int
    average: float | None
    limit: float | None
    state: str


@dataclass(frozen=True, slots=True)
class PossibleCauseView:
    """One cause that a keeper can act on.

    Attributes:
        cause: in plain words.
        speaks_for: what the records say for it.
        speaks_against: what they say against it.
    """

    cause: str
    speaks_for: tuple[str, ...]
    speaks_against: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class KindView:
    """A kind of change that could have moved the figures so.

    Attributes:
        kind: machine name, as in `watch`.
        label: in plain words.
        probability: chance among all kinds.
        size, size_unit: how large it would have to be.
        causes: what a keeper can act on, those with more evidence first.
    """

    kind: str
    label: str
    probability: float
    size: float
    size_unit: str
    causes: tuple[PossibleCauseView, ...]


@dataclass(frozen=True, slots=True)
class ShiftView:
    """One change.

    Attributes:
        figure: machine name of the figure whose chart told it.
        told_at: the reading at which it was told.
        since: the first reading after the change; it began between the reading before and this one.
        since_earliest, since_latest: between which moments it began, 9 in 10.
        since_interval_h: hours between them.
        probability: that the figure changed at all.
        moved, moved_low, moved_high, moved_unit: what the figure moved by, 9 in 10.
        is_lasting: False where the next figure was back at the old level: a single odd reading.
        kinds: what could have moved it, likeliest first.
        check: the one check that separates them.
        text: the change in a sentence.
    """

    figure: str
    told_at: datetime
    since: datetime
    since_earliest: datetime
    since_latest: datetime
    since_interval_h: float
    probability: float
    moved: float
    moved_low: float
    moved_high: float
    moved_unit: str
    is_lasting: bool
    kinds: tuple[KindView, ...]
    check: str
    text: str


@dataclass(frozen=True, slots=True)
class SteadinessView:
    """Is it steady, by a keeper's own readings?

    Attributes:
        at: the moment of the answer.
        answer: in a sentence.
        changes: the latest first.
        charts: every figure of which there is at least one.
        false_alarms_a_year: how often a tank in which nothing changes is told of a change.
        needs: what to record so that more can be told; empty where there is enough.
    """

    tank: str
    timezone: str
    at: datetime
    answer: str
    changes: tuple[ShiftView, ...]
    charts: tuple[ChartView, ...]
    false_alarms_a_year: float
    needs: tuple[str, ...]
