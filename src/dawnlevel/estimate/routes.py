"""Three routes to dissolved CO2, each on its own evidence, side by side.

The routes share nothing but the physics: pH with KH; the drop from the baseline cup with the room's air;
the indicator cell. Where they disagree, the full posterior tells which instrument it had to bend most.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from dawnlevel.balance.cup import CUP_DEPTH_CM, CUP_TRANSFER_VELOCITY_CM_H
from dawnlevel.balance.trajectory import cell_levels
from dawnlevel.chemistry.coefficients import (
    co2_from_ph_fast,
    coefficients_unchecked,
    ph_from_co2_fast,
)
from dawnlevel.estimate.evidence import cup_level
from dawnlevel.estimate.gear import IN_WATER_PH_SD, Known
from dawnlevel.estimate.posterior import Interval, Posterior, interval
from dawnlevel.estimate.priors import (
    CELL_EDGES_PH,
    CUP_PH_SD,
    EYE_PH_SD,
    KIT_HIGH_STEPS,
    KIT_LOW_STEPS,
    READ_PH_SD,
)
from dawnlevel.tank import BaselineCup, CellColour, CellSighting, KhTitration, PhReading, Record
from dawnlevel.units import MEQ_L_PER_DKH

Array = npt.NDArray[np.float64]

DRAWS = 4000
CELL_STALE = timedelta(hours=12)
"""A sighting older than this says nothing of the tank now; several lags of the cell; own choice."""

_OPEN_ENDS_PH = {CellColour.BLUE: (6.85, 7.7), CellColour.YELLOW: (5.8, 6.3)}
"""How far the two open-ended colours are taken to reach [pH]; common practice, no source."""


class RouteName(StrEnum):
    """The three routes."""

    PH_KH = "ph_kh"
    DROP = "drop"
    CELL = "cell"


@dataclass(frozen=True, slots=True)
class Route:
    """One route's answer for CO2 in the tank at `at` [mg/L], or why it has none.

    Attributes:
        name: which route.
        at: the moment (UTC) it speaks of; None where it has no answer.
        co2_mg_l: its interval; None where it has no answer.
        missing: the record it lacks; empty where it has an answer.
        log_mean, log_sd: of ln CO2; NaN where it has no answer.
    """

    name: RouteName
    at: datetime | None
    co2_mg_l: Interval | None
    missing: str = ""
    log_mean: float = float("nan")
    log_sd: float = float("nan")


def routes(
    posterior: Posterior, records: Sequence[Record], rng: np.random.Generator
) -> tuple[Route, Route, Route]:
    """The three routes at the latest pH reading (the cell at its latest sighting, brought to that moment)."""
    known = [record for record in records if record.at <= posterior.end]
    readings = [record for record in known if isinstance(record, PhReading)]
    if not readings:
        missing = "a pH reading in the tank"
        return (
            Route(RouteName.PH_KH, None, None, missing),
            Route(RouteName.DROP, None, None, missing),
            _cell_route(posterior, known, posterior.end, rng),
        )
    last = readings[-1]
    return (
        _ph_kh_route(posterior, known, last, rng),
        _drop_route(posterior, known, last, rng),
        _cell_route(posterior, known, last.at, rng),
    )


def _prior(posterior: Posterior, name: str, rng: np.random.Generator) -> Array:
    """Draws of one global unknown before the records speak, shape (DRAWS,)."""
    parameter = next(p for p in posterior.model.parameters if p.name == name)
    return parameter.value(rng.standard_normal(DRAWS))


def _known(figure: Known, rng: np.random.Generator) -> Array:
    """Draws of a figure of the meter as its checks leave it, shape (DRAWS,)."""
    return np.asarray(figure.mean + figure.sd * rng.standard_normal(DRAWS))


def _rounding(posterior: Posterior, rng: np.random.Generator) -> Array:
    """Reading noise and rounding of the meter [pH]."""
    step = posterior.model.tank.ph_step
    return READ_PH_SD * rng.standard_normal(DRAWS) + step * rng.uniform(-0.5, 0.5, DRAWS)


def _answer(name: RouteName, at: datetime, co2_mg_l: Array) -> Route:
    logs = np.log(np.maximum(co2_mg_l, 1e-3))
    return Route(name, at, interval(co2_mg_l), "", float(logs.mean()), float(logs.std()))


def _ph_kh_route(
    posterior: Posterior, records: Sequence[Record], last: PhReading, rng: np.random.Generator
) -> Route:
    kits = [record for record in records if isinstance(record, KhTitration)]
    if not kits:
        return Route(RouteName.PH_KH, None, None, "a KH count")
    count = kits[-1].kh_dkh
    step = kits[-1].step_dkh or posterior.model.tank.kh_step_dkh
    titre = count + step * rng.uniform(-KIT_LOW_STEPS, KIT_HIGH_STEPS, DRAWS)
    total = titre * MEQ_L_PER_DKH / np.exp(_prior(posterior, "kh_kit_log", rng))
    alkalinity = np.maximum(total - _prior(posterior, "other_alkalinity_meq_l", rng), 0.05)
    shown = last.ph + _rounding(posterior, rng)
    gear = posterior.model.gear
    slope, offset = np.exp(_known(gear.slope_log(last.at), rng)), _known(gear.offset(last.at), rng)
    true_ph = 7.0 + (shown - 7.0 - offset) / slope
    water = posterior.model.water(alkalinity)
    return _answer(RouteName.PH_KH, last.at, co2_from_ph_fast(true_ph, alkalinity, water))


def _drop_route(
    posterior: Posterior, records: Sequence[Record], last: PhReading, rng: np.random.Generator
) -> Route:
    cups = [record for record in records if isinstance(record, BaselineCup)]
    if not cups:
        return Route(RouteName.DROP, None, None, "a baseline cup")
    cup = cups[-1]
    alike = [c.ph for c in cups if c.method == cup.method and c.hours == cup.hours]
    baseline = float(np.mean(alike)) + CUP_PH_SD * rng.standard_normal(DRAWS) / np.sqrt(len(alike))
    alkalinity = _prior(posterior, "alkalinity_meq_l", rng)
    water = posterior.model.water(alkalinity)
    room = (
        _prior(posterior, "room_co2_ppm", rng)
        if cup.room_co2_ppm is None
        else cup.room_co2_ppm * np.exp(0.05 * rng.standard_normal(DRAWS))
    )
    rate = (
        CUP_TRANSFER_VELOCITY_CM_H[cup.method].median
        / CUP_DEPTH_CM
        * np.exp(_prior(posterior, "cup_velocity_log", rng))
    )
    taken = cup.at - timedelta(hours=cup.hours)
    start = _prior(posterior, "cup_start_mg_l", rng)
    if posterior.model.timeline.remembers(posterior.model.timeline.hour(taken)):
        start = rng.choice(posterior.levels_at([taken])[0], DRAWS)
    air = posterior.model.air_co2(room)
    left = cup_level(start, air, rate, np.asarray(cup.hours), alkalinity, water)
    drop = _true_drop(posterior, cup, baseline, last, rng)
    tank_ph = ph_from_co2_fast(left, alkalinity, water) - drop
    return _answer(RouteName.DROP, last.at, co2_from_ph_fast(tank_ph, alkalinity, water))


def _true_drop(
    posterior: Posterior, cup: BaselineCup, baseline: Array, last: PhReading, rng: np.random.Generator
) -> Array:
    """The drop [pH] from the cup's reading (DRAWS,) to the tank's; the meter may have been adjusted between.

    Between adjustments an offset is in both readings; over one, what buffers find is not, and what they
    cannot show in tank water still is.
    """
    gear, shown = posterior.model.gear, last.ph + _rounding(posterior, rng)
    slope = np.exp(_known(gear.slope_log(last.at), rng))
    if gear.stretch(cup.at) == gear.stretch(last.at):
        moved = gear.offset(cup.at).mean - gear.offset(last.at).mean
        return np.asarray((baseline - shown - moved) / slope)
    junction = IN_WATER_PH_SD * rng.standard_normal(DRAWS)
    slope_then = np.exp(_known(gear.slope_log(cup.at), rng))
    in_cup = (baseline - 7.0 - junction - _known(gear.offset_in_buffers(cup.at), rng)) / slope_then
    in_tank = (shown - 7.0 - junction - _known(gear.offset_in_buffers(last.at), rng)) / slope
    return np.asarray(in_cup - in_tank)


def _cell_route(
    posterior: Posterior, records: Sequence[Record], moment: datetime, rng: np.random.Generator
) -> Route:
    seen = [r for r in records if isinstance(r, CellSighting) and posterior.end - r.at <= CELL_STALE]
    if not seen:
        return Route(RouteName.CELL, None, None, "a look at the indicator cell in the last 12 hours")
    sighting = seen[-1]
    low, high = _colour_span(sighting.colour)
    eye = np.hypot(EYE_PH_SD, next(p for p in posterior.model.parameters if p.name == "cell_eye_ph").spread)
    cell_ph = rng.uniform(low, high, DRAWS) + eye * rng.standard_normal(DRAWS)
    gear = posterior.model.gear
    error = gear.solution_log_sd(sighting.at) * rng.standard_normal(DRAWS)
    strength = gear.solution_dkh(sighting.at) * MEQ_L_PER_DKH * np.exp(error)
    temp = np.asarray(posterior.model.tank.temp_c)
    inside = co2_from_ph_fast(cell_ph, strength, coefficients_unchecked(temp, strength * 1e-3))
    ratio = rng.choice(tank_over_cell(posterior, sighting.at, moment), DRAWS)
    return _answer(RouteName.CELL, moment, inside * ratio)


def _colour_span(colour: CellColour) -> tuple[float, float]:
    if colour in _OPEN_ENDS_PH:
        return _OPEN_ENDS_PH[colour]
    low = next(edge for (darker, _), edge in CELL_EDGES_PH.items() if darker == colour)
    high = next(edge for (_, lighter), edge in CELL_EDGES_PH.items() if lighter == colour)
    return low, high


def tank_over_cell(posterior: Posterior, seen: datetime, moment: datetime) -> Array:
    """Level of the tank at `moment` over the cell's at the sighting, by balance and lag, shape (n,)."""
    unknowns, timeline = posterior.unknowns, posterior.model.timeline
    rise = unknowns["cell_lag_h"]
    inside = cell_levels(posterior.levels, timeline.dt_h, rise, rise * np.exp(unknowns["cell_fall_log"]))
    in_cell = inside[timeline.edge_of(timeline.hour(seen))]
    return np.asarray(posterior.levels_at([moment])[0] / in_cell)


def disagreeing(found: Sequence[Route]) -> list[tuple[Route, Route]]:
    """Pairs of routes whose answers differ by more than their 90 % intervals allow."""
    answered = [route for route in found if route.co2_mg_l is not None]
    return [
        (first, second)
        for position, first in enumerate(answered)
        for second in answered[position + 1 :]
        if abs(first.log_mean - second.log_mean) > 1.645 * np.hypot(first.log_sd, second.log_sd)
    ]
