"""Ionic strength of tank water from what a keeper can measure."""

import numpy as np
import numpy.typing as npt

from dawnlevel.chemistry._arrays import Floats, checked
from dawnlevel.units import dgh_to_mmol_l, dkh_to_meq_l

MOL_L_PER_US_CM = 1.6e-5  # textbook rule, from memory; PHREEQC gives 1.37e-5 to 1.60e-5 for tank waters


def ionic_strength_from_conductivity(conductivity_us_cm: npt.ArrayLike) -> Floats:
    """Ionic strength [mol/L] from `conductivity_us_cm` [uS/cm at 25 degC], 0 to 20000; same shape.

    Raises OutOfRangeError; NaN gives NaN. Source: textbook rule 1.6e-5 mol/L per uS/cm (from memory).
    """
    return MOL_L_PER_US_CM * checked("conductivity", conductivity_us_cm, 0.0, 2e4, "uS/cm")


def ionic_strength_from_alkalinity(alkalinity_meq_l: npt.ArrayLike) -> Floats:
    """Ionic strength [mol/L] from `alkalinity_meq_l` [meq/L], 0 to 20, as if sodium balanced it; same shape.

    Exact for sodium hydrogencarbonate in pure water, too small where calcium and magnesium are present.
    Raises OutOfRangeError; NaN gives NaN. Source: definition of ionic strength.
    """
    return 1e-3 * checked("alkalinity", alkalinity_meq_l, 0.0, 20.0, "meq/L")


def ionic_strength_unchecked(alkalinity_meq_l: Floats, hardness_mmol_l: Floats) -> Floats:
    """Ionic strength [mol/L] from alkalinity [meq/L] and calcium plus magnesium [mmol/L]; shapes broadcast.

    What is missing in the charge balance is taken as a singly charged ion (sodium or chloride), so
    sulphate and nitrate salts make the true value higher.
    """
    missing = np.abs(2.0 * hardness_mmol_l - alkalinity_meq_l)
    return 0.5e-3 * (4.0 * hardness_mmol_l + alkalinity_meq_l + missing)


def ionic_strength_from_hardness(gh_dgh: npt.ArrayLike, kh_dkh: npt.ArrayLike) -> Floats:
    """Ionic strength [mol/L] from `gh_dgh` [dGH], 0 to 100, and `kh_dkh` [dKH], 0 to 56; shapes broadcast.

    Raises OutOfRangeError; NaN gives NaN. Source: definition of ionic strength, with the missing charge as
    a singly charged ion.
    """
    hardness = dgh_to_mmol_l(checked("general hardness", gh_dgh, 0.0, 100.0, "dGH"))
    alkalinity = dkh_to_meq_l(checked("carbonate hardness", kh_dkh, 0.0, 56.0, "dKH"))
    return ionic_strength_unchecked(alkalinity, hardness)
