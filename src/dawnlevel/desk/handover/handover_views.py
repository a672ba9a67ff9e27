"""What a consultant leaves with the tank's owner, as data; paper and page are made from the same."""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from dawnlevel.desk.evenness.spread_views import SpreadView
from dawnlevel.desk.views import BandView, DayView, ForecastView, PictureView, RouteView, SourceView


class Units(StrEnum):
    """In which units a hand-over speaks; US also takes letter paper and the 12-hour clock."""

    METRIC = "metric"
    US = "us"


@dataclass(frozen=True, slots=True)
class ClockSpanView:
    """From when to when, by the clock on the wall: `13:00` or `1:00 pm`.

    Attributes:
        begins: from when.
        ends: until when.
    """

    begins: str
    ends: str


@dataclass(frozen=True, slots=True)
class CellHourView:
    """What the indicator cell should look like.

    Attributes:
        clock: when, by the clock on the wall.
        colour: the likeliest colour: `blue`, `green`, `lime` or `yellow`.
        chance: how likely it is to be named so [share].
        or_colour: the next likeliest, where it is likelier than one in four; else empty.
    """

    clock: str
    colour: str
    chance: float
    or_colour: str


@dataclass(frozen=True, slots=True)
class WhenView:
    """What to do when something is seen.

    Attributes:
        seen: what is seen.
        do: what to do, in order.
        is_urgent: whether fish may suffer.
    """

    seen: str
    do: tuple[str, ...]
    is_urgent: bool


@dataclass(frozen=True, slots=True)
class DateView:
    """Something due on a day.

    Attributes:
        day: when.
        title: what.
        text: how, or why.
    """

    day: date
    title: str
    text: str


@dataclass(frozen=True, slots=True)
class FactView:
    """A thing known of the tank.

    Attributes:
        name: what is known.
        value: how it is, in the units asked for.
    """

    name: str
    value: str


@dataclass(frozen=True, slots=True)
class EvidenceView:
    """On what a hand-over rests besides the plan.

    Attributes:
        steady: whether it is steady by the keeper's own readings, and the latest changes.
        probe: what the stored log of a probe says; empty where there is none.
        spread: how even CO2 is, by the latest survey; null where there is none.
        spread_says: the same in sentences, dead zones named.
        animals: the animals, their ceiling for CO2, the signs to watch for.
        oxygen: oxygen of day and night as expected.
        care: what that asks of whoever looks after them.
        gear: gas, room, meter and cell, as recorded.
        faults: what each fault would do in a day with nobody there, the worst first.
    """

    steady: tuple[str, ...]
    probe: tuple[str, ...]
    spread: SpreadView | None
    spread_says: tuple[str, ...]
    animals: tuple[FactView, ...]
    oxygen: tuple[FactView, ...]
    care: tuple[str, ...]
    gear: tuple[FactView, ...]
    faults: tuple[FactView, ...]


@dataclass(frozen=True, slots=True)
class HandoverView:
    """The plan of one tank as it is set, from its records alone: the same records give the same hand-over.

    Attributes:
        as_of: the moment of the latest record.
        units: `metric` or `us`.
        gas: the gas timer's windows.
        lights: the light timer.
        rate_bps: the needle as set [bubbles/s].
        count: bubbles in `count_s`.
        count_s: how long they are counted [s].
        target: the target in words.
        target_ph: the band on the pH meter, lower pH first; null where no baseline is recorded.
        forecast: lights-on of the next gas day as expected.
        cell: what the indicator cell should look like, hour by hour.
        leave_alone: what not to touch, and why.
        when: what to do when something is seen, the urgent first.
        weekly: what is looked at once a week.
        dates: what is due on which day, the soonest first.
        cautions: what to mind with cylinder and room.
        facts: the tank as described.
        chance_hit: chance that the level lies in the band at lights-on, as set.
        chance_held: chance that it is hit and held, as set.
        chance_breach: chance that the ceiling is passed at any time of the day, as set, nobody stepping in.
        over_ceiling: what stands against handing over where that chance is large; else empty.
        other_plan: what the advice would set instead, where that is clearly better, or that the tank is not
            tuned yet; else empty.
        days: the gas days so far, oldest first.
        settled: whether the last three days were dialled in.
        picture: the next gas day as set.
        routes: the three routes to CO2.
        verdict: whether they agree, in sentences.
        evidence: steadiness, survey, animals, oxygen.
        assumptions: what the figures take for granted.
    """

    tank: str
    timezone: str
    as_of: datetime
    units: Units
    gas: tuple[ClockSpanView, ...]
    lights: ClockSpanView
    rate_bps: float
    count: int
    count_s: int
    band: BandView
    target: str
    target_ph: tuple[float, float] | None
    lights_on: datetime
    forecast: ForecastView
    cell: tuple[CellHourView, ...]
    leave_alone: str
    when: tuple[WhenView, ...]
    weekly: tuple[str, ...]
    dates: tuple[DateView, ...]
    cautions: tuple[str, ...]
    facts: tuple[FactView, ...]
    chance_hit: float
    chance_held: float
    chance_breach: float
    over_ceiling: str
    other_plan: str
    days: tuple[DayView, ...]
    settled: bool
    picture: PictureView
    routes: tuple[RouteView, ...]
    verdict: str
    evidence: EvidenceView
    assumptions: tuple[str, ...]
    sources: tuple[SourceView, ...]


@dataclass(frozen=True, slots=True)
class LeftOutView:
    """A tank that could not be handed over.

    Attributes:
        tank: its name.
        why: what stands in the way, and what to do.
    """

    tank: str
    why: str


@dataclass(frozen=True, slots=True)
class HandoverPack:
    """The hand-over of one tank, or of all tanks of an owner.

    Attributes:
        owner: whose they are; empty: not said.
        tanks: at least one.
        left_out: tanks of the owner that cannot be handed over.
    """

    owner: str
    tanks: tuple[HandoverView, ...]
    left_out: tuple[LeftOutView, ...] = ()

    @property
    def as_of(self) -> datetime:
        """The moment of the latest record of any of them."""
        return max(view.as_of for view in self.tanks)
