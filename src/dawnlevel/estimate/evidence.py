"""The records that carry evidence, by kind, each with the number the model predicts for it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Protocol, Self

import numpy as np
import numpy.typing as npt

from dawnlevel.balance.cup import CUP_DEPTH_CM, CUP_TRANSFER_VELOCITY_CM_H
from dawnlevel.balance.trajectory import cell_levels
from dawnlevel.chemistry.air import air_co2_unchecked
from dawnlevel.chemistry.coefficients import CarbonateCoefficients, coefficients_unchecked, ph_from_co2_fast
from dawnlevel.estimate.gear import Gear, MeterThen, SolutionThen
from dawnlevel.estimate.observations import Colours, DropCounts, MeterReadings, Observed
from dawnlevel.estimate.priors import (
    CELL_EDGES_PH,
    CUP_PH_SD,
    EYE_PH_SD,
    KIT_HIGH_STEPS,
    KIT_LOW_STEPS,
    KIT_SOFT_DKH,
    READ_PH_SD,
)
from dawnlevel.estimate.timeline import Timeline
from dawnlevel.estimate.unknowns import Unknowns
from dawnlevel.tank import BaselineCup, CellSighting, KhTitration, PhReading, Record, Tank
from dawnlevel.units import MEQ_L_PER_DKH

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]

_CUP_STEPS = 8


class Evidence(Protocol):
    """One group of records: how likely they are, and what the model predicts for them."""

    def widened(self, factor: float) -> "Evidence":
        """The same records read `factor` times as coarsely, where they come from the meter."""
        ...

    @property
    def observed(self) -> Observed:
        """The records themselves."""
        ...

    def predict(self, unknowns: Unknowns, tank_level: Array) -> Array:
        """Predicted numbers, shape (n, B), from the levels (S+1, B)."""
        ...


def meter_ph(unknowns: Unknowns, true_ph: Array) -> Array:
    """What the keeper's meter shows at `true_ph` [-] (n, B): offset, and slope about pH 7."""
    slope = np.exp(unknowns["meter_slope_log"])
    return np.asarray(7.0 + unknowns["meter_offset_ph"] + slope * (true_ph - 7.0))


@dataclass(frozen=True)
class _FromMeter:
    """Records that come from the pH meter."""

    observed: MeterReadings

    def widened(self, factor: float) -> Self:
        """The same readings with the meter's noise `factor` times as large."""
        return replace(self, observed=replace(self.observed, sd_ph=self.observed.sd_ph * factor))


@dataclass(frozen=True)
class _NotFromMeter:
    """Records that keep their width."""

    def widened(self, factor: float) -> Self:
        """The same records: `factor` concerns the meter only."""
        del factor
        return self


@dataclass(frozen=True, slots=True)
class TankPh(_FromMeter):
    """Meter readings in the tank."""

    edge: Index
    day: Index
    meter: MeterThen

    def predict(self, unknowns: Unknowns, tank_level: Array) -> Array:
        """Meter pH [-], shape (n, B)."""
        true_ph = ph_from_co2_fast(tank_level[self.edge], unknowns["alkalinity_meq_l"], unknowns.water)
        return self.meter.shown(unknowns, true_ph) + unknowns.day_ph[self.day]


@dataclass(frozen=True, slots=True)
class CupPh(_FromMeter):
    """Meter readings in the baseline cup; `start_edge` is -1 where its day is not remembered."""

    start_edge: Index
    velocity_cm_h: Array
    hours: Array
    room_ppm: Array
    temp_c: float
    pressure_atm: float
    meter: MeterThen

    def predict(self, unknowns: Unknowns, tank_level: Array) -> Array:
        """Meter pH [-], shape (n, B)."""
        known_room = ~np.isnan(self.room_ppm)
        room_ppm = np.where(known_room, self.room_ppm, unknowns["room_co2_ppm"])
        air = air_co2_unchecked(np.asarray(self.temp_c), room_ppm, np.asarray(self.pressure_atm))
        before = (self.start_edge < 0)[:, None]
        start = np.where(before, unknowns["cup_start_mg_l"], tank_level[self.start_edge])
        rate = self.velocity_cm_h * np.exp(unknowns["cup_velocity_log"]) / CUP_DEPTH_CM
        alkalinity = unknowns["alkalinity_meq_l"]
        left = cup_level(start, air, rate, self.hours, alkalinity, unknowns.water)
        return self.meter.shown(unknowns, ph_from_co2_fast(left, alkalinity, unknowns.water))


def cup_level(
    start_mg_l: Array,
    air_mg_l: Array,
    rate_per_h: Array,
    hours: Array,
    alkalinity: Array,
    water: CarbonateCoefficients,
) -> Array:
    """CO2 left in a cup [mg/L] after `hours`; shapes broadcast to (n, B).

    d(DIC)/dt = -rate (C - Ceq) at fixed alkalinity; carbonate feeds the tail, dDIC/dC = 1 + CO3/CO2,
    taken as constant in each of eight steps (within 0.03 pH of balance.cup, measured in tests).
    """
    excess = np.maximum(start_mg_l - air_mg_l, 0.0) + 0.0 * rate_per_h
    below = np.minimum(start_mg_l - air_mg_l, 0.0)
    step_h = hours / _CUP_STEPS
    feed = (water.k2 / water.k1) * (alkalinity * 1e-3) ** 2
    for _ in range(_CUP_STEPS):
        co2_mol = (excess + air_mg_l) / 44009.5
        excess = excess * np.exp(-rate_per_h * step_h / (1.0 + feed / co2_mol**2))
    return np.asarray(air_mg_l + excess + below * np.exp(-rate_per_h * hours))


@dataclass(frozen=True, slots=True)
class KitKh(_NotFromMeter):
    """KH counts."""

    observed: DropCounts

    def predict(self, unknowns: Unknowns, tank_level: Array) -> Array:
        """KH the kit titrates [dKH], shape (n, B): carbonate and other alkalinity, times the kit's bias."""
        del tank_level
        total = unknowns["alkalinity_meq_l"] + unknowns["other_alkalinity_meq_l"]
        titre = total * np.exp(unknowns["kh_kit_log"]) / MEQ_L_PER_DKH
        return np.broadcast_to(titre, (self.observed.low_dkh.shape[0], titre.size))


@dataclass(frozen=True, slots=True)
class CellPh(_NotFromMeter):
    """Sightings of the indicator cell."""

    observed: Colours
    edge: Index
    dt_h: Array
    cell_water: CarbonateCoefficients
    solution: SolutionThen

    def predict(self, unknowns: Unknowns, tank_level: Array) -> Array:
        """Cell pH [-] as the eye takes it, shape (n, B)."""
        rise = unknowns["cell_lag_h"]
        inside = cell_levels(tank_level, self.dt_h, rise, rise * np.exp(unknowns["cell_fall_log"]))
        strength = self.solution.strength_meq_l(unknowns)
        return ph_from_co2_fast(inside[self.edge], strength, self.cell_water) + unknowns["cell_eye_ph"]


def gather(
    tank: Tank, records: Sequence[Record], timeline: Timeline, pressure_atm: float, gear: Gear
) -> list[Evidence]:
    """The groups of evidence in `records`; kinds without a record are left out."""
    groups = (
        _tank_ph(tank, [r for r in records if isinstance(r, PhReading)], timeline, gear),
        _cup_ph(tank, [r for r in records if isinstance(r, BaselineCup)], timeline, pressure_atm, gear),
        _kit_kh(tank, [r for r in records if isinstance(r, KhTitration)]),
        _cell_ph(tank, [r for r in records if isinstance(r, CellSighting)], timeline, gear),
    )
    return [group for group in groups if group is not None]


def _column(values: Sequence[float]) -> Array:
    return np.array(values, dtype=np.float64)[:, None]


def _edges(records: Sequence[Record], timeline: Timeline) -> Index:
    return np.array([timeline.edge_of(timeline.hour(record.at)) for record in records], dtype=np.intp)


def _tank_ph(tank: Tank, records: Sequence[PhReading], timeline: Timeline, gear: Gear) -> TankPh | None:
    if not records:
        return None
    edge = _edges(records, timeline)
    steps = np.minimum(edge, timeline.day.size - 1)
    observed = MeterReadings(_column([r.ph for r in records]), np.full((1, 1), tank.ph_step), READ_PH_SD)
    return TankPh(observed, edge, timeline.day[steps], gear.meter_then(records))


def _cup_ph(
    tank: Tank, records: Sequence[BaselineCup], timeline: Timeline, pressure_atm: float, gear: Gear
) -> CupPh | None:
    if not records:
        return None
    taken = [timeline.hour(record.at - timedelta(hours=record.hours)) for record in records]
    return CupPh(
        observed=MeterReadings(_column([r.ph for r in records]), np.full((1, 1), tank.ph_step), CUP_PH_SD),
        start_edge=np.array(
            [timeline.edge_of(hour) if timeline.remembers(hour) else -1 for hour in taken], dtype=np.intp
        ),
        velocity_cm_h=_column([CUP_TRANSFER_VELOCITY_CM_H[r.method].median for r in records]),
        hours=_column([r.hours for r in records]),
        room_ppm=_column([r.room_co2_ppm if r.room_co2_ppm is not None else np.nan for r in records]),
        temp_c=tank.temp_c,
        pressure_atm=pressure_atm,
        meter=gear.meter_then(records),
    )


def _kit_kh(tank: Tank, records: Sequence[KhTitration]) -> KitKh | None:
    if not records:
        return None
    count = _column([r.kh_dkh for r in records])
    step = _column([r.step_dkh or tank.kh_step_dkh for r in records])
    return KitKh(
        DropCounts(count - KIT_LOW_STEPS * step, count + KIT_HIGH_STEPS * step, KIT_SOFT_DKH + 0.1 * step)
    )


def _cell_ph(tank: Tank, records: Sequence[CellSighting], timeline: Timeline, gear: Gear) -> CellPh | None:
    if not records:
        return None
    upper = {darker: edge for (darker, _), edge in CELL_EDGES_PH.items()}
    lower = {lighter: edge for (_, lighter), edge in CELL_EDGES_PH.items()}
    low = _column([upper.get(r.colour, -50.0) for r in records])
    high = _column([lower.get(r.colour, 50.0) for r in records])
    solution = gear.solution_then(records)
    water = coefficients_unchecked(np.asarray(tank.temp_c), solution.alkalinity_meq_l * 1e-3)
    colours = Colours(low, high, EYE_PH_SD)
    return CellPh(colours, _edges(records, timeline), timeline.dt_h, water, solution)
