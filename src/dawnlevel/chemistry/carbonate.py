"""Dissolved CO2 from pH and alkalinity, and back: the checked functions.

pH is what a meter calibrated in standard buffers reads: the negative logarithm of the hydrogen ion's
activity. Alkalinity is carbonate alkalinity; see `noncarbonate` for what else a drop kit counts.
"""

import numpy as np
import numpy.typing as npt

from dawnlevel.chemistry._arrays import LN10, Floats, checked, checked_temp_c, floats, in_blocks
from dawnlevel.chemistry.activity import IONIC_STRENGTH_RANGE_MOL_L
from dawnlevel.chemistry.coefficients import (
    MOL_PER_MG_CO2,
    CarbonateCoefficients,
    co2_from_ph_fast,
    coefficients_unchecked,
    ph_from_co2_newton,
)
from dawnlevel.chemistry.ionic import ionic_strength_unchecked
from dawnlevel.chemistry.pairs import free_alkalinity_meq_l
from dawnlevel.errors import BadInputError

PH_RANGE = (4.0, 10.0)
ALKALINITY_RANGE_MEQ_L = (0.01, 20.0)
CO2_RANGE_MG_L = (1e-6, 2000.0)
HARDNESS_RANGE_MMOL_L = (0.0, 20.0)


def _checked_water(
    alkalinity_meq_l: npt.ArrayLike,
    temp_c: npt.ArrayLike,
    ionic_strength_mol_l: npt.ArrayLike | None,
    calcium_mmol_l: npt.ArrayLike = 0.0,
    magnesium_mmol_l: npt.ArrayLike = 0.0,
) -> tuple[Floats, ...]:
    """What `_conditions` takes, refused where out of range; without the ionic strength if that is None."""
    water = (
        checked("alkalinity", alkalinity_meq_l, *ALKALINITY_RANGE_MEQ_L, "meq/L"),
        checked_temp_c(temp_c),
        checked("calcium", calcium_mmol_l, *HARDNESS_RANGE_MMOL_L, "mmol/L"),
        checked("magnesium", magnesium_mmol_l, *HARDNESS_RANGE_MMOL_L, "mmol/L"),
    )
    if ionic_strength_mol_l is None:
        return water
    return (*water, checked("ionic strength", ionic_strength_mol_l, *IONIC_STRENGTH_RANGE_MOL_L, "mol/L"))


def _conditions(
    alkalinity: Floats, temp: Floats, calcium: Floats, magnesium: Floats, ionic: Floats | None = None
) -> tuple[Floats, CarbonateCoefficients]:
    """Alkalinity outside the pairs [meq/L] and the coefficients; units as in `co2_from_ph`, unchecked."""
    if not (calcium.any() or magnesium.any()):
        return alkalinity, coefficients_unchecked(temp, 1e-3 * alkalinity if ionic is None else ionic)
    if ionic is None:
        ionic = ionic_strength_unchecked(alkalinity, calcium + magnesium)
    free = free_alkalinity_meq_l(alkalinity, temp, ionic, calcium, magnesium)
    return free, coefficients_unchecked(temp, ionic)


def _co2_unchecked(ph: Floats, *water: Floats) -> Floats:
    return co2_from_ph_fast(ph, *_conditions(*water))


def _ph_unchecked(co2_mg_l: Floats, *water: Floats) -> Floats:
    return ph_from_co2_newton(co2_mg_l, *_conditions(*water))


def carbonate_coefficients(
    alkalinity_meq_l: npt.ArrayLike, temp_c: npt.ArrayLike, ionic_strength_mol_l: npt.ArrayLike | None = None
) -> CarbonateCoefficients:
    """Conditional constants for `co2_from_ph_fast` and `ph_from_co2_fast`.

    Args:
        alkalinity_meq_l: alkalinity [meq/L], 0.01 to 20; used as ionic strength where that is None.
        temp_c: temperature [degC], 0 to 40.
        ionic_strength_mol_l: ionic strength [mol/L], 0 to 0.5.

    Shapes broadcast. Raises OutOfRangeError. Sources: Plummer & Busenberg 1982, Millero 1979, Davies.
    """
    return _conditions(*_checked_water(alkalinity_meq_l, temp_c, ionic_strength_mol_l))[1]


def co2_from_ph(
    ph: npt.ArrayLike,
    alkalinity_meq_l: npt.ArrayLike,
    temp_c: npt.ArrayLike,
    ionic_strength_mol_l: npt.ArrayLike | None = None,
    *,
    calcium_mmol_l: npt.ArrayLike = 0.0,
    magnesium_mmol_l: npt.ArrayLike = 0.0,
) -> Floats:
    """Dissolved CO2 [mg/L] from pH and alkalinity.

    Args:
        ph: pH [-] as a meter reads it, 4 to 10.
        alkalinity_meq_l: carbonate alkalinity [meq/L], 0.01 to 20.
        temp_c: temperature [degC], 0 to 40.
        ionic_strength_mol_l: ionic strength [mol/L], 0 to 0.5; None takes it from the alkalinity and, where
            given, calcium and magnesium.
        calcium_mmol_l: total calcium [mmol/L], 0 to 20; 0 leaves its pairs out.
        magnesium_mmol_l: total magnesium [mmol/L], 0 to 20; 0 leaves its pairs out.

    Shapes broadcast; scalars give a numpy scalar; NaN gives NaN. Raises OutOfRangeError, and BadInputError
    where the pH needs more hydroxide than the alkalinity allows. Sources: Plummer & Busenberg 1982
    (doi 10.1016/0016-7037(82)90056-4), Millero 1979, Davies; within 0.3 % of PHREEQC in NaHCO3 water.
    """
    reading = checked("pH", ph, *PH_RANGE, "")
    water = _checked_water(alkalinity_meq_l, temp_c, ionic_strength_mol_l, calcium_mmol_l, magnesium_mmol_l)
    co2_mg_l = in_blocks(_co2_unchecked, reading, *water)
    if co2_mg_l.size and np.fmin.reduce(co2_mg_l, axis=None) < 0.0:
        raise BadInputError(
            "The pH is too high for so little alkalinity: the hydroxide alone would exceed it.",
            where="pH and alkalinity",
            cure="Measure both again; below 0.2 meq/L a pH above 9 is not plausible.",
        )
    return co2_mg_l


def ph_from_co2(
    co2_mg_l: npt.ArrayLike,
    alkalinity_meq_l: npt.ArrayLike,
    temp_c: npt.ArrayLike,
    ionic_strength_mol_l: npt.ArrayLike | None = None,
    *,
    calcium_mmol_l: npt.ArrayLike = 0.0,
    magnesium_mmol_l: npt.ArrayLike = 0.0,
) -> Floats:
    """PH [-] from dissolved CO2 and alkalinity; the inverse of `co2_from_ph`.

    Args:
        co2_mg_l: dissolved CO2 [mg/L], above 0 (1e-6) to 2000.
        alkalinity_meq_l: carbonate alkalinity [meq/L], 0.01 to 20.
        temp_c: temperature [degC], 0 to 40.
        ionic_strength_mol_l: ionic strength [mol/L], 0 to 0.5; None as in `co2_from_ph`.
        calcium_mmol_l: total calcium [mmol/L], 0 to 20.
        magnesium_mmol_l: total magnesium [mmol/L], 0 to 20.

    Shapes broadcast; scalars give a numpy scalar; NaN gives NaN. Raises OutOfRangeError. Sources as there.
    """
    co2 = checked("CO2", co2_mg_l, *CO2_RANGE_MG_L, "mg/L")
    water = _checked_water(alkalinity_meq_l, temp_c, ionic_strength_mol_l, calcium_mmol_l, magnesium_mmol_l)
    return in_blocks(_ph_unchecked, co2, *water)


def dic_unchecked(ph: Floats, alkalinity_meq_l: Floats, coefficients: CarbonateCoefficients) -> Floats:
    """Dissolved inorganic carbon [mmol/L] from pH [-] and alkalinity [meq/L]; shapes broadcast, unchecked."""
    return _dic_from_co2(co2_from_ph_fast(ph, alkalinity_meq_l, coefficients), ph, coefficients)


def _dic_from_co2(co2_mg_l: Floats, ph: Floats, coefficients: CarbonateCoefficients) -> Floats:
    """CO2 + HCO3 + CO3 [mmol/L] where `co2_mg_l` [mg/L] stands at `ph` [-]."""
    inverse = np.exp(LN10 * ph)
    ratio = 1.0 + coefficients.k1 * inverse * (1.0 + coefficients.k2 * inverse)
    return co2_mg_l * (MOL_PER_MG_CO2 * 1e3) * ratio


def dic_mmol_l(
    ph: npt.ArrayLike,
    alkalinity_meq_l: npt.ArrayLike,
    temp_c: npt.ArrayLike,
    ionic_strength_mol_l: npt.ArrayLike | None = None,
) -> Floats:
    """Dissolved inorganic carbon, CO2 + HCO3 + CO3 [mmol/L].

    Args as in `co2_from_ph`: `ph` [-], `alkalinity_meq_l` [meq/L], `temp_c` [degC], `ionic_strength_mol_l`
    [mol/L]. Shapes broadcast; NaN gives NaN. Raises OutOfRangeError and BadInputError as there.
    """
    co2_mg_l = co2_from_ph(ph, alkalinity_meq_l, temp_c, ionic_strength_mol_l)
    return _dic_from_co2(
        co2_mg_l, floats(ph), carbonate_coefficients(alkalinity_meq_l, temp_c, ionic_strength_mol_l)
    )
