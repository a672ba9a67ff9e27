"""What is believed of a tank before its records speak: medians, spreads and where they come from."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from dawnlevel.balance.cell import CELL_LAG_H
from dawnlevel.balance.cup import CUP_TRANSFER_VELOCITY_CM_H
from dawnlevel.balance.exchange import TRANSFER_VELOCITY_CM_H
from dawnlevel.balance.injection import UPTAKE_MG_L_H, injected_mg_l_h_per_bps
from dawnlevel.tank import BaselineMethod, CellColour, Tank

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Parameter:
    """One unknown with its prior.

    Attributes:
        name: machine name with the unit.
        label: what a keeper calls it.
        centre: median (lognormal) or mean (normal), above the floor.
        spread: standard deviation, of the logarithm where `is_log`.
        is_log: lognormal if true, normal if false.
        source: where median and spread come from (a key of the sources registry, or a status).
        floor: what the value cannot go below, added to the rest.
    """

    name: str
    label: str
    centre: float
    spread: float
    is_log: bool
    source: str
    floor: float = 0.0

    @property
    def middle(self) -> float:
        """Median before the records, in the parameter's unit."""
        return self.floor + self.centre

    def value(self, z: Array) -> Array:
        """Values for standard normal scores z, any shape."""
        scaled = self.spread * z
        return np.asarray(
            self.floor + (self.centre * np.exp(scaled) if self.is_log else self.centre + scaled)
        )


SURFACE_DOUBT = 0.35
"""Log sd added to the transfer velocity's: keepers name a surface by eye; common practice, no source."""

OTHER_ALKALINITY_MEQ_L = (0.05, 0.9)
"""What a kit counts besides carbonate: median [meq/L] and log sd. End point 0.02 in soft water, 5 mg/L of
humic carbon 0.02, 1 mg/L of phosphate 0.005 (computed, chemistry.noncarbonate); the spread is judgement."""

CELL_EDGES_PH: Mapping[tuple[CellColour, CellColour], float] = MappingProxyType(
    {
        (CellColour.BLUE, CellColour.GREEN): 6.85,
        (CellColour.GREEN, CellColour.LIME): 6.55,
        (CellColour.LIME, CellColour.YELLOW): 6.30,
    }
)
"""pH inside the indicator cell at which an eye changes its word; common practice, no source (a 4 dKH
cell is called green around 30 mg/L, pH 6.65; below pH 6.3 it has no upper reading)."""

SETTING_SPREAD = 0.08
"""Log sd of the true flow about the count at each new needle setting; common practice, no source."""

DRIFT_SPREAD = 0.035
"""Log sd of the injected gain's change from one gas day to the next; common practice, no source."""

DAY_PH_SPREAD = 0.015
"""Sd [pH] of what a mixed-tank balance misses in a whole gas day (zones, swing of temperature);
set so that forecasts on practice tanks richer than the model cover as stated (docs/validation.md)."""

AHEAD_PH_SPREAD = 0.012
"""Sd [pH] of what a mixed-tank balance misses an hour and more ahead (mixing delay, light ramp); set like
DAY_PH_SPREAD."""

READ_PH_SD = 0.015
"""Sd [pH] of one meter reading against the next in the same tank; common practice, no source. (Trained
staff on check samples differ by a robust sd of 0.02 between them, USGS 1979-89; an offset cancels here.)"""

HALF_SATURATION_MG_L = 5.0
"""Level at which uptake is half its maximum [mg/L]; 3.3-7.5 in Van, Haller & Bowes 1976."""

OUTDOOR_PPM = 425.0
"""No room's air holds less CO2 than the air outside; 428 +/- 4 ppm extrapolated for 2026 from Mauna Loa."""

ROOM_EXCESS_PPM = (250.0, 0.9)
"""Room CO2 above the outdoor air where nobody measured it: median [ppm] and log sd; living rooms 450-1200,
from memory, not checked; closed bedrooms at night above 2000 (Strom-Tejsen et al. 2016) lie in the tail."""

MEASURED_ROOM_LOG_SD = 0.2
"""Log sd of a room's CO2 about a figure somebody measured: it swings by day; common practice, no source."""


CUP_PH_SD = 0.03
"""Sd [pH] of one reading in the cup: the meter's and the room's swing; common practice, no source."""

EYE_PH_SD = 0.08
"""Scatter [pH] of one look at the cell, apart from the eye's standing habit; common practice, no source."""

METER_OFFSET_PH = (0.0, 0.09)
"""Mean and sd of a meter's offset [pH] of which nothing is recorded; pens, ph_pen_error."""

METER_SLOPE_LOG = (-0.01, 0.03)
"""Mean and sd of the logarithm of its slope; makers_acceptance."""

SOLUTION_LOG_SD = 0.08
"""Log sd of the KH of a cell's solution of which nothing is recorded; common practice, no source."""

KIT_LOW_STEPS, KIT_HIGH_STEPS, KIT_SOFT_DKH = 1.0, 0.0, 0.03
"""A count of n drops means a titre between n - 1 and n drops: the last drop is the one that first changed
the colour. Edges are soft by 0.03 dKH and a tenth of a drop; the window is one drop wide, so that every
titre has one count's worth of likelihood. The softness is common practice, no source."""

_PRACTICE = "common practice, no source"

Row = tuple[str, str, float, float, bool, str] | tuple[str, str, float, float, bool, str, float]
"""A parameter as a row: its fields in order."""


def tank_parameters(
    tank: Tank,
    offset_ph: tuple[float, float] = METER_OFFSET_PH,
    slope_log: tuple[float, float] = METER_SLOPE_LOG,
    solution_log_sd: float = SOLUTION_LOG_SD,
) -> tuple[Parameter, ...]:
    """The tank's global unknowns with their priors, in the order of the model's vector.

    `offset_ph` and `slope_log` are mean and sd of the meter's offset [pH] and log slope now,
    `solution_log_sd` that of the cell's KH about its record: what checks and recipes left open.
    """
    rows = (*_water_and_meter(tank, offset_ph, slope_log), *_balance(tank), *_cell(solution_log_sd))
    return tuple(Parameter(*row) for row in rows)


def _water_and_meter(
    tank: Tank, offset_ph: tuple[float, float], slope_log: tuple[float, float]
) -> tuple[Row, ...]:
    """Alkalinity, the kit, the meter, the room, the cup."""
    room, room_spread, floor = (*ROOM_EXCESS_PPM, OUTDOOR_PPM)
    if tank.room_co2_ppm:
        room, room_spread, floor = tank.room_co2_ppm, MEASURED_ROOM_LOG_SD, 0.0
    other, other_spread = OTHER_ALKALINITY_MEQ_L
    cup = CUP_TRANSFER_VELOCITY_CM_H[BaselineMethod.STILL_CUP].log_sd
    return (
        ("alkalinity_meq_l", "true carbonate alkalinity", 1.4, 0.8, True, _PRACTICE),
        ("kh_kit_log", "KH kit's bias", 0.0, 0.09, False, "kh_kit_error"),
        ("other_alkalinity_meq_l", "alkalinity that is no carbonate", other, other_spread, True, "hunt_2011"),
        ("meter_offset_ph", "meter's offset", *offset_ph, False, "ph_pen_error"),
        ("meter_slope_log", "meter's slope", *slope_log, False, "makers_acceptance"),
        ("room_co2_ppm", "CO2 in the room's air", room, room_spread, True, "living_rooms", floor),
        ("cup_velocity_log", "how well the baseline cup degasses", 0.0, cup, False, "still_cup_model"),
    )


def _balance(tank: Tank) -> tuple[Row, ...]:
    """Gas exchange, gain, uptake, respiration, and the levels before the records."""
    velocity, uptake = TRANSFER_VELOCITY_CM_H[tank.surface], UPTAKE_MG_L_H[tank.planting]
    kla, kla_spread = velocity.median / tank.depth_cm, (velocity.log_sd**2 + SURFACE_DOUBT**2) ** 0.5
    gain = injected_mg_l_h_per_bps(tank.volume_l, tank.diffuser)
    bubble, made = "CO2 dissolved per bubble a second", "CO2 made by livestock, filter and soil"
    poured = "level of the water that went into the cup"
    return (
        ("kla_per_h", "gas exchange with the room", kla, kla_spread, True, "surface_priors"),
        ("gain_mg_l_h_per_bps", bubble, gain.median, gain.log_sd, True, "bubble_prior"),
        ("uptake_mg_l_h", "uptake by plants in light", uptake.median, uptake.log_sd, True, "uptake_priors"),
        ("respiration_mg_l_h", made, 0.12, 0.7, True, "clarke_johnston_1999"),
        ("gain_fade", "share of the gain lost at 30 mg/L", 0.1, 0.7, True, _PRACTICE),
        ("start_mg_l", "level at the first record", 3.0, 0.9, True, _PRACTICE),
        ("cup_start_mg_l", poured, 5.0, 0.9, True, _PRACTICE),
    )


def _cell(solution_log_sd: float) -> tuple[Row, ...]:
    """The indicator cell and the eye that reads it."""
    lag, falling = CELL_LAG_H, "indicator cell's lag, falling over rising"
    return (
        ("cell_lag_h", "indicator cell's lag, rising", lag.median, lag.log_sd, True, "cell_lag_model"),
        ("cell_fall_log", falling, 0.3, 0.3, False, "cell_lag_model"),
        ("cell_solution_log", "indicator solution's strength", 0.0, solution_log_sd, False, _PRACTICE),
        ("cell_eye_ph", "dye and eye", 0.0, 0.12, False, "eye_error"),
    )
