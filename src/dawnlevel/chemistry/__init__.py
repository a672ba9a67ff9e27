"""Equilibria, activities, solubility and colour of CO2-injected fresh water: arrays in, arrays out."""

from dawnlevel.chemistry.activity import (
    davies_gamma,
)
from dawnlevel.chemistry.air import (
    air_co2_mg_l,
    degassed_ph,
    pressure_atm_at_altitude,
)
from dawnlevel.chemistry.carbonate import (
    carbonate_coefficients,
    co2_from_ph,
    dic_mmol_l,
    ph_from_co2,
)
from dawnlevel.chemistry.coefficients import (
    CarbonateCoefficients,
    co2_from_ph_fast,
    ph_from_co2_fast,
)
from dawnlevel.chemistry.dye import (
    blue_fraction,
    bromothymol_blue_pka,
    bromothymol_blue_pka_half_width,
    cell_blue_fraction,
    cell_co2_from_blue_fraction,
    cell_ph,
)
from dawnlevel.chemistry.electrode import (
    MeterCalibration,
    buffer_ph,
    calibrate_two_point,
    calibrate_two_point_mv,
    nernst_slope_mv_per_ph,
)
from dawnlevel.chemistry.ionic import (
    ionic_strength_from_alkalinity,
    ionic_strength_from_conductivity,
    ionic_strength_from_hardness,
)
from dawnlevel.chemistry.noncarbonate import (
    carbonate_alkalinity_from_kit,
    kit_alkalinity_meq_l,
    organic_alkalinity_meq_l,
    phosphate_alkalinity_meq_l,
)
from dawnlevel.chemistry.oxygen import (
    oxygen_saturation_garcia_gordon_1992,
    oxygen_saturation_mg_l,
)
from dawnlevel.chemistry.schmidt import (
    kla_ratio_co2_to_o2,
    schmidt_co2,
    schmidt_o2,
    schmidt_scale,
)
from dawnlevel.chemistry.short_rule import (
    short_rule_co2_mg_l,
    short_rule_error,
)
from dawnlevel.tank.shelf import Buffer

__all__ = [
    "Buffer",
    "CarbonateCoefficients",
    "MeterCalibration",
    "air_co2_mg_l",
    "blue_fraction",
    "bromothymol_blue_pka",
    "bromothymol_blue_pka_half_width",
    "buffer_ph",
    "calibrate_two_point",
    "calibrate_two_point_mv",
    "carbonate_alkalinity_from_kit",
    "carbonate_coefficients",
    "cell_blue_fraction",
    "cell_co2_from_blue_fraction",
    "cell_ph",
    "co2_from_ph",
    "co2_from_ph_fast",
    "davies_gamma",
    "degassed_ph",
    "dic_mmol_l",
    "ionic_strength_from_alkalinity",
    "ionic_strength_from_conductivity",
    "ionic_strength_from_hardness",
    "kit_alkalinity_meq_l",
    "kla_ratio_co2_to_o2",
    "nernst_slope_mv_per_ph",
    "organic_alkalinity_meq_l",
    "oxygen_saturation_garcia_gordon_1992",
    "oxygen_saturation_mg_l",
    "ph_from_co2",
    "ph_from_co2_fast",
    "phosphate_alkalinity_meq_l",
    "pressure_atm_at_altitude",
    "schmidt_co2",
    "schmidt_o2",
    "schmidt_scale",
    "short_rule_co2_mg_l",
    "short_rule_error",
]
