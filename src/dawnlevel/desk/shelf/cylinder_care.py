"""The cylinder as a thing that stands in a room: how warm it may get, how it is handled and tested."""

from datetime import date

import numpy as np

from dawnlevel.desk.phrases import date_text
from dawnlevel.desk.shelf.room_views import CylinderCareView, RetestView
from dawnlevel.desk.shelf.shelf_views import HeatView
from dawnlevel.supply.cylinder import USUAL_FILL_KG_L
from dawnlevel.supply.handling import BURST_DISC_BAR, HANDLING, RETEST_SOURCE, RETEST_YEARS, retest_due
from dawnlevel.supply.pressure import ATM_BAR, cylinder_pressure_bar, liquid_full_temp_c
from dawnlevel.tank import CylinderExchange, CylinderStandard

_WARM_C = (10.0, 20.0, 30.0, 40.0, 50.0, 60.0)
_LIQUID_MAY_FILL_KG_L = 0.47

STANDARDS: dict[CylinderStandard, str] = {
    CylinderStandard.DOT_3AL: "aluminium, stamped DOT 3AL (the 12-year allowance leaves CO2 out)",
    CylinderStandard.DOT_3AA: "steel, stamped DOT 3AA",
    CylinderStandard.FOREIGN_IN_US: "from abroad, used in the US",
    CylinderStandard.ADR: "under ADR, in Europe",
}
"""What a keeper calls the rules a cylinder was made to."""


def care_view(exchange: CylinderExchange | None) -> CylinderCareView:
    """How a cylinder is kept, for the one of `exchange`, or for a usual one where None."""
    fill = USUAL_FILL_KG_L if exchange is None else fill_kg_l(exchange)
    heat, full = heat_of(fill), liquid_full_c(fill)
    return CylinderCareView(
        fill_kg_l=fill,
        is_recorded=exchange is not None and exchange.capacity_l is not None,
        liquid_full_c=full,
        disc_low_bar=BURST_DISC_BAR[0],
        disc_high_bar=BURST_DISC_BAR[1],
        heat=heat,
        hot=hot_text(heat, full),
        rules=tuple(rule.text for rule in HANDLING if rule.source not in RETEST_SOURCE.values()),
        retests=tuple(
            RetestView(standard.value, label, RETEST_YEARS[standard], RETEST_SOURCE[standard])
            for standard, label in STANDARDS.items()
        ),
        retest_due=None if exchange is None else cylinder_retest(exchange),
    )


def cylinder_retest(exchange: CylinderExchange) -> date | None:
    """When the cylinder is due for its test; None where stamp or standard is not known."""
    tested = exchange.tested_in
    return None if tested is None else retest_due(exchange.standard, *tested)


def retest_text(due: date, today: date) -> str:
    """When the cylinder's test is due, or since when it is overdue, in a sentence."""
    if due >= today:
        return f"Its test is due by {date_text(due)}."
    return (
        f"Its test is overdue since {date_text(due)}: do not have it filled again, hand it in for an "
        "exchange or a retest; your gas supplier knows the rule that holds."
    )


def fill_kg_l(exchange: CylinderExchange) -> float:
    """Charge over water capacity [kg/L]; the usual one where the capacity is not known."""
    return exchange.gas_kg / exchange.capacity_l if exchange.capacity_l else USUAL_FILL_KG_L


def liquid_full_c(fill: float) -> float | None:
    """Warmth at which liquid fills a cylinder of `fill` [kg/L] [degC]; None where it boils away before."""
    return float(liquid_full_temp_c(fill)) if fill >= _LIQUID_MAY_FILL_KG_L else None


def heat_of(fill: float) -> tuple[HeatView, ...]:
    """What a full cylinder of `fill` [kg/L] presses with as it gets warm."""
    bars = cylinder_pressure_bar(np.array(_WARM_C), fill) - ATM_BAR
    return tuple(
        HeatView(temp, float(bar), bool(bar >= BURST_DISC_BAR[0]))
        for temp, bar in zip(_WARM_C, bars, strict=True)
    )


def hot_text(heat: tuple[HeatView, ...], full_c: float | None) -> str:
    """What a full cylinder presses with as it gets warm, in words."""
    disc = " (its relief disc may open)"
    rows = (f"{one.gauge_bar:.0f} bar at {one.temp_c:.0f} °C{disc if one.from_disc else ''}" for one in heat)
    full = ""
    if full_c is not None:
        full = f" From {full_c:.0f} °C on liquid fills it and pressure climbs with every degree."
    return f"It presses {', '.join(rows)}.{full}"
