"""What the estimate makes of the keeper's records of meter and cell, in words."""

from collections.abc import Iterator

import numpy as np

from dawnlevel.desk.casebook import Case
from dawnlevel.desk.phrases import day_text
from dawnlevel.errors import DawnlevelError
from dawnlevel.estimate.gear import BUFFER_PH_SD, IN_WATER_PH_SD, OFFSET_FORGETS_D, Gear
from dawnlevel.supply.ph_meter import judge
from dawnlevel.tank import BufferCheck

_NINE_IN_TEN = 1.645


def gear_words(case: Case) -> tuple[str, ...]:
    """What is known of meter and cell, how old it is, and what the estimate does with it."""
    return (*meter_words(case), *cell_words(case))


def meter_words(case: Case) -> tuple[str, ...]:
    """The pH meter's part of `gear_words`."""
    return tuple(_meter(case, case.found.posterior.model.gear))


def cell_words(case: Case) -> tuple[str, ...]:
    """The indicator cell's part of `gear_words`."""
    return tuple(_cell(case, case.found.posterior.model.gear))


def _meter(case: Case, gear: Gear) -> Iterator[str]:
    now, slope = gear.offset(gear.end), gear.slope_log(gear.end)
    spread = f"within {_NINE_IN_TEN * now.sd:.2f} pH (nine in ten)"
    checks = [one for one in case.records if isinstance(one, BufferCheck) and one.at <= gear.end]
    if not checks:
        yield (
            f"No buffers are recorded for the pH meter: its offset is taken as 0 {spread}. Buffers would "
            f"bring that to {_NINE_IN_TEN * np.hypot(IN_WATER_PH_SD, BUFFER_PH_SD):.2f}."
        )
        return
    last = checks[-1]
    yield f"{_found(case, last)} {_age(gear, last)}"
    yield (
        f"Now it is taken as {abs(now.mean):.2f} pH too {'low' if now.mean < 0.0 else 'high'}, {spread}, and "
        f"its slope as {100.0 * np.exp(slope.mean):.0f} %; readings are corrected for that. Of the doubt, "
        f"{_NINE_IN_TEN * IN_WATER_PH_SD:.2f} pH is what no buffer shows of tank water."
    )
    if gear.meter_rows:
        yield (
            "Readings from before it was adjusted are taken as the meter showed then, and a baseline from "
            "then as it would show now."
        )


def _found(case: Case, check: BufferCheck) -> str:
    """What a check found and whether the meter was adjusted."""
    on = day_text(case.local(check.at))
    after = "was adjusted" if check.adjusted else "was left as it was"
    try:
        offset = judge(check).calibration.offset_ph
    except DawnlevelError:
        return f"What the pH meter showed in buffers on {on} fits no electrode; it {after}."
    if abs(offset) < 0.005:
        return f"In buffers on {on} the pH meter read right at pH 7; it {after}."
    side = "low" if offset < 0.0 else "high"
    return f"In buffers on {on} the pH meter read {abs(offset):.2f} too {side} at pH 7; it {after}."


def _age(gear: Gear, check: BufferCheck) -> str:
    days = (gear.end - check.at).days
    if days < 2:
        return "That is fresh and counts in full."
    return f"That is {days} days old: {100.0 * np.exp(-days / OFFSET_FORGETS_D):.0f} % of it still counts."


def _cell(case: Case, gear: Gear) -> Iterator[str]:
    within = f"within {100.0 * _NINE_IN_TEN * gear.solution_log_sd(gear.end):.0f} % (nine in ten)"
    number = gear.solution(gear.end)
    if number < 0:
        yield f"The indicator cell is taken as filled with 4 dKH, {within}; record its solution if it is not."
        return
    made = gear.solutions[number]
    yield (
        f"The indicator cell counts from the {made.kh_dkh:g} dKH recorded on "
        f"{day_text(case.local(made.at))}, {within}; it grows less sure with age."
    )
