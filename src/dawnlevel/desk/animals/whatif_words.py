"""What faults and guards are called, what a keeper would see, and what to do first."""

from dawnlevel.desk.amounts import write_clock
from dawnlevel.desk.animals.whatif_views import HoursView, OutcomeView
from dawnlevel.desk.wording import percent
from dawnlevel.plan.faults import AIR_PUMP_FACTOR, READ_AFTER_H, SMALLER, Fault, FaultKind, Guard
from dawnlevel.plan.over import OVER_LIKELY
from dawnlevel.tank import CellColour

KINDS = {
    FaultKind.VALVE: "valve stuck open",
    FaultKind.SHIFTED: "timer shifted by some hours",
    FaultKind.DOUBLED: "timer open twice as long",
    FaultKind.CYLINDER: "cylinder runs empty, its outlet pressure rising",
    FaultKind.POWER: "power cut, valve, pump and light each way",
    FaultKind.PUMP: "pump stopped",
    FaultKind.RATE: "needle set too far open",
    FaultKind.WATER: "large water change",
}
"""What the kinds of fault are called where one is chosen."""

SEEN = {
    FaultKind.VALVE: "Bubbles in the counter after the gas should be closed; {cell}; pH far below the usual "
    "in the morning. Fish breathe faster and gather at the surface or the inflow.",
    FaultKind.SHIFTED: "Bubbles when none should rise; the cell's colour out of step with the light.",
    FaultKind.DOUBLED: "Bubbles still rise after the usual closing; pH at lights-off below the usual.",
    FaultKind.CYLINDER: "The gauge moves for the first time in weeks; more bubbles at the same needle; then "
    "none.",
    FaultKind.POWER: "Clocks that blink{power}",
    FaultKind.PUMP: "No flow at the outlet, a surface like a mirror; bubbles that rise straight and whole.",
    FaultKind.RATE: "More bubbles than the count set; pH falls faster in the ramp than on other days.",
    FaultKind.WATER: "pH jumps up as CO2 is diluted, and the KH kit may count otherwise; the cell lags for "
    "hours.",
}
"""Signs in the order of Merck Veterinary Manual and UF/IFAS FA27; the rest common practice, no source.
`{cell}` is what the cell would tell in the morning, `{power}` what stops and what does not: see `cell_text`
and `power_text`."""

GUARD_WORDS = {
    Guard.SMALLER_NEEDLE: f"the needle set to {SMALLER:g} of its count (an earlier opening is not counted)",
    Guard.SECOND_VALVE: "a second valve in the gas line, on a timer of its own or on the pump's plug",
    Guard.NORMALLY_CLOSED: "a valve that closes without power",
    Guard.READ_AFTER: f"pH read {READ_AFTER_H:g} h after the needle was touched, the count put right then",
    Guard.AIR_PUMP: f"an air pump at night, which exchanges {AIR_PUMP_FACTOR:g} times as much with the air",
}

FIRST_STEPS = (
    "Close the gas at the cylinder.",
    "Move the surface: air pump, outlet to the surface, lid open.",
    "Watch the fish; a partial change with aged water of the same temperature if they do not ease.",
    "Air the room before you look for the fault: CO2 from a hose that leaks harms people too.",
    "Ask a veterinarian who treats fish where they stay unwell.",
)

RESTS_ON = (
    "Each figure is worked out on every possible tank that your records leave; 9 in 10 lie in brackets.",
    "Water is taken as well mixed. With the pump stopped corners differ, and the surface is taken as still.",
    "Nobody steps in for 24 hours; found earlier, less happens.",
)


def cell_text(then: tuple[CellColour, ...], usual: tuple[CellColour, ...]) -> str:
    """What the cell would tell in the morning, by its likely colours with the fault and on a usual day."""
    if then == usual:
        return f"the cell {_either(then)} in the morning, as on other days, so it tells nothing"
    return f"the cell {_either(then)} in the morning, {_either(usual)} on other days"


def power_text(fault: Fault) -> str:
    """What stops in a power cut, and what does not."""
    silent = "." if fault.pump_runs else ", a silent filter."
    return silent + (" Bubbles rise on in the dark." if fault.gas_open else "")


def _either(colours: tuple[CellColour, ...]) -> str:
    return " or ".join(colours)


def over_now_words(chance: float) -> str:
    """What to do first where CO2 stands above the ceiling now, with this chance [-]."""
    return (
        f"CO2 is above the ceiling now, without any fault (chance {percent(chance)}): close the gas first. "
        "`dawnlevel today` says what to do, step by step."
    )


def hours_text(one: HoursView) -> str:
    """Hours until a level is passed, in words."""
    if one.already >= OVER_LIKELY:
        return f"passed already as it begins (in {percent(one.already)} of possible tanks)"
    if one.early_h is None:
        return f"not within 24 h (passed in {percent(one.chance)} of possible tanks)"
    if one.likely_h is None:
        return (
            f"not likely within 24 h (passed in {percent(one.chance)} of possible tanks; in 1 of 20 "
            f"before {one.early_h:.1f} h)"
        )
    late = "over 24" if one.late_h is None else f"{one.late_h:.1f}"
    return f"{one.likely_h:.1f} h (9 in 10: {one.early_h:.1f} to {late} h)"


def brief_text(one: OutcomeView) -> str:
    """What a fault does to CO2, in a line."""
    to, highest = one.to_ceiling, f"highest {one.peak_mg_l.median:.0f} mg/L"
    if to.already >= OVER_LIKELY:
        return f"above the ceiling as it begins, {highest}"
    if to.likely_h is None:
        return f"ceiling passed in {percent(to.chance)} of possible tanks, {highest}"
    return f"ceiling in {to.likely_h:.1f} h ({percent(to.chance)} of possible tanks), {highest}"


def fault_words(fault: Fault, begins_wall_h: float) -> str:
    """What fails, in a few words; `begins_wall_h` is its wall-clock hour [h]."""
    at = write_clock(round(begins_wall_h * 60.0) / 60.0 % 24.0)
    match fault.kind:
        case FaultKind.VALVE:
            return f"valve stuck open from {at}"
        case FaultKind.SHIFTED:
            return f"timer {abs(fault.by):g} h {'late' if fault.by > 0 else 'early'}"
        case FaultKind.DOUBLED:
            return "timer open twice as long"
        case FaultKind.CYLINDER:
            return f"cylinder runs empty: {fault.by:g} times the bubbles, then none"
        case FaultKind.PUMP:
            return f"pump stopped from {at}"
        case _:
            return _other(fault, at)


def _other(fault: Fault, at: str) -> str:
    if fault.kind is FaultKind.RATE:
        return f"needle moved: {fault.by:g} times the bubbles"
    if fault.kind is FaultKind.WATER:
        return f"{100 * fault.by:.0f} % of the water changed"
    gas = "valve stays open" if fault.gas_open else "valve closes"
    pump = "pump runs" if fault.pump_runs else "pump stops"
    light = "light as usual" if fault.light_on is None else "light off"
    return f"power cut {at}, {fault.lasts_h:g} h: {gas}, {pump}, {light}"
