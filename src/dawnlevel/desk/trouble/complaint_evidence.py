"""What this tank's records say for or against each cause of a complaint, in sentences with their numbers."""

from collections.abc import Callable, Sequence
from datetime import timedelta
from typing import TypeVar

import numpy as np

from dawnlevel.desk.casebook import Case, shown_interval
from dawnlevel.desk.wording import band_text, clock_text, drop_or_level, level_text, rate_text
from dawnlevel.estimate.posterior import Interval, interval
from dawnlevel.plan.look import OFF_LOG, Array, Look
from dawnlevel.tank import CellSighting, FishSighting, KhTitration, RateSetting, Record, WaterChange

_Kind = TypeVar("_Kind", bound=Record)

_LATELY = timedelta(hours=36)


def evidence(kind: str, case: Case, seen: Look) -> str:
    """The sentence on one cause."""
    return _SAYS[kind](case, seen)


def _lights_on(case: Case, seen: Look) -> str:
    level = level_text(interval(seen.levels[-1]))
    band = f"band {band_text(case.found.goal)}"
    if seen.lead_h is None:
        when = f"for {case.local(seen.ons[-1]):%a %H:%M} the forecast, if nothing is touched, is"
        return f"No lights-on is recorded yet; {when} {level}, {band}."
    shown = shown_interval(case.found.goal, case.found.days[-1].quantity)
    told = drop_or_level(case.found.goal, shown)
    return f"At the last lights-on ({case.local(seen.ons[-1]):%a %H:%M}): {told}, {band}; that is {level}."


def _plateau(case: Case, seen: Look) -> str:
    rate = rate_text(case.found.present_bps)
    return (
        f"At {rate} the level before the lights would end at {level_text(interval(seen.plateau_mg_l))} "
        "if the gas ran long enough."
    )


def _half_life(case: Case, seen: Look) -> str:
    half = _one(np.log(2.0) / case.found.posterior.unknowns["kla_per_h"], "h")
    lead = "" if seen.lead_h is None else f" It had {seen.lead_h:.1f} h of gas before the last lights-on."
    return f"Half of the way to its end the level goes in {half}.{lead}"


def _late(case: Case, seen: Look) -> str:
    return f"{_plateau(case, seen)} {_half_life(case, seen)}"


def _gas_before(case: Case, seen: Look) -> str:
    del case
    if seen.lead_h is None:
        return "No lights-on is recorded yet."
    return (
        f"By the timer and the switches recorded, gas flowed {seen.lead_h:.1f} h before the last lights-on."
    )


def _closes(case: Case, seen: Look) -> str:
    del case
    if seen.close_before_h is None:
        return "No day with its lights-off is recorded yet."
    before = f"{seen.close_before_h:.1f} h before lights-off"
    return f"On the last whole day the gas closed {before}; 1 to 2 h is usual."


def _fell(case: Case, seen: Look) -> str:
    del seen
    drift = case.found.posterior.unknowns.drift_log
    if len(drift) < 2:
        return "Only one gas day is recorded, so nothing can have changed yet."
    change = interval(100.0 * np.expm1(drift[-1] - drift[0]))
    by = _spread(change, "%", sign=True)
    return f"Since the first day remembered what a bubble brings has changed by {by}."


def _unsteady(case: Case, seen: Look) -> str:
    if len(seen.ons) < 2:
        return "Only one lights-on is recorded; two or more are needed to compare."
    listed = ", ".join(
        f"{case.local(at):%a} {np.median(level):.0f}" for at, level in zip(seen.ons, seen.levels, strict=True)
    )
    text = f"Lights-on by day [mg/L]: {listed}.{_needle(case, seen)}"
    changed = _latest(case.records, WaterChange)
    return text if changed is None else f"{text} Last water change: {case.local(changed.at):%a %H:%M}."


def _needle(case: Case, seen: Look) -> str:
    """How often the needle was set anew over those days."""
    since = seen.ons[0] - timedelta(hours=12)
    counts = [record for record in case.records if isinstance(record, RateSetting) and record.at >= since]
    if not counts:
        return " The needle was not touched."
    listed = ", ".join(f"{case.local(one.at):%a} {one.bubbles_per_second:g}" for one in counts[-5:])
    return f" Needle set [bubbles/s]: {listed}."


def _light(case: Case, seen: Look) -> str:
    del seen
    uptake = _one(case.found.posterior.unknowns["uptake_mg_l_h"], "mg/L an hour")
    return f"At full light the plants take up to {uptake}."


def _ceiling(case: Case, seen: Look) -> str:
    del seen
    now = interval(case.found.posterior.levels[-1])
    text = f"CO2 now: {level_text(now)}; ceiling {case.found.goal.ceiling_mg_l:g} mg/L."
    fish = _latest(case.records, FishSighting)
    told = (
        ""
        if fish is None
        else f" Fish last recorded {fish.state.value} at {clock_text(case.local(fish.at))}."
    )
    return text + told


def _cell(case: Case, seen: Look) -> str:
    lag = _one(case.found.posterior.unknowns["cell_lag_h"], "h")
    sighting = _latest(case.records, CellSighting)
    if sighting is None or "cell_behind_rise" not in seen.margins:
        return f"The cell follows in about {lag}; no look at it in the last 12 hours is recorded."
    ratio = float(np.median(np.exp(seen.margins["cell_behind_rise"] + OFF_LOG)))
    side = "more" if ratio >= 1 else "less"
    return (
        f"The cell follows in about {lag}. When it was {sighting.colour.value} at "
        f"{clock_text(case.local(sighting.at))} the tank held {abs(100 * (ratio - 1)):.0f} % {side} "
        "than it showed."
    )


def _error(name: str, *, as_share: bool) -> Callable[[Case, Look], str]:
    """How far an instrument is off by the records."""

    def said(case: Case, seen: Look) -> str:
        del seen
        values = case.found.posterior.unknowns[name]
        found = interval(100.0 * np.expm1(values)) if as_share else interval(values)
        return f"By all records together it is off by {_spread(found, '%' if as_share else 'pH', sign=True)}."

    return said


def _counted_kh(case: Case, seen: Look) -> str:
    del seen
    counted = _latest(case.records, KhTitration)
    if counted is None:
        return "No KH is recorded."
    at = case.local(counted.at)
    return f"KH was last counted {at:%a} {at.day} {at:%b}: {counted.kh_dkh:g} dKH."


def _nothing(case: Case, seen: Look) -> str:
    del case, seen
    return "The records say nothing of it."


def _after_change(case: Case, seen: Look) -> str:
    del seen
    changed = _latest(case.records, WaterChange)
    if changed is None or case.now - changed.at > _LATELY:
        return "No water change is recorded in the last 36 hours."
    at = f"{case.local(changed.at):%a %H:%M}"
    return f"Water was changed {at}: look at chlorine and at its temperature first."


def _one(values: Array, unit: str) -> str:
    return _spread(interval(values), unit)


def _spread(found: Interval, unit: str, *, sign: bool = False) -> str:
    """Median and 90 % interval with two digits."""
    digits = 0 if abs(found.median) >= 10 or unit == "%" else 2 if unit == "pH" else 1
    form = f"{'+' if sign else ''}.{digits}f"
    # adding nought turns -0 into 0
    median, low, high = (round(v, digits) + 0.0 for v in (found.median, found.low_90, found.high_90))
    return f"{median:{form}} {unit} (9 in 10: {low:{form}} to {high:{form}})"


def _latest(records: Sequence[Record], kind: type[_Kind]) -> _Kind | None:
    return next((record for record in reversed(records) if isinstance(record, kind)), None)


_SAYS: dict[str, Callable[[Case, Look], str]] = {
    "low_at_lights_on": _lights_on,
    "high_at_lights_on": _lights_on,
    "too_little_gas": _plateau,
    "starts_late": _late,
    "fast_exchange": _half_life,
    "gas_fell": _fell,
    "gas_missed": _gas_before,
    "closes_early": _closes,
    "unsteady": _unsteady,
    "uptake_over_gas": _light,
    "overshoot": _plateau,
    "over_ceiling": _ceiling,
    "cell_behind_rise": _cell,
    "cell_behind_fall": _cell,
    "solution_strong": _error("cell_solution_log", as_share=True),
    "solution_weak": _error("cell_solution_log", as_share=True),
    "meter_off": _error("meter_offset_ph", as_share=False),
    "kit_off": _error("kh_kit_log", as_share=True),
    "kh_moved": _counted_kh,
    "uneven": _nothing,
    "not_co2": _nothing,
    "fish_health": _after_change,
}
