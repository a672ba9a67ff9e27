"""Use case: of a hand-over, the gear as recorded - gas, room, meter, solution - and what faults would do."""

import re
from collections.abc import Iterator
from datetime import date

from dawnlevel.desk.advice.explain_gear import cell_words, meter_words
from dawnlevel.desk.animals.whatif import whatif_of
from dawnlevel.desk.animals.whatif_views import FaultView
from dawnlevel.desk.casebook import Case
from dawnlevel.desk.handover.handover_views import FactView, Units
from dawnlevel.desk.handover.handover_words import wall_text
from dawnlevel.desk.phrases import chance, date_text
from dawnlevel.desk.shelf.cylinder_care import cylinder_retest
from dawnlevel.desk.shelf.cylinder_case import open_cylinder
from dawnlevel.desk.shelf.room import CAUTIONS, GasAtHand, room_view
from dawnlevel.desk.views import SourceView
from dawnlevel.errors import BadInputError
from dawnlevel.plan.over import OVER_LIKELY
from dawnlevel.units import KG_PER_LB

_CLOCK = re.compile(r"\b(\d\d):(\d\d)\b")

ROOM_M3 = 30.0
"""The room that is taken as an example [m3]; own choice."""

_USUAL_GAS_KG = 2.0
_FT3_PER_M3 = 1.0 / 0.3048**3


def gear_facts(case: Case, units: Units) -> tuple[FactView, ...]:
    """Gas left and its dates, what it would do to a room, meter and cell, as recorded."""
    meter, cell = " ".join(meter_words(case)), " ".join(cell_words(case))
    told = (FactView("pH meter", meter), FactView("Indicator cell", cell))
    return (*_gas(case, units), *_room(case, units), *(one for one in told if one.value))


def fault_facts(case: Case, units: Units) -> tuple[tuple[FactView, ...], tuple[SourceView, ...]]:
    """What each fault would do in a day with nobody there, the worst first, and its sources."""
    view = whatif_of(case)
    worst = sorted(
        view.faults,
        key=lambda one: (one.outcome.to_ceiling.chance, one.outcome.peak_mg_l.median),
        reverse=True,
    )
    return tuple(FactView(_named(one, units), _fault(one)) for one in worst), view.sources


def _named(fault: FaultView, units: Units) -> str:
    """What fails, its times on the clock asked for."""
    text = fault.what[:1].upper() + fault.what[1:]
    return _CLOCK.sub(lambda found: wall_text(int(found[1]) + int(found[2]) / 60.0, units), text)


def _fault(fault: FaultView) -> str:
    to, peak = fault.outcome.to_ceiling, fault.outcome.peak_mg_l
    when = "" if to.likely_h is None else f", after about {to.likely_h:.1f} h"
    if to.already >= OVER_LIKELY:
        when = ", as it begins already"
    return (
        f"CO2 up to {peak.median:.0f} mg/L (nine in ten: {peak.low_90:.0f} to {peak.high_90:.0f}); over the "
        f"ceiling in {chance(to.chance)} of possible tanks{when}. {fault.seen}"
    )


def _gas(case: Case, units: Units) -> Iterator[FactView]:
    """The cylinder, where one is recorded."""
    try:
        cylinder = open_cylinder(case.tank, case.records, case.now)
    except BadInputError as error:
        yield FactView("Gas cylinder", error.what)
        return
    if cylinder is None:
        yield FactView("Gas cylinder", "not recorded: what is left and when it runs out cannot be told")
        return
    left = cylinder.left_kg
    span = f"nine in ten: {_mass(left.low_90, units)} to {_mass(left.high_90, units)}"
    yield FactView("Gas left", f"{_mass(left.median, units)} ({span})")
    if cylinder.runs_out is not None:
        yield FactView("It runs out", _runs_out(*cylinder.runs_out))
    retest = cylinder_retest(cylinder.exchange)
    if retest is not None:
        is_over = retest < case.local(case.now).date()
        named = "Its test is overdue since" if is_over else "Its test is due"
        yield FactView(named, f"{date_text(retest)}; the stamp and the filler decide")


def _runs_out(early: date, likely: date, late: date) -> str:
    span = f"nine in ten: {date_text(early)} to {date_text(late)}"
    return f"about {date_text(likely)} ({span}); have the next one by {date_text(early)}"


def _room(case: Case, units: Units) -> Iterator[FactView]:
    """What the whole charge would do to a room."""
    try:
        cylinder = open_cylinder(case.tank, case.records, case.now)
    except BadInputError:
        cylinder = None
    gas_kg = _USUAL_GAS_KG if cylinder is None else cylinder.exchange.gas_kg
    view = room_view(GasAtHand(None, gas_kg), ROOM_M3, air_changes_per_h=0.0)
    size = f"{ROOM_M3:g} m3" if units is Units.METRIC else f"{ROOM_M3 * _FT3_PER_M3:.0f} cubic feet"
    yield FactView(
        f"If {_mass(gas_kg, units)} of gas vents",
        f"{view.mixed_percent:.1f} % CO2 in a closed room of {size}, up to {view.pooled_percent:.0f} % along "
        f"its floor; 4 % is immediately dangerous. {CAUTIONS[1]} {CAUTIONS[3]}",
    )


def _mass(mass_kg: float, units: Units) -> str:
    return f"{mass_kg:.3g} kg" if units is Units.METRIC else f"{mass_kg / KG_PER_LB:.3g} lb"
