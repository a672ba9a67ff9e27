"""The carbonate system without checks: what the estimator calls a million times.

Four activity-corrected ("conditional") constants turn the activity a = 10^-pH, which a meter reads, into
concentrations: [HCO3] a / [CO2] = k1, [CO3] a / [HCO3] = k2, [OH] a = kw, [H] = a / gamma1. Concentrations
are in mol/L; mol/kg is taken as mol/L, which costs 0.3 to 0.5 % (the density of water).
"""

from dataclasses import dataclass

import numpy as np

from dawnlevel.chemistry._arrays import LN10, Floats, floats
from dawnlevel.chemistry.activity import log_gamma1_davies
from dawnlevel.chemistry.constants import (
    CO2_G_MOL,
    k1_plummer_busenberg_1982,
    k2_plummer_busenberg_1982,
    kw_millero_1979,
)

MOL_PER_MG_CO2 = 1e-3 / CO2_G_MOL


@dataclass(frozen=True, slots=True)
class CarbonateCoefficients:
    """Conditional constants of one water, or of many: scalars or arrays that broadcast with the readings.

    Attributes:
        k1: [HCO3] a / [CO2], [mol/L].
        k2: [CO3] a / [HCO3], [mol/L].
        kw: [OH] a, [mol2/L2].
        gamma1: activity coefficient of a singly charged ion [-].
    """

    k1: Floats
    k2: Floats
    kw: Floats
    gamma1: Floats


def coefficients_unchecked(temp_c: Floats, ionic_strength_mol_l: Floats) -> CarbonateCoefficients:
    """Conditional constants at `temp_c` [degC] and `ionic_strength_mol_l` [mol/L]; shapes broadcast.

    Sources: Plummer & Busenberg 1982 (K1, K2), Millero 1979 (Kw), Davies (activity; gamma2 = gamma1^4).
    """
    gamma1 = np.exp(log_gamma1_davies(ionic_strength_mol_l, temp_c))
    return CarbonateCoefficients(
        k1=k1_plummer_busenberg_1982(temp_c) / gamma1,
        k2=k2_plummer_busenberg_1982(temp_c) / (gamma1 * gamma1 * gamma1),
        kw=kw_millero_1979(temp_c) / gamma1,
        gamma1=gamma1,
    )


def co2_from_ph_fast(ph: Floats, alkalinity_meq_l: Floats, coefficients: CarbonateCoefficients) -> Floats:
    """Dissolved CO2 [mg/L] from `ph` [-] and `alkalinity_meq_l` [meq/L]; shapes broadcast, nothing checked.

    Exact within the model: [HCO3] = (Alk + [H] - [OH]) / (1 + 2 k2 / a), [CO2] = [HCO3] a / k1.
    Negative where `ph` asks for more hydroxide than there is alkalinity.
    """
    activity = np.exp(-LN10 * ph)
    per_mol = coefficients.k1 * MOL_PER_MG_CO2
    charge = alkalinity_meq_l * 1e-3 + activity / coefficients.gamma1
    return (activity * charge - coefficients.kw) * activity / (per_mol * (activity + 2.0 * coefficients.k2))


def ph_from_co2_fast(
    co2_mg_l: Floats | float, alkalinity_meq_l: Floats | float, coefficients: CarbonateCoefficients
) -> Floats:
    """PH [-] from `co2_mg_l` [mg/L] and `alkalinity_meq_l` [meq/L]; shapes broadcast, nothing checked.

    Closed form: the charge balance b/a + c/a^2 = Alk + a/gamma1 is a quadratic once the small proton term
    on the right is taken from its first guess b/Alk. Within 2e-4 pH of `ph_from_co2` for pH 5.8 to 8.6
    and 0.2 to 8 meq/L.
    """
    k1_co2 = coefficients.k1 * (MOL_PER_MG_CO2 * floats(co2_mg_l))
    b = k1_co2 + coefficients.kw
    c = 2.0 * coefficients.k2 * k1_co2
    alkalinity = floats(alkalinity_meq_l) * 1e-3
    alkalinity = alkalinity + b / (alkalinity * coefficients.gamma1)
    return np.log10((2.0 * alkalinity) / (b + np.sqrt(b * b + 4.0 * c * alkalinity)))


def ph_from_co2_newton(
    co2_mg_l: Floats, alkalinity_meq_l: Floats, coefficients: CarbonateCoefficients
) -> Floats:
    """PH [-] from `co2_mg_l` [mg/L] and `alkalinity_meq_l` [meq/L]; shapes broadcast, nothing checked.

    Newton's method in ln a on the charge balance. The start solves it first without carbonate, then with
    carbonate and the proton of that first solution, so that three steps reach rounding error everywhere.
    """
    gamma1 = coefficients.gamma1
    k1_co2 = coefficients.k1 * (MOL_PER_MG_CO2 * co2_mg_l)
    b = k1_co2 + coefficients.kw
    c = 2.0 * coefficients.k2 * k1_co2
    alkalinity = alkalinity_meq_l * 1e-3
    first = 2.0 * b / (alkalinity + np.sqrt(alkalinity * alkalinity + 4.0 * b / gamma1))
    raised = alkalinity + first / gamma1
    activity = (b + np.sqrt(b * b + 4.0 * c * raised)) / (2.0 * raised)
    for _ in range(3):
        bicarbonate, carbonate, proton = b / activity, c / (activity * activity), activity / gamma1
        miss = bicarbonate + carbonate - proton - alkalinity
        activity = activity * np.exp(miss / (bicarbonate + 2.0 * carbonate + proton))
    return -np.log10(activity)
