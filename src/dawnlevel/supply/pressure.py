"""What a CO2 cylinder's contents press with: liquid under vapour, gas alone, and a bottle full of liquid.

Off the saturation line the pressure follows from the short equation of state for CO2 of Span & Wagner 2003,
Int. J. Thermophys. 24, 111 (technical applications III, twelve terms in reduced Helmholtz energy).
Coefficients from memory; the tests hold it against an independent coding of the reference equation: within
0.7 % from -20 to 75 degC and fills up to 0.85 kg/L.
"""

import numpy as np
import numpy.typing as npt

from dawnlevel.arguments import Floats, checked
from dawnlevel.supply.saturation import (
    CRITICAL_DENSITY_KG_M3,
    CRITICAL_TEMP_C,
    CRITICAL_TEMP_K,
    TRIPLE_TEMP_C,
    liquid_density_kg_m3,
    saturation_pressure_bar,
    vapour_density_kg_m3,
)
from dawnlevel.units import HPA_PER_ATM, KELVIN_AT_0_C

GAS_CONSTANT_CO2_J_KG_K = 188.9241
"""Span & Wagner 1996: 8.31451 J/mol/K over 44.0098 g/mol; from memory."""

ATM_BAR = HPA_PER_ATM / 1000.0
CYLINDER_TEMP_C = (-20.0, 75.0)
CYLINDER_FILL_KG_L = (0.0, 0.85)
_WHERE = "CO2 cylinder"

# Factor, power of the reduced density, power of the inverse reduced temperature, power of the reduced density
# in the exponential (0: none). Span & Wagner 2003, from memory.
_TERMS = np.array(
    [
        (0.89875108, 1, 0.25, 0),
        (-2.1281985, 1, 1.25, 0),
        (-0.068190320, 1, 1.5, 0),
        (0.076355306, 3, 0.25, 0),
        (2.2053253e-4, 7, 0.875, 0),
        (0.41541823, 1, 2.375, 1),
        (0.71335657, 2, 2.0, 1),
        (3.0354234e-4, 5, 2.125, 1),
        (-0.36643143, 1, 3.5, 2),
        (-0.0014407781, 1, 6.5, 2),
        (-0.089166707, 4, 4.75, 2),
        (-0.023699887, 2, 12.5, 3),
    ]
)
_FACTOR, _DENSITY, _TEMP, _DAMPING = (_TERMS[:, column] for column in range(4))
_ROUNDS = 60  # halvings of a bracket: the answer is exact to the last bit


def one_phase_pressure_bar(temp_c: npt.ArrayLike, density_kg_m3: npt.ArrayLike) -> Floats:
    """Absolute pressure [bar] of CO2 that is all gas, or all liquid; shapes broadcast, nothing checked.

    Args:
        temp_c: temperature [degC].
        density_kg_m3: density [kg/m3]; between vapour and liquid the answer means nothing.

    Source: Span & Wagner 2003, twelve-term equation for CO2.
    """
    temp_k = np.asarray(temp_c, dtype=np.float64) + KELVIN_AT_0_C
    density = np.asarray(density_kg_m3, dtype=np.float64)
    reduced = (density / CRITICAL_DENSITY_KG_M3)[..., np.newaxis]
    inverse = (CRITICAL_TEMP_K / temp_k)[..., np.newaxis]
    damped = np.where(_DAMPING > 0.0, reduced**_DAMPING, 0.0)
    slope = _FACTOR * reduced**_DENSITY * inverse**_TEMP * np.exp(-damped) * (_DENSITY - _DAMPING * damped)
    pressure_pa = density * GAS_CONSTANT_CO2_J_KG_K * temp_k * (1.0 + slope.sum(axis=-1))
    return np.asarray(pressure_pa * 1e-5, dtype=np.float64)


def cylinder_pressure_bar(temp_c: npt.ArrayLike, fill_kg_per_l: npt.ArrayLike) -> Floats:
    """Absolute pressure [bar] in a cylinder that holds `fill_kg_per_l` of CO2 per litre of capacity.

    Args:
        temp_c: temperature of the whole cylinder [degC], -20 to 75.
        fill_kg_per_l: contents over water capacity [kg/L], 0 to 0.85; 0.667 is a usual full charge.

    With liquid and vapour the saturation pressure, whatever the fill; otherwise one-phase pressure. Shapes
    broadcast; NaN gives NaN. Raises OutOfRangeError, BadInputError. Sources: Span & Wagner 1996 (saturation),
    Span & Wagner 2003 (gas alone, liquid alone, above 30.98 degC).
    """
    temp = checked(_WHERE, "temperature", temp_c, *CYLINDER_TEMP_C, "degC")
    fill = checked(_WHERE, "fill", fill_kg_per_l, *CYLINDER_FILL_KG_L, "kg/L")
    temp, fill = np.broadcast_arrays(temp, fill)
    density = 1000.0 * fill
    under = np.minimum(temp, CRITICAL_TEMP_C)
    is_mixed = (
        (temp < CRITICAL_TEMP_C)
        & (density > vapour_density_kg_m3(under))
        & (density < liquid_density_kg_m3(under))
    )
    pressure = np.where(is_mixed, saturation_pressure_bar(under), one_phase_pressure_bar(temp, density))
    return np.asarray(pressure, dtype=np.float64)[()]


def gas_density_kg_m3(temp_c: npt.ArrayLike, pressure_bar: npt.ArrayLike = ATM_BAR) -> Floats:
    """Density [kg/m3] of gaseous CO2 at an absolute pressure; of the vapour where it would liquefy.

    Args:
        temp_c: temperature [degC], -20 to 75.
        pressure_bar: absolute pressure [bar], 0 to 70.

    Shapes broadcast; NaN gives NaN. Raises OutOfRangeError, BadInputError. Source: Span & Wagner 2003, solved
    by halving.
    """
    temp = checked("CO2 gas", "temperature", temp_c, *CYLINDER_TEMP_C, "degC")
    wanted = checked("CO2 gas", "pressure", pressure_bar, 0.0, 70.0, "bar")
    temp, wanted = np.broadcast_arrays(temp, wanted)
    under = np.minimum(temp, CRITICAL_TEMP_C)
    low = np.zeros_like(wanted)
    high = np.where(temp < CRITICAL_TEMP_C, vapour_density_kg_m3(under), CRITICAL_DENSITY_KG_M3)
    for _ in range(_ROUNDS):
        middle = 0.5 * (low + high)
        is_under = one_phase_pressure_bar(temp, middle) < wanted
        low, high = np.where(is_under, middle, low), np.where(is_under, high, middle)
    density = np.where(np.isnan(temp) | np.isnan(wanted), np.nan, 0.5 * (low + high))
    return np.asarray(density, dtype=np.float64)[()]


def liquid_full_temp_c(fill_kg_per_l: npt.ArrayLike) -> Floats:
    """Temperature [degC] at which warming liquid fills the whole cylinder; from there pressure climbs fast.

    `fill_kg_per_l` [kg/L], 0.47 to 1.1, same shape; at smaller fills the liquid boils away instead. NaN gives
    NaN. Raises OutOfRangeError, BadInputError. Source: liquid density of Span & Wagner 1996.
    """
    fill = checked(_WHERE, "fill", fill_kg_per_l, 0.47, 1.1, "kg/L")
    low, high = np.full_like(fill, TRIPLE_TEMP_C), np.full_like(fill, CRITICAL_TEMP_C)
    for _ in range(_ROUNDS):
        middle = 0.5 * (low + high)
        is_denser = liquid_density_kg_m3(middle) > 1000.0 * fill
        low, high = np.where(is_denser, middle, low), np.where(is_denser, high, middle)
    return np.asarray(np.where(np.isnan(fill), np.nan, high), dtype=np.float64)[()]


def last_liquid_share(temp_c: npt.ArrayLike, charge_kg_per_l: npt.ArrayLike) -> Floats:
    """Share [-] of the charge that is left when the last liquid boils away and the gauge begins to fall.

    Args:
        temp_c: temperature [degC], -56.56 to 30.98.
        charge_kg_per_l: full charge over water capacity [kg/L], 0.05 to 1.1.

    1 where the charge is gas from the beginning. Shapes broadcast; NaN gives NaN. Raises OutOfRangeError,
    BadInputError. Source: vapour density of Span & Wagner 1996.
    """
    charge = checked(_WHERE, "charge", charge_kg_per_l, 0.05, 1.1, "kg/L")
    return np.asarray(np.minimum(vapour_density_kg_m3(temp_c) / (1000.0 * charge), 1.0))[()]
