"""What a person sees of a fault, as data; like the views of `desk.views`."""

from dataclasses import dataclass
from datetime import datetime

from dawnlevel.desk.views import SourceView
from dawnlevel.estimate.posterior import Interval


@dataclass(frozen=True, slots=True)
class HoursView:
    """Hours until a level is passed, within a day.

    Attributes:
        chance: chance that it is passed within 24 h.
        already: chance that it is passed when the 24 h begin.
        early_h: in one of twenty possible tanks it is passed sooner [h]; null where not within 24 h.
        likely_h: in half of them [h]; null where not within 24 h.
        late_h: in nineteen of twenty [h]; null where not within 24 h.
    """

    chance: float
    already: float
    early_h: float | None
    likely_h: float | None
    late_h: float | None


@dataclass(frozen=True, slots=True)
class OutcomeView:
    """What the 24 hours bring.

    Attributes:
        to_ceiling: hours until the ceiling is passed.
        to_high: hours until 1.3 times the ceiling is passed.
        peak_mg_l: highest CO2 [mg/L].
        morning_mg_l: CO2 in the morning [mg/L].
        least_oxygen_mg_l: lowest oxygen [mg/L].
    """

    to_ceiling: HoursView
    to_high: HoursView
    peak_mg_l: Interval
    morning_mg_l: Interval
    least_oxygen_mg_l: Interval


@dataclass(frozen=True, slots=True)
class GuardView:
    """A guard against a fault, and what the fault does with it.

    Attributes:
        guard: what it is called.
        means: what it is, in words.
        outcome: what the 24 hours bring with it.
    """

    guard: str
    means: str
    outcome: OutcomeView


@dataclass(frozen=True, slots=True)
class FaultView:
    """A fault and what it does.

    Attributes:
        kind: machine name of the fault.
        what: what fails, in words.
        begins: when.
        outcome: what the 24 hours from then bring.
        seen: what a keeper would see, in words.
        guards: what helps, with its forecast.
    """

    kind: str
    what: str
    begins: datetime
    outcome: OutcomeView
    seen: str
    guards: tuple[GuardView, ...]


@dataclass(frozen=True, slots=True)
class WhatIfView:
    """Faults of one tank, each on its own.

    Attributes:
        at: the moment it speaks of.
        over_now: what to do first where CO2 is more likely above the ceiling now than not; else empty.
        usual_from: when the 24 hours of `usual` begin: as the first fault does.
        usual: what they bring where nothing fails.
        morning_h: hour of the morning meant [h, wall clock].
        faults: the faults.
        first_steps: what to do when one is found, in order.
        rests_on: what the figures rest on and leave out.
    """

    tank: str
    at: datetime
    ceiling_mg_l: float
    over_now: str
    usual_from: datetime
    usual: OutcomeView
    morning_h: float
    faults: tuple[FaultView, ...]
    first_steps: tuple[str, ...]
    rests_on: tuple[str, ...]
    sources: tuple[SourceView, ...]
