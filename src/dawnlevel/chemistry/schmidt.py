"""Schmidt numbers and diffusivities: how fast dissolved gases pass a water surface, one against another."""

import numpy as np
import numpy.typing as npt

from dawnlevel.chemistry._arrays import LN10, Floats, checked, checked_temp_c
from dawnlevel.chemistry.constants import GAS_CONSTANT_J_MOL_K
from dawnlevel.units import KELVIN_AT_0_C

REFERENCE_SCHMIDT = 600.0  # CO2 in fresh water at 20 degC, the custom of gas-exchange work


def schmidt_co2_wanninkhof_1992(temp_c: npt.ArrayLike) -> Floats:
    """Schmidt number of CO2 in fresh water [-] at `temp_c` [degC], 0 to 30; same shape.

    Raises OutOfRangeError; NaN gives NaN. Source: Wanninkhof 1992, JGR 97, 7373 (second-hand, as coded in a
    lake package).
    """
    t = checked("temperature", temp_c, 0.0, 30.0, "degC")
    return 1911.1 + t * (-118.11 + t * (3.4527 - 0.04132 * t))


def schmidt_o2_wanninkhof_1992(temp_c: npt.ArrayLike) -> Floats:
    """Schmidt number of oxygen in fresh water [-] at `temp_c` [degC], 0 to 30; same shape.

    Raises OutOfRangeError; NaN gives NaN. Source: Wanninkhof 1992, JGR 97, 7373 (second-hand, as coded in a
    lake package).
    """
    t = checked("temperature", temp_c, 0.0, 30.0, "degC")
    return 1800.6 + t * (-120.10 + t * (3.7818 - 0.047608 * t))


def schmidt_co2_wanninkhof_2014(temp_c: npt.ArrayLike) -> Floats:
    """Schmidt number of CO2 in fresh water [-] at `temp_c` [degC], 0 to 40; same shape.

    Raises OutOfRangeError; NaN gives NaN. Source: Wanninkhof 2014, L&O Methods 12, 351 (from memory; within
    0.5 % of the 1992 form at 15 to 28 degC).
    """
    t = checked_temp_c(temp_c)
    return 1923.6 + t * (-125.06 + t * (4.3773 + t * (-0.085681 + 0.00070284 * t)))


def schmidt_o2_wanninkhof_2014(temp_c: npt.ArrayLike) -> Floats:
    """Schmidt number of oxygen in fresh water [-] at `temp_c` [degC], 0 to 40; same shape.

    Raises OutOfRangeError; NaN gives NaN. Source: Wanninkhof 2014, L&O Methods 12, 351 (from memory; 4 to
    5 % below the 1992 form).
    """
    t = checked_temp_c(temp_c)
    return 1745.1 + t * (-124.34 + t * (4.8055 + t * (-0.10115 + 0.00086842 * t)))


def schmidt_o2_stream_metabolism(temp_c: npt.ArrayLike) -> Floats:
    """Schmidt number of oxygen in fresh water [-] at `temp_c` [degC], 0 to 40; same shape.

    Raises OutOfRangeError; NaN gives NaN. Source: the cubic used by Appling et al. 2018, doi
    10.1002/2017JG004140 (second-hand, from the public code of that paper).
    """
    t = checked_temp_c(temp_c)
    return 1568.0 + t * (-86.04 + t * (2.142 - 0.0216 * t))


schmidt_co2 = schmidt_co2_wanninkhof_2014  # the forms that reach a warm tank's 32 degC
schmidt_o2 = schmidt_o2_wanninkhof_2014


def schmidt_scale(temp_c: npt.ArrayLike, exponent: npt.ArrayLike = 0.5) -> Floats:
    """Transfer velocity of CO2 at `temp_c` [degC], 0 to 40, over that at Schmidt number 600 [-].

    `exponent` [-] is 1/2 for a wavy and 2/3 for a smooth surface, range 0.4 to 0.8 (Jahne et al. 1987,
    checked against the source's abstract). Shapes broadcast; NaN gives NaN. Raises OutOfRangeError.
    """
    n = checked("Schmidt exponent", exponent, 0.4, 0.8, "")
    return np.power(schmidt_co2(temp_c) / REFERENCE_SCHMIDT, -n)


def kla_ratio_co2_to_o2(temp_c: npt.ArrayLike, exponent: npt.ArrayLike = 0.5) -> Floats:
    """Exchange rate of CO2 over that of oxygen through the same surface [-]; fails for air bubbles.

    `temp_c` [degC], 0 to 40, and `exponent` [-], 0.4 to 0.8, broadcast; NaN gives NaN. Raises
    OutOfRangeError. Source: (Sc_CO2 / Sc_O2)^-n with Wanninkhof 2014.
    """
    n = checked("Schmidt exponent", exponent, 0.4, 0.8, "")
    return np.power(schmidt_co2(temp_c) / schmidt_o2(temp_c), -n)


def diffusivity_co2_jahne_1987(temp_c: npt.ArrayLike) -> Floats:
    """Diffusivity of CO2 in water [m2/s] at `temp_c` [degC], 0 to 40; same shape.

    Raises OutOfRangeError; NaN gives NaN. Source: fit of Jahne et al. 1987 (from memory; matches the CRC
    Handbook's table to 0.5 %).
    """
    kelvin = checked_temp_c(temp_c) + KELVIN_AT_0_C
    return 5019e-9 * np.exp(-19510.0 / (GAS_CONSTANT_J_MOL_K * kelvin))


def diffusivity_o2_han_bartels_1996(temp_c: npt.ArrayLike) -> Floats:
    """Diffusivity of oxygen in water [m2/s] at `temp_c` [degC], 0 to 40; same shape.

    Raises OutOfRangeError; NaN gives NaN. Source: Han & Bartels 1996, J. Phys. Chem. 100, 5597 (checked
    against the source's abstract).
    """
    kelvin = checked_temp_c(temp_c) + KELVIN_AT_0_C
    return 1e-4 * np.exp(LN10 * (-4.410 + 773.8 / kelvin - (506.4 / kelvin) ** 2))
