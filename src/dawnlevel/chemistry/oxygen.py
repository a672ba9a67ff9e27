"""Oxygen that water holds in equilibrium with wet air."""

import numpy as np
import numpy.typing as npt

from dawnlevel.chemistry._arrays import LN10, Floats, checked, checked_temp_c
from dawnlevel.chemistry.air import PRESSURE_RANGE_ATM
from dawnlevel.units import KELVIN_AT_0_C

MMHG_PER_ATM = 760.0
O2_MG_PER_ML = 1.42905  # at 0 degC and 1 atm, as Garcia & Gordon's millilitres are counted


def oxygen_saturation_mg_l(temp_c: npt.ArrayLike, pressure_atm: npt.ArrayLike = 1.0) -> Floats:
    """Oxygen saturation of fresh water [mg/L] under wet air.

    Args:
        temp_c: temperature [degC], 0 to 40.
        pressure_atm: air pressure [atm], 0.4 to 1.2.

    Shapes broadcast; NaN gives NaN. Raises OutOfRangeError. Source: Benson & Krause 1980/84, as in Standard
    Methods 4500-O (second-hand); the pressure correction is from memory.
    """
    t = checked_temp_c(temp_c)
    pressure = checked("air pressure", pressure_atm, *PRESSURE_RANGE_ATM, "atm")
    inverse = 1.0 / (t + KELVIN_AT_0_C)
    quartic = 1.243800e10 - 8.621949e11 * inverse
    at_1_atm = np.exp(-139.34411 + inverse * (1.575701e5 + inverse * (-6.642308e7 + inverse * quartic)))
    vapour = np.exp(11.8571 - inverse * (3840.70 + 216961.0 * inverse))
    theta = 0.000975 + t * (-1.426e-5 + t * 6.436e-8)
    return at_1_atm * ((pressure - vapour) * (1.0 - theta * pressure)) / ((1.0 - vapour) * (1.0 - theta))


def oxygen_saturation_garcia_gordon_1992(temp_c: npt.ArrayLike, pressure_atm: npt.ArrayLike = 1.0) -> Floats:
    """Oxygen saturation of fresh water [mg/L] under wet air, the form of stream-metabolism work.

    Args:
        temp_c: temperature [degC], 0 to 40.
        pressure_atm: air pressure [atm], 0.4 to 1.2.

    Shapes broadcast; NaN gives NaN. Raises OutOfRangeError. Source: Garcia & Gordon 1992 with the
    Benson-Krause coefficients, as used by Appling et al. 2018, doi 10.1002/2017JG004140 (second-hand).
    """
    t = checked_temp_c(temp_c)
    mmhg = MMHG_PER_ATM * checked("air pressure", pressure_atm, *PRESSURE_RANGE_ATM, "atm")
    s = np.log((298.15 - t) / (KELVIN_AT_0_C + t))
    high = 4.94457 + s * (-0.256847 + s * 3.88767)
    ml_per_l = np.exp(2.00907 + s * (3.22014 + s * (4.0501 + s * high)))
    vapour_mmhg = np.exp(LN10 * (8.10765 - 1750.286 / (235.0 + t)))
    return ml_per_l * O2_MG_PER_ML * (mmhg - vapour_mmhg) / (MMHG_PER_ATM - vapour_mmhg)
