"""What watching says of the causes behind a complaint: by the stored probe log, else by the readings.

A change that watching told speaks for the causes it is, and against those that would explain the same
readings otherwise; watching that was long enough and found the tank steady speaks against every cause that
is a change.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from dawnlevel.desk.casebook import Case
from dawnlevel.desk.steadiness.steadiness import steadiness_of
from dawnlevel.desk.steadiness.watch import WatchView
from dawnlevel.desk.steadiness.watch_words import SAID
from dawnlevel.desk.steadiness.watching import tank_watch
from dawnlevel.desk.wording import percent
from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.store import Store

BEHIND_KIND: Mapping[str, tuple[str, ...]] = {
    "injection_weaker": ("gas_fell",),
    "gas_empty": ("gas_fell", "gas_missed"),
    "start_missed": ("gas_missed",),
    "start_late": ("starts_late",),
    "exchange_faster": ("fast_exchange",),
    "uptake_higher": ("uptake_over_gas",),
    "injection_stronger": ("high_at_lights_on", "over_ceiling"),
    "exchange_slower": ("high_at_lights_on", "over_ceiling"),
    "start_early": ("high_at_lights_on", "over_ceiling"),
    "stuck_open": ("high_at_lights_on", "over_ceiling"),
    "unsteady": ("unsteady",),
    "probe_step": ("meter_off",),
    "probe_drift": ("meter_off",),
    "baseline_shift": ("kh_moved",),
    "uptake_lower": (),
}
"""Which causes of a complaint each kind of change is."""

CHANGES = ("gas_fell", "gas_missed", "kh_moved", "meter_off", "unsteady")
"""Causes that are a change, so that a tank watched and found steady speaks against them."""

LOOKED_BACK = timedelta(days=70)
"""How far back a change still explains a complaint of today (judgement)."""

STEADY_SHARE = 0.5
"""What is left of a cause's chance when watching found nothing: it misses small changes (judgement)."""

SETTLES = 0.8
"""Share of the doubt between the kinds of a change that its one check removes (judgement)."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One kind of change that watching told, with the chance that it is this and began then."""

    kind: str
    since: datetime
    chance: float
    check: str


@dataclass(frozen=True, slots=True)
class Watching:
    """What watching has to say: changes, likeliest first, and what it went by.

    `is_long_enough`: whether finding nothing says something.
    """

    seen: tuple[Seen, ...]
    by: str
    is_long_enough: bool

    def of(self, cause: str) -> Seen | None:
        """The likeliest change that is this cause; None where there is none."""
        found = [one for one in self.seen if cause in BEHIND_KIND[one.kind]]
        return max(found, key=lambda one: one.chance, default=None)

    def chance(self, cause: str, chance: float | None) -> float | None:
        """The chance of a cause with what watching says; None where neither can say."""
        own = self.of(cause)
        if own is None and not (cause in CHANGES and self.is_long_enough):
            return chance
        others = 1.0 - float(np.prod([1.0 - one.chance for one in self._rivals(cause)]))
        if own is None:
            left = 1.0 - others if self.seen else STEADY_SHARE
            return None if chance is None else chance * left
        return 1.0 - (1.0 - (chance or 0.0) * (1.0 - others)) * (1.0 - own.chance)

    def sentence(self, cause: str, case: Case) -> str:
        """What watching says for or against a cause; empty where nothing."""
        own = self.of(cause)
        if own is not None:
            return (
                f" {self.by} says for it: {SAID[own.kind]} since {case.local(own.since):%a} "
                f"{case.local(own.since).day} {case.local(own.since):%b} ({percent(own.chance)})."
            )
        rivals = self._rivals(cause)
        if cause in CHANGES and rivals:
            told = max(rivals, key=lambda one: one.chance)
            return f" {self.by} says against it: rather {SAID[told.kind]} ({percent(told.chance)})."
        if cause in CHANGES and self.is_long_enough and not self.seen:
            return f" {self.by} says against it: nothing has changed that it can tell."
        return ""

    def _rivals(self, cause: str) -> list[Seen]:
        """Changes that would explain the same readings otherwise."""
        return [one for one in self.seen if cause not in BEHIND_KIND[one.kind] and BEHIND_KIND[one.kind]]


def watching_of(case: Case, log: WatchView | None) -> Watching:
    """What watching says of a case: by its log where there is one, else by the keeper's own readings."""
    if log is not None and log.is_long_enough:
        seen = (Seen(one.kind, one.since, one.probability, one.check) for one in log.findings)
        return Watching(_recent(seen, case.now), "The probe's log", is_long_enough=True)
    kla = float(np.median(case.found.posterior.unknowns["kla_per_h"]))
    view = steadiness_of(case.tank, case.records, case.now, kla)
    lasting = [one for one in view.changes if one.is_lasting]
    seen = (
        Seen(kind.kind, change.since, change.probability * kind.probability, change.check)
        for change in lasting
        for kind in change.kinds
    )
    is_judged = any(one.average is not None for one in view.charts)
    return Watching(_recent(seen, case.now), "Watching your readings", is_long_enough=is_judged)


def stored_log(store: Store, name: str, now: datetime) -> WatchView | None:
    """What the tank's stored log says of late; None where there is none, or none that can be read."""
    try:
        return tank_watch(store, name, now, now - LOOKED_BACK)
    except NotEnoughRecordsError:
        return None


def _recent(seen: Iterable[Seen], now: datetime) -> tuple[Seen, ...]:
    return tuple(sorted((one for one in seen if now - one.since <= LOOKED_BACK), key=lambda one: -one.chance))
