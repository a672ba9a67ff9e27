"""What a KH drop kit counts that is no carbonate, and what its fixed end point adds in soft water.

A kit adds acid until the pH is 4.5. On the way it also protonates phosphate and humic acids, and it goes on
until the acid itself makes the water that sour, with the CO2 it set free still dissolved. Borate, ammonia
and silica are ignored: below pH 8 they count for less than half a percent (PHREEQC).
"""

import numpy as np
import numpy.typing as npt

from dawnlevel.chemistry._arrays import LN10, Floats, checked, checked_temp_c, floats
from dawnlevel.chemistry.activity import log_gamma1_davies
from dawnlevel.chemistry.carbonate import ALKALINITY_RANGE_MEQ_L, PH_RANGE, co2_from_ph, dic_unchecked
from dawnlevel.chemistry.coefficients import CarbonateCoefficients, coefficients_unchecked
from dawnlevel.chemistry.constants import PO4_G_MOL

KIT_END_PH = 4.5
# HPO4-- log K 12.346; H2PO4- 19.553, so pKa2 7.207 (phreeqc.dat, wateq4f.dat; checked). Taken at 25 degC.
PHOSPHATE_PKA2 = 19.553 - 12.346
# First step of phosphoric acid, 2.15 at 25 degC (from memory); moves the answer by 0.4 % of the phosphate.
PHOSPHATE_PKA1 = 2.15
# Hruska et al. 2003, ES&T 37(9), 1788: 10.2 +/- 0.6 (Sweden), 8.8 +/- 0.5 (Czech); checked.
ORGANIC_SITES_UEQ_PER_MG_DOC = 10.2
# Three equal sites (from memory). Fakhraei & Driscoll 2015 have 2.54, 6.19, 7.52 (checked); little changes.
ORGANIC_PKAS = (3.04, 4.42, 6.70)
_ROUNDS = 12


def _phosphate_charge(ph: Floats, ionic_strength_mol_l: Floats, temp_c: Floats) -> Floats:
    """Mean negative charge of phosphate [mol/mol] that strong acid can take, PO4--- left out."""
    log_gamma1 = log_gamma1_davies(ionic_strength_mol_l, temp_c) / LN10
    first = np.exp(LN10 * (ph - PHOSPHATE_PKA1 - log_gamma1))
    second = np.exp(LN10 * (ph - PHOSPHATE_PKA2 - 3.0 * log_gamma1))
    return first * (1.0 + 2.0 * second) / (1.0 + first * (1.0 + second))


def phosphate_alkalinity_unchecked(
    phosphate_mg_l: Floats, ph: Floats, ionic_strength_mol_l: Floats, temp_c: Floats
) -> Floats:
    """As `phosphate_alkalinity_meq_l` [meq/L]; shapes broadcast, nothing checked."""
    taken = _phosphate_charge(ph, ionic_strength_mol_l, temp_c) - _phosphate_charge(
        floats(KIT_END_PH), ionic_strength_mol_l, temp_c
    )
    return phosphate_mg_l / PO4_G_MOL * taken


def phosphate_alkalinity_meq_l(
    phosphate_mg_l: npt.ArrayLike,
    ph: npt.ArrayLike,
    ionic_strength_mol_l: npt.ArrayLike = 0.0,
    temp_c: npt.ArrayLike = 25.0,
) -> Floats:
    """Alkalinity [meq/L] that a kit counts for phosphate, from the water's pH down to 4.5.

    Args:
        phosphate_mg_l: phosphate [mg/L as PO4], 0 to 50.
        ph: pH of the water [-], 4 to 10.
        ionic_strength_mol_l: ionic strength [mol/L], 0 to 0.5.
        temp_c: temperature [degC], 0 to 40; only the activity follows it.

    Shapes broadcast; NaN gives NaN. Raises OutOfRangeError. Source: pKa2 7.207 of phreeqc.dat, Davies.
    """
    return phosphate_alkalinity_unchecked(
        checked("phosphate", phosphate_mg_l, 0.0, 50.0, "mg/L"),
        checked("pH", ph, *PH_RANGE, ""),
        checked("ionic strength", ionic_strength_mol_l, 0.0, 0.5, "mol/L"),
        checked_temp_c(temp_c),
    )


def organic_alkalinity_meq_l(doc_mg_l: npt.ArrayLike, ph: npt.ArrayLike) -> Floats:
    """Alkalinity [meq/L] that a kit counts for humic acids, from the water's pH down to 4.5.

    Args:
        doc_mg_l: dissolved organic carbon [mg/L], 0 to 100.
        ph: pH of the water [-], 4 to 10.

    Shapes broadcast; NaN gives NaN. Raises OutOfRangeError. Sources: site density of Hruska et al. 2003
    (checked), three equal sites of pKa 3.04, 4.42 and 6.70 (from memory).
    """
    doc = checked("dissolved organic carbon", doc_mg_l, 0.0, 100.0, "mg/L")
    reading = checked("pH", ph, *PH_RANGE, "")
    taken: Floats = np.zeros_like(reading)
    for pka in ORGANIC_PKAS:
        taken = taken + _ionised(reading, pka) - _ionised(floats(KIT_END_PH), pka)
    return doc * taken * (1e-3 * ORGANIC_SITES_UEQ_PER_MG_DOC / len(ORGANIC_PKAS))


def _ionised(ph: Floats, pka: float) -> Floats:
    """Share [-] of acid sites of `pka` [-] that have lost their proton at `ph` [-]."""
    return 1.0 / (1.0 + np.exp(-LN10 * (ph - pka)))


def _end_point_meq_l(dic_mmol_l: Floats, coefficients: CarbonateCoefficients) -> Floats:
    """Alkalinity [meq/L] left at pH 4.5 with all CO2 retained; negative in soft water."""
    activity: float = 10.0**-KIT_END_PH
    bicarbonate = dic_mmol_l / (1.0 + activity / coefficients.k1 + coefficients.k2 / activity)
    return bicarbonate - 1e3 * activity / coefficients.gamma1


def kit_alkalinity_meq_l(
    alkalinity_meq_l: npt.ArrayLike,
    ph: npt.ArrayLike,
    temp_c: npt.ArrayLike = 25.0,
    *,
    phosphate_mg_l: npt.ArrayLike = 0.0,
    doc_mg_l: npt.ArrayLike = 0.0,
) -> Floats:
    """Alkalinity [meq/L] that an ideal drop kit with end point pH 4.5 finds in water of known carbonate.

    Args:
        alkalinity_meq_l: true carbonate alkalinity [meq/L], 0.01 to 20.
        ph: pH of the water as titrated [-], 4 to 10.
        temp_c: temperature [degC], 0 to 40.
        phosphate_mg_l: phosphate [mg/L as PO4], 0 to 50.
        doc_mg_l: dissolved organic carbon [mg/L], 0 to 100.

    Shapes broadcast; NaN gives NaN. Raises OutOfRangeError, and BadInputError as `co2_from_ph`. Source: the
    equilibria of `co2_from_ph` with total carbon held constant.
    """
    co2_from_ph(ph, alkalinity_meq_l, temp_c)  # refuses what is out of range or contradicts itself
    reading, temp, true = floats(ph), floats(temp_c), floats(alkalinity_meq_l)
    organic = organic_alkalinity_meq_l(doc_mg_l, reading)
    phosphate = checked("phosphate", phosphate_mg_l, 0.0, 50.0, "mg/L")
    return true + _kit_excess_meq_l(true, reading, temp, phosphate) + organic


def _kit_excess_meq_l(alkalinity_meq_l: Floats, ph: Floats, temp_c: Floats, phosphate_mg_l: Floats) -> Floats:
    """What the kit counts beyond the carbonate alkalinity [meq/L], humic acids left out."""
    ionic = 1e-3 * alkalinity_meq_l
    coefficients = coefficients_unchecked(temp_c, ionic)
    left = _end_point_meq_l(dic_unchecked(ph, alkalinity_meq_l, coefficients), coefficients)
    return phosphate_alkalinity_unchecked(phosphate_mg_l, ph, ionic, temp_c) - left


def carbonate_alkalinity_from_kit(
    kit_alkalinity_meq_l: npt.ArrayLike,
    ph: npt.ArrayLike,
    temp_c: npt.ArrayLike = 25.0,
    *,
    phosphate_mg_l: npt.ArrayLike = 0.0,
    doc_mg_l: npt.ArrayLike = 0.0,
) -> Floats:
    """Carbonate alkalinity [meq/L] behind a drop kit's reading; the inverse of `kit_alkalinity_meq_l`.

    Args:
        kit_alkalinity_meq_l: what the kit found [meq/L], 0.01 to 20.
        ph: pH of the water as titrated [-], 4 to 10.
        temp_c: temperature [degC], 0 to 40.
        phosphate_mg_l: phosphate [mg/L as PO4], 0 to 50.
        doc_mg_l: dissolved organic carbon [mg/L], 0 to 100.

    Never below 0.01 meq/L: where the end point and the additions explain the whole reading, no carbonate can
    be told. Shapes broadcast; NaN gives NaN. Raises OutOfRangeError. Source: as there, by fixed point (each
    round shrinks the error at least tenfold above pH 6).
    """
    kit = checked("KH from the kit", kit_alkalinity_meq_l, *ALKALINITY_RANGE_MEQ_L, "meq/L")
    reading = checked("pH", ph, *PH_RANGE, "")
    temp = checked_temp_c(temp_c)
    phosphate = checked("phosphate", phosphate_mg_l, 0.0, 50.0, "mg/L")
    counted = kit - organic_alkalinity_meq_l(doc_mg_l, reading)
    lowest = ALKALINITY_RANGE_MEQ_L[0]
    true = np.maximum(counted, lowest)
    for _ in range(_ROUNDS):
        true = np.maximum(counted - _kit_excess_meq_l(true, reading, temp, phosphate), lowest)
    return true
