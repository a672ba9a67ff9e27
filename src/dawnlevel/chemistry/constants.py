"""Equilibrium constants of carbonic acid, water and the bicarbonate pairs, each named by its source.

Building blocks: `temp_c` [degC] is a scalar or an array of any shape, the result has the same shape. They
check nothing (0 to 50 degC is meant) and raise nothing; NaN gives NaN. Dissociation constants are in mol/kg
of water on the activity scale, at 1 atm. Dawnlevel calculates with Plummer & Busenberg 1982 and the water
constant of Millero 1979; the rivals are there so that tests and pages can show how little the choice matters.
"""

import numpy as np
import numpy.typing as npt

from dawnlevel.chemistry._arrays import LN10, Floats, floats
from dawnlevel.units import KELVIN_AT_0_C

CO2_G_MOL = 44.0095  # from standard atomic weights; from memory, not checked
PO4_G_MOL = 94.9714  # the same
GAS_CONSTANT_J_MOL_K = 8.314462618  # exact, SI of 2019; from memory, not checked
FARADAY_C_MOL = 96485.33212  # the same


def _kelvin(temp_c: npt.ArrayLike) -> Floats:
    return floats(temp_c) + KELVIN_AT_0_C


def _power10(exponent: Floats) -> Floats:
    return np.exp(LN10 * exponent)


def _log10_series(t: Floats, a: float, b: float, c: float, d: float, e: float) -> Floats:
    """10^(a + b T + c/T + d log10 T + e/T^2), the form of Plummer & Busenberg."""
    return _power10(a + b * t + (c + e / t) / t + d * np.log10(t))


def kh_plummer_busenberg_1982(temp_c: npt.ArrayLike) -> Floats:
    """Henry constant of CO2 [mol/kg/atm] at `temp_c` [degC]; same shape.

    Source: Plummer & Busenberg 1982, doi 10.1016/0016-7037(82)90056-4 (checked against the source's table).
    """
    return _log10_series(_kelvin(temp_c), 108.3865, 0.01985076, -6919.53, -40.45154, 669365.0)


def k1_plummer_busenberg_1982(temp_c: npt.ArrayLike) -> Floats:
    """First dissociation constant of carbonic acid [mol/kg] at `temp_c` [degC]; same shape.

    Source: Plummer & Busenberg 1982, doi 10.1016/0016-7037(82)90056-4 (checked against the source's table).
    """
    return _log10_series(_kelvin(temp_c), -356.3094, -0.06091964, 21834.37, 126.8339, -1684915.0)


def k2_plummer_busenberg_1982(temp_c: npt.ArrayLike) -> Floats:
    """Second dissociation constant of carbonic acid [mol/kg] at `temp_c` [degC]; same shape.

    Source: Plummer & Busenberg 1982, doi 10.1016/0016-7037(82)90056-4 (checked against the source's table).
    """
    return _log10_series(_kelvin(temp_c), -107.8871, -0.03252849, 5151.79, 38.92561, -563713.9)


def k_cahco3_plummer_busenberg_1982(temp_c: npt.ArrayLike) -> Floats:
    """Formation constant of the pair CaHCO3+ [kg/mol] at `temp_c` [degC]; same shape.

    Source: Plummer & Busenberg 1982, doi 10.1016/0016-7037(82)90056-4, also in wateq4f.dat (checked).
    """
    t = _kelvin(temp_c)
    return _power10(1209.120 + 0.31294 * t - 34765.05 / t - 478.782 * np.log10(t))


def k_mghco3_wateq4f(temp_c: npt.ArrayLike) -> Floats:
    """Formation constant of the pair MgHCO3+ [kg/mol] at `temp_c` [degC]; same shape.

    Source: wateq4f.dat, a data file of PHREEQC (checked against the source's table).
    """
    t = _kelvin(temp_c)
    return _power10(-59.215 + 2537.455 / t + 20.92298 * np.log10(t))


def kw_millero_1979(temp_c: npt.ArrayLike) -> Floats:
    """Ion product of water [mol2/kg2] at `temp_c` [degC]; same shape.

    Source: Millero 1979, a refit of Harned & Owen 1958 (second-hand, from the source of PyCO2SYS).
    """
    t = _kelvin(temp_c)
    return np.exp(148.9802 - 13847.26 / t - 23.6521 * np.log(t))


def kw_phreeqc_dat(temp_c: npt.ArrayLike) -> Floats:
    """Ion product of water [mol2/kg2] at `temp_c` [degC]; same shape. A rival, for comparison.

    Source: phreeqc.dat, a data file of PHREEQC (checked against the source's table).
    """
    t = _kelvin(temp_c)
    return _power10(293.29227 + 0.1360833 * t - 10576.913 / t - 123.73158 * np.log10(t) - 6.996455e-5 * t * t)


def kh_phreeqc_dat(temp_c: npt.ArrayLike) -> Floats:
    """Henry constant of CO2 [mol/kg/atm] at `temp_c` [degC]; same shape. A rival, for comparison.

    Source: phreeqc.dat, a data file of PHREEQC (checked against the source's table).
    """
    t = _kelvin(temp_c)
    return _power10(10.5624 - 2.3547e-2 * t - 3972.8 / t + 5.8746e5 / (t * t) + 1.9194e-5 * t * t)


def k1_harned_davis_1943(temp_c: npt.ArrayLike) -> Floats:
    """First dissociation constant [mol/kg] at `temp_c` [degC]; same shape. A rival, for comparison.

    Source: Harned & Davis 1943 (second-hand).
    """
    t = _kelvin(temp_c)
    return _power10(-(3404.71 / t + 0.032786 * t - 14.8435))


def k2_harned_scholes_1941(temp_c: npt.ArrayLike) -> Floats:
    """Second dissociation constant [mol/kg] at `temp_c` [degC]; same shape. A rival, for comparison.

    Source: Harned & Scholes 1941, as printed in Neal, House & Down 1998 (checked there).
    """
    t = _kelvin(temp_c)
    return _power10(-(2902.39 / t + 0.02379 * t - 6.4980))


def k1_millero_1979(temp_c: npt.ArrayLike) -> Floats:
    """First dissociation constant [mol/kg] at `temp_c` [degC]; same shape. A rival, for comparison.

    Source: Millero 1979, pure water (second-hand, from the source of PyCO2SYS).
    """
    t = _kelvin(temp_c)
    return np.exp(290.9097 - 14554.21 / t - 45.0575 * np.log(t))


def k2_millero_1979(temp_c: npt.ArrayLike) -> Floats:
    """Second dissociation constant [mol/kg] at `temp_c` [degC]; same shape. A rival, for comparison.

    Source: Millero 1979, pure water (second-hand, from the source of PyCO2SYS).
    """
    t = _kelvin(temp_c)
    return np.exp(207.6548 - 11843.79 / t - 33.6485 * np.log(t))


def k0_weiss_1974_mol_kg_atm(temp_c: npt.ArrayLike) -> Floats:
    """Solubility of CO2 by fugacity [mol/kg/atm] at `temp_c` [degC]; same shape. A rival, for comparison.

    Source: Weiss 1974 (second-hand, from the source of PyCO2SYS).
    """
    t = _kelvin(temp_c)
    return np.exp(-60.2409 + 9345.17 / t + 23.3585 * np.log(t / 100.0))


def k0_weiss_1974_mol_l_atm(temp_c: npt.ArrayLike) -> Floats:
    """Solubility of CO2 by fugacity [mol/L/atm] at `temp_c` [degC]; same shape. A rival, for comparison.

    Source: Weiss 1974 (second-hand, from an ocean observatory's code).
    """
    t = _kelvin(temp_c)
    return np.exp(-58.0931 + 9050.69 / t + 22.2940 * np.log(t / 100.0))


def fugacity_coefficient_weiss_1974(
    temp_c: npt.ArrayLike, pressure_atm: npt.ArrayLike = 1.0, *, pure: bool = False
) -> Floats:
    """Fugacity coefficient of CO2 [-] in air, or `pure`, at `temp_c` [degC] and `pressure_atm` [atm].

    Shapes broadcast. Source: Weiss 1974, virial form (from memory, not checked).
    """
    t = _kelvin(temp_c)
    virial_cm3_mol = -1636.75 + t * (12.0408 + t * (-0.0327957 + 3.16528e-5 * t))
    cross_cm3_mol = 57.7 - 0.118 * t
    effective = virial_cm3_mol if pure else virial_cm3_mol + 2.0 * cross_cm3_mol
    return np.exp(effective * floats(pressure_atm) / (82.057 * t))
