"""Equilibria, activities, solubility and colour of CO2-injected fresh water: arrays in, arrays out."""

from dawnlevel.chemistry.activity import davies_gamma
from dawnlevel.chemistry.air import air_co2_mg_l, degassed_ph, pressure_atm_at_altitude
from dawnlevel.chemistry.carbonate import carbonate_coefficients, co2_from_ph, dic_mmol_l, ph_from_co2
from dawnlevel.chemistry.coefficients import CarbonateCoefficients, co2_from_ph_fast, ph_from_co2_fast
from dawnlevel.chemistry.ionic import (
    ionic_strength_from_alkalinity,
    ionic_strength_from_conductivity,
    ionic_strength_from_hardness,
)

__all__ = [
    "CarbonateCoefficients",
    "air_co2_mg_l",
    "carbonate_coefficients",
    "co2_from_ph",
    "co2_from_ph_fast",
    "davies_gamma",
    "degassed_ph",
    "dic_mmol_l",
    "ionic_strength_from_alkalinity",
    "ionic_strength_from_conductivity",
    "ionic_strength_from_hardness",
    "ph_from_co2",
    "ph_from_co2_fast",
    "pressure_atm_at_altitude",
]
