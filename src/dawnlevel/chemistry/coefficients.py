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


def _charge_terms(
    co2_mg_l: Floats, alkalinity_meq_l: Floats, coefficients: CarbonateCoefficients
) -> tuple[Floats, Floats, Floats, Floats]:
    """The terms of the charge balance b/a + c/a^2 = Alk + a/gamma1, and a near solution a: b, c, Alk, a.

    Without carbonate (c = 0) the balance is a quadratic; its solution gives the proton term a/gamma1, with
    which the whole balance is a quadratic in 1/a. One of the two terms is always negligible, so the second
    solution is within 2e-5 pH of the exact one everywhere in the checked ranges.
    """
    b = coefficients.k1 * (MOL_PER_MG_CO2 * co2_mg_l)
    c = 2.0 * coefficients.k2 * b
    b = b + coefficients.kw
    alkalinity = alkalinity_meq_l * 1e-3
    first = 2.0 * b / (alkalinity + np.sqrt(alkalinity * alkalinity + 4.0 * b / coefficients.gamma1))
    raised = alkalinity + first / coefficients.gamma1
    return b, c, alkalinity, (b + np.sqrt(b * b + 4.0 * c * raised)) / (2.0 * raised)


def ph_from_co2_fast(
    co2_mg_l: Floats | float, alkalinity_meq_l: Floats | float, coefficients: CarbonateCoefficients
) -> Floats:
    """PH [-] from `co2_mg_l` [mg/L] and `alkalinity_meq_l` [meq/L]; shapes broadcast, nothing checked.

    Closed form, within 2e-5 pH of `ph_from_co2` over that function's whole range.
    """
    return -np.log10(_charge_terms(floats(co2_mg_l), floats(alkalinity_meq_l), coefficients)[3])


def ph_from_co2_newton(
    co2_mg_l: Floats, alkalinity_meq_l: Floats, coefficients: CarbonateCoefficients
) -> Floats:
    """PH [-] from `co2_mg_l` [mg/L] and `alkalinity_meq_l` [meq/L]; shapes broadcast, nothing checked.

    Two steps of Newton's method in ln a on the charge balance, from the closed form: rounding error remains.
    """
    b, c, alkalinity, activity = _charge_terms(co2_mg_l, alkalinity_meq_l, coefficients)
    for _ in range(2):
        bicarbonate, carbonate, proton = (
            b / activity,
            c / (activity * activity),
            activity / coefficients.gamma1,
        )
        miss = bicarbonate + carbonate - proton - alkalinity
        activity = activity + activity * miss / (bicarbonate + 2.0 * carbonate + proton)
    return -np.log10(activity)
