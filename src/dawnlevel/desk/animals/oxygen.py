"""Use case: oxygen through day and night, and what surface movement does to it and to CO2."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from dawnlevel.chemistry import oxygen_saturation_mg_l
from dawnlevel.desk.animals.oxygen_views import MovementView, OxygenLimitView, OxygenReadingView, OxygenView
from dawnlevel.desk.casebook import SEED, Case, open_case
from dawnlevel.desk.cited import cited
from dawnlevel.desk.views import CurveView
from dawnlevel.desk.wording import percent
from dawnlevel.estimate.posterior import interval
from dawnlevel.plan.daynight import (
    DAY_H,
    Script,
    Waters,
    co2_ahead,
    flow_for_same_level,
    oxygen_ahead,
    script_ahead,
    uptake,
    waters,
)
from dawnlevel.plan.oxygen_told import OxygenTold, oxygen_told
from dawnlevel.store import Store
from dawnlevel.tank import OxygenReading
from dawnlevel.tank.clock import next_lights_on
from dawnlevel.units import hpa_to_atm

Array = npt.NDArray[np.float64]

EMERGENCY_MG_L = 4.0
"""Oxygen at which emergency aeration begins [mg/L]: UF/IFAS FA27 (Francis-Floyd)."""

LIMITS = (
    (5.0, "wanted for health; the daily minimum for early life", "ufifas_fa27"),
    (EMERGENCY_MG_L, "start emergency aeration", "ufifas_fa27"),
    (3.0, "daily minimum for feeding and growth", "boyd_gsa"),
    (2.0, "deaths below it", "ufifas_fa27"),
)
"""Published levels of oxygen for warm-water fish: UF/IFAS FA27 (Francis-Floyd), Boyd, both checked against
the source; 3 mg/L, and 5 for early life, also US EPA 440/5-86-003 (from memory)."""

CAUTIONS = (
    "This is a forecast from the CO2 balance; an oxygen test before the lights come on is worth more.",
    "It holds for well-mixed water: corners and the ground may have less.",
    "An air stone's bubbles fill with CO2 as they rise: it brings oxygen in better than it drives CO2 out.",
    "Fish gasping at the surface: close the gas, move the surface, then look for the cause.",
)

_MOVEMENTS = (("as it is", 1.0), ("half as much again", 1.5), ("twice", 2.0), ("three times", 3.0))
_ODD_SHARE = 0.02
"""Share of the draws that agree with the readings below which something does not fit; own choice."""

_EVERY = 5  # steps between points of the curve: half an hour


def oxygen_view(store: Store, name: str, now: datetime) -> OxygenView:
    """Oxygen of tank `name` at `now` (aware). Raises NoSuchTankError, NotEnoughRecordsError."""
    return oxygen_of(open_case(store, name, now))


def oxygen_of(case: Case) -> OxygenView:
    """Oxygen of an opened case."""
    posterior = case.found.posterior
    told = oxygen_told(posterior, case.records, case.found.present_bps, np.random.default_rng(SEED))
    water = told.water
    script, _ = script_ahead(case.tank, case.records, case.now)
    co2 = co2_ahead(water, script)
    oxygen = oxygen_ahead(water, script, co2)
    day = slice(script.edge(DAY_H), script.edge(2 * DAY_H) + 1)
    lowest = oxygen[day].min(axis=0)
    lowest_h = float(script.edges_h[day][int(np.argmin(np.median(oxygen[day], axis=1)))])
    on_h = _lights_on_h(case)
    air = water.breath
    movements = tuple(_movements(water, script, co2, on_h))
    made = air.made_per_co2 * uptake(water, co2[script.edge(on_h)])
    return OxygenView(
        tank=case.tank.name,
        at=case.local(case.now),
        minimum_mg_l=interval(lowest),
        minimum_at=case.local(case.now + timedelta(hours=lowest_h - DAY_H)),
        maximum_mg_l=interval(oxygen[day].max(axis=0)),
        saturation_mg_l=air.saturation_mg_l,
        exchange_per_h=interval(air.kla_per_h),
        animals_mg_l_h=interval(air.taken_mg_l_h),
        plants_dark_mg_l_h=interval(air.dark_mg_l_h),
        plants_light_mg_l_h=interval(made),
        from_animals=bool(case.tank.animals),
        limits=tuple(
            OxygenLimitView(level, means, float((lowest < level).mean()), source)
            for level, means, source in LIMITS
        ),
        movements=movements,
        curve=_curve(case, script, oxygen, day),
        readings=tuple(_reading(case, *one) for one in told.counted),
        told=_told(case, told, script, lowest),
        verdict=_verdict(float((lowest < LIMITS[0][0]).mean()), movements),
        cautions=CAUTIONS,
        sources=cited(
            [
                "ufifas_fa27",
                "boyd_gsa",
                "epa_1986",
                "benson_krause_1984",
                "wanninkhof_2014",
                "jahne_1987",
                "clarke_johnston_1999",
                "routine_oxygen",
                "ebeling_2006",
                "plant_oxygen",
                "pearling",
            ]
        ),
    )


def _reading(case: Case, reading: OxygenReading, oxygen_mg_l: float, sd_mg_l: float) -> OxygenReadingView:
    temp = case.tank.temp_c if reading.temp_c is None else reading.temp_c
    pressure = case.found.posterior.model.pressure_atm
    if reading.pressure_hpa is not None:
        pressure = float(hpa_to_atm(reading.pressure_hpa))
    full = float(oxygen_saturation_mg_l(temp, pressure))
    return OxygenReadingView(case.local(reading.at), oxygen_mg_l, 100.0 * oxygen_mg_l / full, sd_mg_l)


def _told(case: Case, told: OxygenTold, script: Script, lowest: Array) -> str:
    """What readings did to the forecast, in words."""
    if not told.counted:
        return (
            "No oxygen reading of the last month is recorded. One before the lights come on, in mg/L or in % "
            "of saturation, tells more of the night than all the rest: dawnlevel dissolved 6.5mg/L"
        )
    bare = waters(case.found.posterior, case.found.present_bps, np.random.default_rng(SEED))
    oxygen = oxygen_ahead(bare, script, co2_ahead(bare, script))
    before = interval(oxygen[script.edge(DAY_H) : script.edge(2 * DAY_H) + 1].min(axis=0))
    now = interval(lowest)
    is_one = len(told.counted) == 1
    number, them = ("One reading counts", "it") if is_one else (f"{len(told.counted)} readings count", "them")
    odd = ""
    if told.efficiency < _ODD_SHARE:
        odd = (
            " Hardly any possible tank agrees: read again, and check the kit, the animals and the "
            "surface as described."
        )
    return (
        f"{number}. Without {them} the lowest would be {before.median:.1f} mg/L ({before.low_90:.1f} to "
        f"{before.high_90:.1f}), with {them} {now.median:.1f} ({now.low_90:.1f} to {now.high_90:.1f}).{odd}"
    )


def _lights_on_h(case: Case) -> float:
    """Lights-on of the second day [h from now]."""
    at = next_lights_on(case.tank.photoperiod, case.zone, case.now + timedelta(hours=DAY_H))
    return (at - case.now) / timedelta(hours=1)


def _movements(water: Waters, script: Script, co2: Array, on_h: float) -> Iterator[MovementView]:
    """Each movement of the surface, the last one in the dark while no gas flows."""
    wanted = float(np.median(co2[script.edge(on_h)]))
    night = np.where((script.light < 0.5) & (script.flow < 0.5), 3.0, 1.0)
    scripts = [
        (label, factor, replace(script, movement=factor * script.movement)) for label, factor in _MOVEMENTS
    ]
    scripts.append(("three times, at night while no gas flows", 3.0, replace(script, movement=night)))
    day = slice(script.edge(DAY_H), script.edge(2 * DAY_H) + 1)
    for label, factor, other in scripts:
        level = co2_ahead(water, other)
        lowest = oxygen_ahead(water, other, level)[day].min(axis=0)
        gas = flow_for_same_level(water, other, on_h, wanted) if script.flow.any() else None
        yield MovementView(
            label=label,
            factor=factor,
            minimum_mg_l=interval(lowest),
            chance_below_5=float((lowest < LIMITS[0][0]).mean()),
            lights_on_mg_l=interval(level[script.edge(on_h)]),
            gas_factor=gas,
        )


def _verdict(chance: float, movements: tuple[MovementView, ...]) -> str:
    """What the figures come to."""
    if chance < 0.05:
        return "Oxygen stays above 5 mg/L in at least 19 of 20 possible tanks; the surface may stay as it is."
    better = [one for one in movements[1:] if one.chance_below_5 < 0.05]
    if not better:
        return (
            f"In {100 * chance:.0f} % of the possible tanks oxygen falls below 5 mg/L, and more movement "
            "alone does not settle it: measure oxygen before the lights come on, and run an air pump at "
            "night until you know."
        )
    best = min(better, key=lambda one: (one.gas_factor or 1.0, one.factor))
    cost = ""
    if best.gas_factor is not None:
        more = f"{best.gas_factor:.2g}"
        cost = f"; CO2 at lights-on then takes {'no more' if more == '1' else f'{more} times the'} gas"
    moved = best.label.replace("twice", "twice as much").replace("three times", "three times as much")
    return (
        f"In {percent(chance)} of the possible tanks oxygen falls below 5 mg/L; in "
        f"{percent(best.chance_below_5)} where the surface moves {moved}{cost}."
    )


def _curve(case: Case, script: Script, oxygen: Array, day: slice) -> CurveView:
    """Quantiles of oxygen over the repeating day, told from now on."""
    hours, drawn = script.edges_h[day][::_EVERY] - DAY_H, oxygen[day][::_EVERY]
    rows = np.quantile(drawn, (0.5, 0.25, 0.75, 0.05, 0.95), axis=1)
    moments = tuple(case.local(case.now + timedelta(hours=float(hour))) for hour in hours)
    return CurveView(moments, *(tuple(np.round(row, 3).tolist()) for row in rows))
