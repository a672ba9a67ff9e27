"""View models of why it isn't working: causes with their evidence, what to measure, what to change."""

from dataclasses import dataclass
from datetime import datetime

from dawnlevel.desk.views import ForecastView, MeasurementView, SpanView


@dataclass(frozen=True, slots=True)
class CauseView:
    """One cause of a complaint.

    Attributes:
        kind: machine name.
        label: the cause in a keeper's words.
        probability: chance that it holds in this tank; None where its records say nothing of it.
        evidence: what this tank's records say for or against it.
        unknown: what is not known about it.
        check: the one thing that settles it.
    """

    kind: str
    label: str
    probability: float | None
    evidence: str
    unknown: str
    check: str


@dataclass(frozen=True, slots=True)
class RemedyView:
    """The change that would help, with what it is expected to bring.

    Attributes:
        text: what to do.
        windows: when the gas is open on the next gas day.
        rate_bps: needle count [bubbles/s].
        forecast: lights-on if it is done.
        chance_if_done, chance_if_left: chance of hitting and holding the band; None where it cannot be said.
        breach_if_done: chance of passing `over`.
        over: what no day may pass, in words: the livestock ceiling, and for a drop its own bound.
        out_of_reach: why even this will probably miss; empty where it will do.
    """

    text: str
    windows: tuple[SpanView, ...]
    rate_bps: float
    forecast: ForecastView
    chance_if_done: float
    chance_if_left: float | None
    breach_if_done: float
    over: str
    out_of_reach: str


@dataclass(frozen=True, slots=True)
class ComplaintView:
    """Why it isn't working.

    Attributes:
        complaint: machine name of the complaint.
        label: the complaint in a keeper's words.
        at: the moment of the answer.
        first: what to do before anything else, in order: fish in need, or CO2 above the ceiling; else empty.
        answer: the likeliest cause in a sentence, or what is missing.
        causes: the likeliest first; those that the records say nothing of take their usual share.
        measurements: what to measure next, the most telling about these causes first.
        remedy: the plan that would help; None where there is none to give.
        needs: the readings without which nothing can be said, the weightiest first.
    """

    tank: str
    timezone: str
    complaint: str
    label: str
    at: datetime
    first: tuple[str, ...]
    answer: str
    causes: tuple[CauseView, ...]
    measurements: tuple[MeasurementView, ...]
    remedy: RemedyView | None
    needs: tuple[str, ...]
