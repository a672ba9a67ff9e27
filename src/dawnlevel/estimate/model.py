"""One tank's model: from unknowns (standard normal before the records) to what every record should show.

The vector of unknowns z has shape (d, B) for B draws: first the global parameters of priors.py, then one
entry per needle setting, one per gas day for the drift of the gain, one per gas day for what a mixed-tank
balance misses, then the scores of meters and solutions before the latest. All are independent standard
normals before the records speak, so the log prior is -z'z/2.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from dawnlevel.balance.trajectory import Steps, levels
from dawnlevel.chemistry.air import air_co2_unchecked, pressure_atm_at_altitude
from dawnlevel.chemistry.coefficients import CarbonateCoefficients, coefficients_unchecked
from dawnlevel.chemistry.ionic import ionic_strength_from_conductivity
from dawnlevel.estimate.evidence import Evidence, gather
from dawnlevel.estimate.gear import Gear, gear_of
from dawnlevel.estimate.memory import remember
from dawnlevel.estimate.priors import (
    DAY_PH_SPREAD,
    DRIFT_SPREAD,
    HALF_SATURATION_MG_L,
    SETTING_SPREAD,
    Parameter,
    tank_parameters,
)
from dawnlevel.estimate.timeline import Timeline, build_timeline
from dawnlevel.estimate.unknowns import Unknowns
from dawnlevel.tank import BaselineCup, CellSighting, PhReading, Record, Tank
from dawnlevel.units import MEQ_L_PER_DKH

Array = npt.NDArray[np.float64]

_CELL_MEMORY_H = 10
"""Hours before a cell sighting that are stepped hourly, so that the cell's lag is followed."""

_LEAST_KLA_PER_H = 1e-3

_IONIC_PER_MEQ = 1.5e-3
"""Ionic strength [mol/L] per meq/L of alkalinity in calcium bicarbonate water (stoichiometry)."""

_SLICE = 512
"""Draws done at once: an array of 300 steps by 512 draws takes 1.2 MB, near a processor's cache."""


@dataclass(frozen=True, slots=True)
class TankModel:
    """The records of one tank up to `end`, ready to be confronted with draws.

    Attributes:
        tank: the tank as described.
        timeline: what happened, in steps.
        parameters: the global unknowns.
        evidence: the records the likelihood speaks of.
        gear: what is recorded of meter and cell.
        pressure_atm: air pressure [atm].
        fixed_ionic_strength: from conductivity [mol/L]; None where it follows the alkalinity.
        guess_mg_l: levels at the edges near the posterior's mode (S+1, 1); makes solving quicker.
    """

    tank: Tank
    timeline: Timeline
    parameters: tuple[Parameter, ...]
    evidence: tuple[Evidence, ...]
    gear: Gear
    pressure_atm: float
    fixed_ionic_strength: float | None
    guess_mg_l: Array | None = None

    @property
    def size(self) -> int:
        """Number of unknowns, d."""
        return (
            len(self.parameters) + self.timeline.n_settings + 2 * self.timeline.n_days + self.gear.n_earlier
        )

    @property
    def cell_alkalinity_meq_l(self) -> float:
        """Alkalinity of the solution in the cell now, as recorded [meq/L]; 4 dKH where it is not."""
        return self.gear.solution_dkh(self.gear.end) * MEQ_L_PER_DKH

    def unknowns(self, z: Array) -> Unknowns:
        """Physical values for z of shape (d, B)."""
        values = {
            parameter.name: parameter.value(row) for parameter, row in zip(self.parameters, z, strict=False)
        }
        values["kla_per_h"] = values["kla_per_h"] + _LEAST_KLA_PER_H
        first = len(self.parameters)
        second = first + self.timeline.n_settings
        third = second + self.timeline.n_days
        fourth = third + self.timeline.n_days
        alkalinity = values["alkalinity_meq_l"]
        return Unknowns(
            values=values,
            water=self.water(alkalinity),
            air_co2_mg_l=self.air_co2(values["room_co2_ppm"]),
            setting_log=SETTING_SPREAD * z[first:second],
            drift_log=DRIFT_SPREAD * np.cumsum(self._walk * z[second:third], axis=0),
            day_ph=DAY_PH_SPREAD * z[third:fourth],
            earlier=z[fourth:],
        )

    @property
    def _walk(self) -> Array:
        """Steps of the gain's random walk to each remembered day [sd of one day's step], shape (days, 1)."""
        return np.sqrt(self.timeline.days_between)[:, None]

    def water(self, alkalinity_meq_l: Array) -> CarbonateCoefficients:
        """Conditional constants for `alkalinity_meq_l` [meq/L], shape as given.

        Ionic strength from conductivity where it is known, but no less than the alkalinity alone gives.
        """
        ionic = alkalinity_meq_l * _IONIC_PER_MEQ
        if self.fixed_ionic_strength is not None:
            ionic = np.maximum(alkalinity_meq_l * 1e-3, self.fixed_ionic_strength)
        return coefficients_unchecked(np.asarray(self.tank.temp_c), ionic)

    def air_co2(self, room_co2_ppm: Array) -> Array:
        """Level at equilibrium with the room's air [mg/L], shape as given."""
        return air_co2_unchecked(np.asarray(self.tank.temp_c), room_co2_ppm, np.asarray(self.pressure_atm))

    def levels(self, unknowns: Unknowns) -> Array:
        """CO2 in the tank at every edge of the timeline [mg/L], shape (S+1, B)."""
        gain = _gain(self.timeline, unknowns)
        return tank_levels(self.timeline, unknowns, gain, unknowns["start_mg_l"], self.guess_mg_l)

    def near(self, z: Array) -> "TankModel":
        """The same model, quicker for draws near z (d, 1)."""
        return replace(self, guess_mg_l=self.levels(self.unknowns(z)))

    def widened(self, factor: float) -> "TankModel":
        """The same model with the meter's noise taken `factor` times as large."""
        return replace(self, evidence=tuple(group.widened(factor) for group in self.evidence))

    def predicted(self, z: Array) -> list[Array]:
        """What each group of records should show, each (n, B)."""
        unknowns = self.unknowns(z)
        tank_level = self.levels(unknowns)
        return [group.predict(unknowns, tank_level) for group in self.evidence]

    def log_likelihood(self, z: Array) -> Array:
        """Log likelihood of all records, shape (B,); done in slices that fit a processor's cache."""
        total = np.zeros(z.shape[1])
        for first in range(0, z.shape[1], _SLICE):
            part = slice(first, first + _SLICE)
            for group, predicted in zip(self.evidence, self.predicted(z[:, part]), strict=True):
                total[part] += group.observed.log_likelihood(predicted).sum(axis=0)
        return total

    def log_posterior(self, z: Array) -> Array:
        """Unnormalised log posterior of z, shape (B,)."""
        return np.asarray(self.log_likelihood(z) - 0.5 * np.einsum("ij,ij->j", z, z))


def _gain(timeline: Timeline, unknowns: Unknowns) -> Array:
    """Injected gain in each step [mg/L/h per bubble/s], shape (S, B)."""
    log_gain = unknowns.drift_log[timeline.day]
    if timeline.n_settings:
        log_gain = log_gain + unknowns.setting_log[np.maximum(timeline.setting, 0)]
    return np.asarray(unknowns["gain_mg_l_h_per_bps"] * np.exp(log_gain))


def tank_levels(
    timeline: Timeline, unknowns: Unknowns, gain: Array, start_mg_l: Array, guess_mg_l: Array | None = None
) -> Array:
    """CO2 at every edge [mg/L], shape (S+1, B), for gains of shape (S, B) and a start of shape (B,)."""
    injected = gain * timeline.rate_bps[:, None]
    fade = injected * (unknowns["gain_fade"] / 30.0)
    kla = unknowns["kla_per_h"]
    air = unknowns.air_co2_mg_l
    steps = Steps(
        dt_h=timeline.dt_h,
        source_mg_l_h=injected + (kla * air + unknowns["respiration_mg_l_h"]),
        loss_per_h=fade + kla,
        light=timeline.light,
        replaced=timeline.replaced,
        fresh_mg_l=air,
    )
    passes = 3 if guess_mg_l is None else 2
    found = levels(
        start_mg_l,
        steps,
        unknowns["uptake_mg_l_h"],
        HALF_SATURATION_MG_L,
        guess_mg_l=guess_mg_l,
        passes=passes,
    )
    return np.maximum(found, 0.05, out=found)


def build_model(
    tank: Tank, records: Sequence[Record], end: datetime, since: datetime | None = None
) -> TankModel:
    """The model of `tank` with its standing `records` (sorted by time) up to `end` (UTC).

    With `since` (UTC) it begins there: what meter and cell showed before is set aside, the rest counts.
    """
    standing = [
        record
        for record in records
        if record.at <= end
        and (since is None or record.at >= since or not isinstance(record, PhReading | CellSighting))
    ]
    start = standing[0].at if standing else end - timedelta(hours=1)
    start = start if since is None else since
    start = min(start, end - timedelta(minutes=1))
    memory = remember(tank, standing, start, end)
    extra = [
        moment for record in memory.records for moment in _extra_moments(record) if start <= moment <= end
    ]
    timeline = build_timeline(tank, memory.records, start, end, extra, memory.spans, memory.lead_ins)
    ionic = None
    if tank.conductivity_us_cm is not None:
        ionic = float(ionic_strength_from_conductivity(tank.conductivity_us_cm))
    pressure = float(pressure_atm_at_altitude(tank.altitude_m))
    gear = gear_of(memory.records, end)
    evidence = gather(tank, memory.records, timeline, pressure, gear)
    return TankModel(tank, timeline, _parameters(tank, gear), tuple(evidence), gear, pressure, ionic)


def _parameters(tank: Tank, gear: Gear) -> tuple[Parameter, ...]:
    """The global unknowns, meter and cell as the checks and recipes leave them."""
    offset, slope = gear.offset(gear.end), gear.slope_log(gear.end)
    solution = gear.solution_log_sd(gear.end)
    return tank_parameters(tank, (offset.mean, offset.sd), (slope.mean, slope.sd), solution)


def _extra_moments(record: Record) -> list[datetime]:
    """Moments that need an edge because a record's meaning reaches back in time."""
    if isinstance(record, CellSighting):
        return [record.at - timedelta(hours=hours) for hours in range(1, _CELL_MEMORY_H + 1)]
    if isinstance(record, BaselineCup):
        return [record.at - timedelta(hours=record.hours)]
    return []
