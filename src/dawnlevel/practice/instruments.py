"""What the keeper's meter, eye and fish show of the truth."""

from math import floor

import numpy as np

from dawnlevel.practice.truth import Fish, Instruments
from dawnlevel.tank import CellColour, FishState

CELL_EDGES_PH = ((CellColour.BLUE, 6.85), (CellColour.GREEN, 6.55), (CellColour.LIME, 6.30))
"""Lowest pH in a 4 dKH cell at which the colour is still called so; common practice, no source."""


def meter_ph(made: Instruments, ph: float, hour: float) -> float:
    """What this meter would show without noise and rounding [pH], for a true `ph` at `hour` [h]."""
    return 7.0 + made.slope * (ph - 7.0) + made.offset_ph + made.drift_ph_per_day * hour / 24.0


def shown_ph(made: Instruments, ph: float, hour: float, rng: np.random.Generator) -> float:
    """One reading [pH], noisy and rounded to the meter's step."""
    noisy = meter_ph(made, ph, hour) + made.noise_ph * float(rng.standard_normal())
    return round(made.step_ph * floor(noisy / made.step_ph + 0.5), 6)


def cell_colour(made: Instruments, cell_mg_l: float, at_c: float, rng: np.random.Generator) -> CellColour:
    """The cell's colour by eye, at `cell_mg_l` of CO2 in the cell [mg/L] and `at_c` [degC]."""
    seen = made.cell_water.ph(cell_mg_l, at_c) + made.eye_ph + made.eye_sd_ph * float(rng.standard_normal())
    for colour, edge in CELL_EDGES_PH:
        if seen > edge:
            return colour
    return CellColour.YELLOW


def fish_state(
    fish: Fish, co2_mg_l: float, rise_mg_l_h: float, limit_mg_l: float, rng: np.random.Generator
) -> FishState:
    """How the fish behave at `co2_mg_l` [mg/L] that has risen by `rise_mg_l_h` [mg/L/h] of late."""
    strain = (co2_mg_l + fish.weight_of_rise * max(rise_mg_l_h, 0.0)) / limit_mg_l
    strain += fish.eye_sd * float(rng.standard_normal())
    if strain > fish.distress_at:
        return FishState.DISTRESS
    return FishState.UNEASY if strain > fish.uneasy_at else FishState.CALM
