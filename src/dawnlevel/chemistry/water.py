"""Properties of pure water that the equilibria need.

Building blocks: `temp_c` [degC] is a scalar or an array, the result has the same shape. They check nothing
(0 to 50 degC is meant) and raise nothing; NaN gives NaN.
"""

import numpy as np
import numpy.typing as npt

from dawnlevel.chemistry._arrays import Floats, floats
from dawnlevel.units import KELVIN_AT_0_C


def density_kg_l_kell_1975(temp_c: npt.ArrayLike) -> Floats:
    """Density of air-free water [kg/L] at `temp_c` [degC], 1 atm; same shape.

    Source: Kell 1975 (from memory; 0.99704 at 25 degC against 0.9970476 of the TEOS-10 library).
    """
    t = floats(temp_c)
    cubic = -46.170461e-6 + t * (105.56302e-9 - t * 280.54253e-12)
    numerator = 999.83952 + t * (16.945176 + t * (-7.9870401e-3 + t * cubic))
    return numerator / (1000.0 + 16.879850 * t)


def permittivity_malmberg_maryott_1956(temp_c: npt.ArrayLike) -> Floats:
    """Relative permittivity of water [-] at `temp_c` [degC]; same shape.

    Source: Malmberg & Maryott 1956 (from memory, not checked).
    """
    t = floats(temp_c)
    return 87.740 + t * (-0.40008 + t * (9.398e-4 - 1.410e-6 * t))


def vapour_pressure_atm_weiss_price_1980(temp_c: npt.ArrayLike) -> Floats:
    """Vapour pressure of fresh water [atm] at `temp_c` [degC]; same shape.

    Source: Weiss & Price 1980, Mar. Chem. 8, 347 (from memory; 0.03124 atm at 25 degC against 0.03128 of the
    CoolProp library).
    """
    t = floats(temp_c) + KELVIN_AT_0_C
    return np.exp(24.4543 - 6745.09 / t - 4.8489 * np.log(t / 100.0))


def debye_hueckel_a(temp_c: npt.ArrayLike) -> Floats:
    """Debye-Hueckel slope A [(L/mol)^0.5], for decimal logarithms, at `temp_c` [degC]; same shape.

    Source: the standard form 1.82483e6 sqrt(density) / (permittivity T)^1.5 (from memory, not checked).
    """
    t = floats(temp_c)
    screened = permittivity_malmberg_maryott_1956(t) * (t + KELVIN_AT_0_C)
    return 1.82483e6 * np.sqrt(density_kg_l_kell_1975(t)) / (screened * np.sqrt(screened))
