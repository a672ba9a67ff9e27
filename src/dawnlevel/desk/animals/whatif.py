"""Use case: what if something fails - hours to the ceiling, the morning, oxygen, and what guards help."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from dawnlevel.desk.animals.whatif_views import FaultView, GuardView, HoursView, OutcomeView, WhatIfView
from dawnlevel.desk.animals.whatif_words import (
    FIRST_STEPS,
    GUARD_WORDS,
    RESTS_ON,
    SEEN,
    cell_text,
    fault_words,
    over_now_words,
    power_text,
)
from dawnlevel.desk.casebook import SEED, Case, open_case
from dawnlevel.desk.cited import cited
from dawnlevel.estimate.posterior import interval
from dawnlevel.plan.cell import colour_chances, likeliest
from dawnlevel.plan.daynight import DAY_H, Script, Waters, co2_ahead, oxygen_ahead, script_ahead, waters
from dawnlevel.plan.faults import (
    END_OF_TANK,
    GUARDS,
    Fault,
    FaultKind,
    Outcome,
    faulted,
    guarded,
    outcome,
)
from dawnlevel.plan.future import Hours
from dawnlevel.plan.oxygen_told import oxygen_told
from dawnlevel.store import Store
from dawnlevel.tank import CellColour
from dawnlevel.tank.clock import local_day, local_hour, wall_clock

Array = npt.NDArray[np.float64]

MORNING_H = 7.0
"""The wall-clock hour meant by morning [h]; common practice, no source."""

BY = {
    FaultKind.SHIFTED: 6.0,
    FaultKind.CYLINDER: END_OF_TANK,
    FaultKind.RATE: 2.0,
    FaultKind.WATER: 0.5,
}
"""How much, where the keeper does not say: hours of shift, flow over the present, share changed."""

POWER_CUT_H = 8.0


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked: kinds of fault (none: all), when it begins (wall clock, [h]), how much, how long [h]."""

    kinds: tuple[FaultKind, ...] = ()
    from_h: float | None = None
    by: float | None = None
    lasts_h: float | None = None


@dataclass(frozen=True, slots=True)
class _World:
    """The case with its script, its draws and oxygen now."""

    case: Case
    script: Script
    windows: tuple[tuple[float, float], ...]
    water: Waters
    oxygen_mg_l: Array

    def seen(self, script: Script, begins_h: float) -> OutcomeView:
        """What a script brings in the day from `begins_h` [h from now]."""
        morning = self.hour_at(MORNING_H, begins_h)
        ceiling = self.case.tank.co2_limit_mg_l
        return _outcome(outcome(self.water, script, begins_h, morning, ceiling, self.oxygen_mg_l))

    def cell(self, script: Script, begins_h: float) -> tuple[CellColour, ...]:
        """The likely colours of the indicator cell under a script, on the morning after `begins_h`.

        By the posterior's own draws, as the cell's lag and solution are paired with them; oxygen says
        nothing of a cell.
        """
        found = self.case.found
        water = waters(found.posterior, found.present_bps, np.random.default_rng(SEED))
        hours, morning = Hours(script.edges_h, script.light, script.light), self.hour_at(MORNING_H, begins_h)
        return likeliest(colour_chances(found.posterior, hours, co2_ahead(water, script), [morning]), 0)

    def hour_at(self, wall_h: float, after_h: float) -> float:
        """Hours from now to the next `wall_h` [h, wall clock] after `after_h` [h from now]."""
        after = self.case.now + timedelta(hours=after_h)
        day = local_day(after, self.case.zone)
        at = wall_clock(day, wall_h, self.case.zone)
        if at < after:
            at = wall_clock(day + timedelta(days=1), wall_h, self.case.zone)
        return (at - self.case.now) / timedelta(hours=1)


def whatif_view(store: Store, name: str, now: datetime, asked: Asked | None = None) -> WhatIfView:
    """Faults of tank `name` at `now` (aware). Raises NoSuchTankError, NotEnoughRecordsError."""
    return whatif_of(open_case(store, name, now), asked)


def whatif_of(case: Case, asked: Asked | None = None) -> WhatIfView:
    """Faults of an opened case."""
    rng = np.random.default_rng(SEED)
    water = oxygen_told(case.found.posterior, case.records, case.found.present_bps, rng).water
    script, windows = script_ahead(case.tank, case.records, case.now)
    oxygen = oxygen_ahead(water, script, co2_ahead(water, script))[script.edge(DAY_H)]
    world = _World(case, script, windows, water, oxygen)
    found = asked or Asked()
    faults = list(_faults(world, found))
    return WhatIfView(
        tank=case.tank.name,
        at=case.local(case.now),
        ceiling_mg_l=case.tank.co2_limit_mg_l,
        over_now=over_now_words(case.found.over_ceiling) if case.found.stands_over else "",
        usual_from=case.local(case.now + timedelta(hours=faults[0].begins_h)),
        usual=world.seen(script, faults[0].begins_h),
        morning_h=MORNING_H,
        faults=tuple(_fault(world, one, guards=len(found.kinds) == 1) for one in faults),
        first_steps=FIRST_STEPS,
        rests_on=RESTS_ON,
        sources=cited(
            [
                "merck_veterinary_manual",
                "hargreaves_brunson_1996",
                "ufifas_fa27",
                "surface_priors",
                "end_of_tank",
                "fault_practice",
            ]
        ),
    )


def _faults(world: _World, asked: Asked) -> Iterator[Fault]:
    """The faults asked for; a power cut in each combination where it is asked for alone."""
    for kind in asked.kinds or tuple(FaultKind):
        begins = _begins(world, kind)
        if asked.from_h is not None:
            begins = world.hour_at(asked.from_h, 0.0)
        by = BY.get(kind, 1.0) if asked.by is None else asked.by
        if kind is not FaultKind.POWER:
            yield Fault(kind, begins, by, asked.lasts_h or DAY_H)
            continue
        lasts = asked.lasts_h or POWER_CUT_H
        lights: tuple[bool | None, ...] = (False, None) if len(asked.kinds) == 1 else (False,)
        for gas in (True, False):
            for pump in (False, True):
                for light in lights:
                    yield Fault(kind, begins, 1.0, lasts, gas, pump, light)


def _begins(world: _World, kind: FaultKind) -> float:
    """When a fault is worst [h from now]: as the gas should close, or as it opens; now where none is due."""
    ahead = [window for window in world.windows if window[1] > 0.0]
    if not ahead or kind is FaultKind.WATER:
        return 0.0
    opens, closes = ahead[0]
    if kind is FaultKind.VALVE:
        return closes
    if kind in {FaultKind.POWER, FaultKind.PUMP}:
        return max(closes - 1.0, 0.0)
    return opens


def _fault(world: _World, fault: Fault, *, guards: bool) -> FaultView:
    case, tank = world.case, world.case.tank
    failed = faulted(world.script, world.windows, fault, tank)
    kept = [
        (guard, guarded(world.script, world.windows, fault, guard, tank))
        for guard in (GUARDS[fault.kind] if guards else ())
    ]
    helps = tuple(
        GuardView(guard.value, GUARD_WORDS[guard], world.seen(script, fault.begins_h))
        for guard, script in kept
        if not script.is_like(failed)
    )
    begins = case.local(case.now + timedelta(hours=fault.begins_h))
    return FaultView(
        kind=fault.kind.value,
        what=fault_words(fault, local_hour(begins, case.zone)),
        begins=begins,
        outcome=world.seen(failed, fault.begins_h),
        seen=_signs(world, fault, failed),
        guards=helps,
    )


def _signs(world: _World, fault: Fault, failed: Script) -> str:
    """What a keeper would see; the cell by its forecast, where it is named."""
    signs = SEEN[fault.kind]
    if fault.kind is not FaultKind.VALVE:
        return signs.format(power=power_text(fault))
    then, usual = (world.cell(one, fault.begins_h) for one in (failed, world.script))
    return signs.format(cell=cell_text(then, usual))


def _outcome(found: Outcome) -> OutcomeView:
    return OutcomeView(
        to_ceiling=_hours(found.to_ceiling_h),
        to_high=_hours(found.to_high_h),
        peak_mg_l=interval(found.peak_mg_l),
        morning_mg_l=interval(found.morning_mg_l),
        least_oxygen_mg_l=interval(found.least_oxygen_mg_l),
    )


def _hours(draws: Array) -> HoursView:
    early, likely, late = (
        float(value) if np.isfinite(value) else None
        for value in np.quantile(draws, (0.05, 0.5, 0.95), method="higher")
    )
    return HoursView(float(np.isfinite(draws).mean()), float((draws <= 0.0).mean()), early, likely, late)
