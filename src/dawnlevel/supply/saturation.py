"""Liquid CO2 under its own vapour: pressure and both densities along the saturation line.

Equations 3.13 to 3.15 of Span & Wagner 1996, J. Phys. Chem. Ref. Data 25, 1509, doi 10.1063/1.555991.
Coefficients from memory; the tests hold all three against an independent coding of the full equation of state
(pressure within 0.01 %, densities within 0.3 %, -50 to 30.9 degC).
"""

import numpy as np
import numpy.typing as npt

from dawnlevel.arguments import Floats, checked
from dawnlevel.units import KELVIN_AT_0_C

CRITICAL_TEMP_K = 304.1282
CRITICAL_TEMP_C = CRITICAL_TEMP_K - KELVIN_AT_0_C
CRITICAL_PRESSURE_BAR = 73.773
CRITICAL_DENSITY_KG_M3 = 467.6
TRIPLE_TEMP_C = 216.592 - KELVIN_AT_0_C
"""Span & Wagner 1996, from memory; below it the liquid is frozen."""

_PRESSURE = ((-7.0602087, 1.0), (1.9391218, 1.5), (-1.6463597, 2.0), (-3.2995634, 4.0))
_LIQUID = ((1.9245108, 0.34), (-0.62385555, 0.5), (-0.32731127, 10 / 6), (0.39245142, 11 / 6))
_VAPOUR = (
    (-1.7074879, 0.34),
    (-0.82274670, 0.5),
    (-4.6008549, 1.0),
    (-10.111178, 7 / 3),
    (-29.742252, 14 / 3),
)


def _series(terms: tuple[tuple[float, float], ...], temp_k: Floats) -> Floats:
    """Sum of a (1 - T/Tc)^t; 0 at the critical temperature."""
    left = np.maximum(1.0 - temp_k / CRITICAL_TEMP_K, 0.0)
    return np.asarray(sum(factor * left**power for factor, power in terms), dtype=np.float64)


def _kelvin(temp_c: npt.ArrayLike) -> Floats:
    where = (
        "saturated CO2 (above 30.98 degC there is no liquid: ask for the cylinder's pressure with its fill)"
    )
    return checked(where, "temperature", temp_c, TRIPLE_TEMP_C, CRITICAL_TEMP_C, "degC") + KELVIN_AT_0_C


def saturation_pressure_bar(temp_c: npt.ArrayLike) -> Floats:
    """Absolute pressure [bar] of CO2 with liquid and vapour at `temp_c` [degC], -56.56 to 30.98; same shape.

    NaN gives NaN. Raises OutOfRangeError, BadInputError. Source: Span & Wagner 1996, eq. 3.13.
    """
    temp_k = _kelvin(temp_c)
    pressure = CRITICAL_PRESSURE_BAR * np.exp(CRITICAL_TEMP_K / temp_k * _series(_PRESSURE, temp_k))
    return np.asarray(pressure, dtype=np.float64)[()]


def liquid_density_kg_m3(temp_c: npt.ArrayLike) -> Floats:
    """Density [kg/m3] of the liquid at `temp_c` [degC], -56.56 to 30.98; same shape.

    NaN gives NaN. Raises OutOfRangeError, BadInputError. Source: Span & Wagner 1996, eq. 3.14.
    """
    return np.asarray(CRITICAL_DENSITY_KG_M3 * np.exp(_series(_LIQUID, _kelvin(temp_c))))[()]


def vapour_density_kg_m3(temp_c: npt.ArrayLike) -> Floats:
    """Density [kg/m3] of the vapour above the liquid at `temp_c` [degC], -56.56 to 30.98; same shape.

    NaN gives NaN. Raises OutOfRangeError, BadInputError. Source: Span & Wagner 1996, eq. 3.15.
    """
    return np.asarray(CRITICAL_DENSITY_KG_M3 * np.exp(_series(_VAPOUR, _kelvin(temp_c))))[()]
