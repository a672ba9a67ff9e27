"""What is believed of a tank before its records speak: medians, spreads and where they come from."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import log
from types import MappingProxyType

from dawnlevel.tank import BaselineMethod, CellColour, Diffuser, Planting, Surface, Tank

FROM_90 = 3.29
"""A 90 % span of a normal is 3.29 standard deviations wide."""


@dataclass(frozen=True, slots=True)
class Parameter:
    """One unknown with its prior.

    Attributes:
        name: machine name with the unit.
        label: what a keeper calls it.
        centre: median (lognormal) or mean (normal).
        spread: standard deviation, of the logarithm where `is_log`.
        is_log: lognormal if true, normal if false.
        source: where median and spread come from (a key of the sources registry, or a status).
    """

    name: str
    label: str
    centre: float
    spread: float
    is_log: bool
    source: str


TRANSFER_VELOCITY_CM_H: Mapping[Surface, tuple[float, float]] = MappingProxyType(
    {
        Surface.STILL: (1.0, log(2.5 / 0.4) / FROM_90),
        Surface.GENTLE: (3.0, log(6.0 / 1.5) / FROM_90),
        Surface.RIPPLED: (7.0, log(12.0 / 4.0) / FROM_90),
        Surface.STRONG: (15.0, log(30.0 / 8.0) / FROM_90),
    }
)
"""Median [cm/h] and log sd of the CO2 transfer velocity by surface; judgement from published lake,
pond and laboratory figures (Emerson 1975; Cole et al. 2010; Heiskanen et al. 2014). No published
figure for an aquarium's surface was found, hence SURFACE_DOUBT on top."""

SURFACE_DOUBT = 0.35
"""Log sd added because keepers name a surface by eye; common practice, no source."""

UPTAKE_MG_L_H: Mapping[Planting, tuple[float, float]] = MappingProxyType(
    {Planting.SPARSE: (0.2, 0.8), Planting.MEDIUM: (0.8, 0.58), Planting.DENSE: (2.0, 0.6)}
)
"""Median [mg/L/h] and log sd of net uptake in full light and ample CO2: three computed routes
(light, river stands, growth; Van, Haller & Bowes 1976, Best 1986 and others), judgement."""

DISSOLVED_SHARE: Mapping[Diffuser, tuple[float, float]] = MappingProxyType(
    {
        Diffuser.COARSE: (0.3, log(0.5 / 0.1) / FROM_90),
        Diffuser.FINE: (0.6, log(0.85 / 0.3) / FROM_90),
        Diffuser.INLINE: (0.8, log(0.95 / 0.6) / FROM_90),
        Diffuser.REACTOR: (0.95, log(1.0 / 0.85) / FROM_90),
    }
)
"""Median share of the gas that dissolves and log sd, by diffuser; common practice, no source, with
computed bubble rise."""

MG_PER_BUBBLE = (0.10, log(4.0) / FROM_90)
"""Median [mg] and log sd: lognormal, factor 2 either way (computed from bubble volumes of 1-4 mm bores;
counter back-pressure is the largest error)."""

CUP_TRANSFER_VELOCITY_CM_H: Mapping[BaselineMethod, tuple[float, float]] = MappingProxyType(
    {
        BaselineMethod.STILL_CUP: (1.0, log(2.0 / 0.5) / FROM_90),
        BaselineMethod.STIRRED_CUP: (5.0, log(10.0 / 2.5) / FROM_90),
        BaselineMethod.AERATED: (20.0, log(40.0 / 10.0) / FROM_90),
    }
)
"""Median [cm/h] and log sd of the transfer velocity in a cup by method: computed cases of 0.5-2 cm/h
(still), 5 (stirred), k_eff 20 (air stone); the spans are judgement."""

CUP_DEPTH_CM = 7.5
"""Depth of an ordinary cup [cm]; common practice, no source. Its spread is in the velocity's."""

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

DAY_PH_SPREAD = 0.02
"""Sd [pH] of what a mixed-tank balance misses in a whole gas day (zones, swing of temperature);
set so that forecasts on practice tanks richer than the model cover as stated (docs/validation.md)."""

READ_PH_SD = 0.02
"""Sd [pH] of one meter reading: USGS check samples by trained staff, robust sd 0.02."""

HALF_SATURATION_MG_L = 5.0
"""Level at which uptake is half its maximum [mg/L]; 3.3-7.5 in Van, Haller & Bowes 1976."""

FALLBACK_ROOM_PPM = (650.0, 0.35)
"""Room CO2 where nobody measured it: median [ppm] and log sd; living rooms, from memory, not checked."""


def tank_parameters(tank: Tank) -> tuple[Parameter, ...]:
    """The tank's global unknowns with their priors, in the order of the model's vector."""
    velocity, velocity_spread = TRANSFER_VELOCITY_CM_H[tank.surface]
    share, share_spread = DISSOLVED_SHARE[tank.diffuser]
    uptake, uptake_spread = UPTAKE_MG_L_H[tank.planting]
    room, room_spread = (tank.room_co2_ppm, 0.2) if tank.room_co2_ppm else FALLBACK_ROOM_PPM
    gain = MG_PER_BUBBLE[0] * 3600.0 * share / tank.volume_l
    rows = (
        ("alkalinity_meq_l", "true carbonate alkalinity", 1.4, 0.8, True, "common practice, no source"),
        ("kh_kit_log", "KH kit's bias", 0.0, 0.07, False, "kit errors 5-10 %, common practice"),
        ("other_alkalinity_meq_l", "alkalinity that is no carbonate", 0.03, 0.9, True, "chemistry, phosphate and humic rows"),
        ("meter_offset_ph", "meter's offset", 0.0, 0.08, False, "pen meters +/-0.05-0.1, from memory"),
        ("meter_slope_log", "meter's slope", -0.01, 0.03, False, "makers' acceptance 85-105 %, second-hand"),
        ("room_co2_ppm", "CO2 in the room's air", room, room_spread, True, "strom_tejsen_2016"),
        ("cup_velocity_log", "how well the baseline cup degasses", 0.0, log(4.0) / FROM_90, False, "computed"),
        ("kla_per_h", "gas exchange with the room", velocity / tank.depth_cm, (velocity_spread**2 + SURFACE_DOUBT**2) ** 0.5, True, "emerson_1975"),
        ("gain_mg_l_h_per_bps", "CO2 dissolved per bubble a second", gain, (share_spread**2 + MG_PER_BUBBLE[1] ** 2) ** 0.5, True, "computed"),
        ("uptake_mg_l_h", "uptake by plants in light", uptake, uptake_spread, True, "van_haller_bowes_1976"),
        ("respiration_mg_l_h", "CO2 made by livestock, filter and soil", 0.12, 0.7, True, "clarke_johnston_1999"),
        ("gain_fade", "share of the gain lost at 30 mg/L", 0.1, 0.7, True, "common practice, no source"),
        ("start_mg_l", "level at the first record", 3.0, 0.9, True, "common practice, no source"),
        ("cup_start_mg_l", "level of the water that went into the cup", 5.0, 0.9, True, "common practice, no source"),
        ("cell_lag_h", "indicator cell's lag, rising", 2.0, log(6.0 / 0.8) / FROM_90, True, "computed"),
        ("cell_fall_log", "indicator cell's lag, falling over rising", 0.3, 0.3, False, "computed"),
        ("cell_solution_log", "indicator solution's strength", 0.0, 0.08, False, "common practice, no source"),
        ("cell_eye_ph", "dye and eye", 0.0, 0.12, False, "by eye +/-0.15-0.2, common practice"),
    )
    return tuple(Parameter(*row) for row in rows)

CUP_PH_SD = 0.03
"""Sd [pH] of one reading in the cup: the meter's and the room's swing; common practice, no source."""

EYE_PH_SD = 0.08
"""Scatter [pH] of one look at the cell, apart from the eye's standing habit; common practice, no source."""

KIT_LOW_STEPS, KIT_HIGH_STEPS, KIT_SOFT_DKH = 0.8, 0.5, 0.03
"""A count of n drops means a titre between n - 0.8 and n + 0.5 drops: by the book it lies within the last
drop (n - 1 to n), by habit the nearer one is noted (n - 0.5 to n + 0.5); edges soft by 0.03 dKH and a
tenth of a drop. Common practice, no source."""
