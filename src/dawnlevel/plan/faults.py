"""What if something fails: faults and guards as changes of a script, and what they do to CO2 and oxygen."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from dawnlevel.balance.exchange import TRANSFER_VELOCITY_CM_H
from dawnlevel.plan.daynight import Script, Waters, co2_ahead, covered, oxygen_ahead, uptake
from dawnlevel.tank import Diffuser, Surface, Tank

Array = npt.NDArray[np.float64]
Windows = Sequence[tuple[float, float]]

HIGH_FACTOR = 1.3
"""Level over the ceiling at which a fault is called grave [-]; own choice."""

WATCHED_H = 24.0
AIR_PUMP_FACTOR = 3.0
"""Exchange with an air pump over that without [-]: from a gentle surface (3 cm/h) past a rippled one (7), the
priors of balance.exchange; judgement."""

SMALLER = 0.5
"""A smaller needle setting over the present [-], with the gas opened earlier to make up for it."""

READ_AFTER_H = 1.0
"""When pH is read after the needle was touched [h], early enough to correct it; own choice."""

END_OF_TANK = 1.7
"""Flow at the end of a cylinder over the flow before [-], 1.3 to 2.5: a one-stage regulator's outlet rises by
1 to 2 % of what the inlet falls, 0.6 to 1.2 bar of 60 on one of 1 to 2 bar (from memory, not checked)."""


class FaultKind(StrEnum):
    """What may fail."""

    VALVE = "valve"
    SHIFTED = "shifted"
    DOUBLED = "doubled"
    CYLINDER = "cylinder"
    POWER = "power"
    PUMP = "pump"
    RATE = "rate"
    WATER = "water"


class Guard(StrEnum):
    """What may be fitted or done beforehand."""

    SMALLER_NEEDLE = "smaller needle"
    SECOND_VALVE = "second valve"
    NORMALLY_CLOSED = "normally closed valve"
    AIR_PUMP = "overnight air pump"
    READ_AFTER = "reading after an hour"


GUARDS: dict[FaultKind, tuple[Guard, ...]] = {
    FaultKind.VALVE: (Guard.SMALLER_NEEDLE, Guard.SECOND_VALVE, Guard.AIR_PUMP),
    FaultKind.SHIFTED: (Guard.SMALLER_NEEDLE, Guard.SECOND_VALVE, Guard.AIR_PUMP),
    FaultKind.DOUBLED: (Guard.SMALLER_NEEDLE, Guard.SECOND_VALVE, Guard.AIR_PUMP),
    FaultKind.CYLINDER: (Guard.SMALLER_NEEDLE, Guard.AIR_PUMP),
    FaultKind.POWER: (Guard.NORMALLY_CLOSED, Guard.SMALLER_NEEDLE),
    FaultKind.PUMP: (Guard.SMALLER_NEEDLE, Guard.SECOND_VALVE, Guard.AIR_PUMP),
    FaultKind.RATE: (Guard.READ_AFTER, Guard.AIR_PUMP),
    FaultKind.WATER: (),
}
"""Guards that can help against each fault."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault.

    Attributes:
        kind: what fails.
        begins_h: when [h from now].
        by: hours of shift, flow over the present, or share of the water changed; by kind.
        lasts_h: how long a power cut lasts [h].
        gas_open, pump_runs, light_on: how each stands in a power cut; None where it goes on as planned.
    """

    kind: FaultKind
    begins_h: float
    by: float = 1.0
    lasts_h: float = WATCHED_H
    gas_open: bool | None = None
    pump_runs: bool = True
    light_on: bool | None = None


def still_factor(tank: Tank) -> float:
    """Exchange with the pump stopped over the present [-]: medians of a still surface and of the tank's."""
    velocities = TRANSFER_VELOCITY_CM_H
    return velocities[Surface.STILL].median / velocities[tank.surface].median


def faulted(script: Script, windows: Windows, fault: Fault, tank: Tank) -> Script:
    """The script with the fault from `fault.begins_h` on; `windows` are the gas windows [h from now]."""
    after = script.during(fault.begins_h, fault.begins_h + fault.lasts_h)
    match fault.kind:
        case FaultKind.CYLINDER | FaultKind.RATE:
            return replace(script, flow=script.flow * (1.0 + (fault.by - 1.0) * after))
        case FaultKind.WATER:
            replaced = script.replaced.copy()
            replaced[min(script.edge(fault.begins_h), replaced.size - 1)] = fault.by
            return replace(script, replaced=replaced)
        case FaultKind.PUMP:
            return _pump_stopped(script, after, tank)
        case FaultKind.POWER:
            return _power_cut(script, after, fault, tank)
        case _:
            opened = covered(script.edges_h, _windows(windows, fault))
            return replace(script, flow=_mixed(script.flow, opened, after))


def _windows(windows: Windows, fault: Fault) -> list[tuple[float, float]]:
    """When the gas is open with a valve stuck open, a timer shifted or one that runs twice as long [h]."""
    match fault.kind:
        case FaultKind.SHIFTED:
            return [(a + fault.by, b + fault.by) for a, b in windows]
        case FaultKind.DOUBLED:
            return [(a, a + 2.0 * (b - a)) for a, b in windows]
        case _:
            return [(fault.begins_h, np.inf)]


def _mixed(before: Array, then: Array | float, share: Array) -> Array:
    return np.asarray(before * (1.0 - share) + then * share)


def _pump_stopped(script: Script, after: Array, tank: Tank) -> Script:
    """No surface movement; a diffuser in the pump's stream dissolves nothing."""
    in_stream = tank.diffuser in {Diffuser.INLINE, Diffuser.REACTOR}
    dissolving = _mixed(script.dissolving, 0.0, after) if in_stream else script.dissolving
    movement = script.movement * _mixed(np.ones(after.size), still_factor(tank), after)
    return replace(script, movement=movement, dissolving=dissolving)


def _power_cut(script: Script, after: Array, fault: Fault, tank: Tank) -> Script:
    cut = script if fault.pump_runs else _pump_stopped(script, after, tank)
    if fault.gas_open is not None:
        cut = replace(cut, flow=_mixed(cut.flow, float(fault.gas_open), after))
    if fault.light_on is not None:
        light = cut.light if fault.light_on else 0.0
        cut = replace(cut, light=_mixed(cut.light, light, after))
    return cut


def guarded(script: Script, windows: Windows, fault: Fault, guard: Guard, tank: Tank) -> Script:
    """The script with the fault and a guard against it."""
    failed = faulted(script, windows, fault, tank)
    after = script.during(fault.begins_h, fault.begins_h + fault.lasts_h)
    match guard:
        case Guard.SMALLER_NEEDLE:
            return replace(failed, flow=SMALLER * failed.flow)
        case Guard.SECOND_VALVE:  # on a timer of its own; for the pump on the pump's plug
            allowed = 1.0 - after if fault.kind is FaultKind.PUMP else script.flow
            return replace(failed, flow=np.minimum(failed.flow, allowed))
        case Guard.NORMALLY_CLOSED:
            return replace(failed, flow=_mixed(failed.flow, 0.0, after))
        case Guard.READ_AFTER:
            unseen = script.during(fault.begins_h, fault.begins_h + READ_AFTER_H)
            return replace(failed, flow=_mixed(script.flow, failed.flow, unseen))
        case Guard.AIR_PUMP:
            at_night = (script.light < 0.5) & (script.flow < 0.5)
            least = np.where(at_night, AIR_PUMP_FACTOR, 0.0)
            return replace(failed, movement=np.maximum(failed.movement, least))


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a script does in the day after an hour; arrays have shape (n,).

    Attributes:
        to_ceiling_h, to_high_h: hours until the ceiling, and 1.3 times it, are passed; inf where never.
        peak_mg_l: highest CO2 [mg/L].
        morning_mg_l: CO2 in the morning [mg/L].
        least_oxygen_mg_l: lowest oxygen [mg/L].
    """

    to_ceiling_h: Array
    to_high_h: Array
    peak_mg_l: Array
    morning_mg_l: Array
    least_oxygen_mg_l: Array


def outcome(
    water: Waters, script: Script, begins_h: float, morning_h: float, ceiling_mg_l: float, oxygen_mg_l: Array
) -> Outcome:
    """What the day from `begins_h` [h from now] brings; `oxygen_mg_l` (n,) is oxygen now [mg/L]."""
    co2 = co2_ahead(water, script)
    oxygen = oxygen_ahead(water, script, co2, oxygen_mg_l)
    day = slice(script.edge(begins_h), script.edge(begins_h + WATCHED_H) + 1)
    hours = script.edges_h[day] - script.edges_h[day][0]
    return Outcome(
        to_ceiling_h=first_above(hours, co2[day], ceiling_mg_l),
        to_high_h=first_above(hours, co2[day], HIGH_FACTOR * ceiling_mg_l),
        peak_mg_l=co2[day].max(axis=0),
        morning_mg_l=co2[script.edge(morning_h)],
        least_oxygen_mg_l=oxygen[day].min(axis=0),
    )


def first_above(hours: Array, levels_mg_l: Array, limit_mg_l: float) -> Array:
    """Hour at which each level first passes a limit [mg/L], shape (n,); inf where it does not.

    `hours` has shape (m,), levels (m, n) [mg/L]; straight lines between. Source: elementary.
    """
    over = levels_mg_l > limit_mg_l
    place = over.argmax(axis=0)
    before = np.maximum(place - 1, 0)
    each = np.arange(levels_mg_l.shape[1])
    low, high = levels_mg_l[before, each], levels_mg_l[place, each]
    share = np.where(place > 0, (limit_mg_l - low) / np.where(high > low, high - low, 1.0), 0.0)
    crossed = hours[before] + share * (hours[place] - hours[before])
    return np.where(over.any(axis=0), crossed, np.inf)


def accounts(water: Waters, script: Script, co2_mg_l: Array) -> dict[str, Array]:
    """Where the gas went over the script, without water changes [mg/L of tank water], each (n,).

    `injected` is what would have dissolved in water without CO2, `bubbled_off` what did not because there was
    some; `to_air`, `taken_up`, `made` and `kept` are the water's. Levels are `co2_mg_l` (S+1, n) [mg/L].
    """
    dt = script.dt_h[:, None]
    mean = 0.5 * (co2_mg_l[1:] + co2_mg_l[:-1])
    gas = (script.flow * script.dissolving)[:, None] * water.gas_mg_l_h
    kla = script.movement[:, None] * water.kla_per_h
    return {
        "injected": (gas * dt).sum(axis=0),
        "bubbled_off": (gas * (water.fade / 30.0) * mean * dt).sum(axis=0),
        "to_air": (kla * (mean - water.air_mg_l) * dt).sum(axis=0),
        "taken_up": (script.light[:, None] * uptake(water, mean) * dt).sum(axis=0),
        "made": water.made_mg_l_h * float(script.edges_h[-1] - script.edges_h[0]),
        "kept": co2_mg_l[-1] - co2_mg_l[0],
    }
