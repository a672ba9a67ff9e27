"""How much less an ion counts than its concentration, in water that holds salts."""

import numpy as np
import numpy.typing as npt

from dawnlevel.chemistry._arrays import LN10, Floats, checked, checked_temp_c
from dawnlevel.chemistry.water import debye_hueckel_a

IONIC_STRENGTH_RANGE_MOL_L = (0.0, 0.5)


def log_gamma1_davies(ionic_strength_mol_l: Floats, temp_c: Floats) -> Floats:
    """Natural logarithm of the activity coefficient [-] of a singly charged ion; unchecked building block.

    `ionic_strength_mol_l` [mol/L] and `temp_c` [degC] broadcast. A z-fold charge takes z^2 times this.
    Source: Davies equation with 0.3 I (from memory; against pyEQL 1.7.0: 0.9585 to 0.9591 at 1.43 mmol/L).
    """
    root = np.sqrt(ionic_strength_mol_l)
    return (-LN10 * debye_hueckel_a(temp_c)) * (root / (1.0 + root) - 0.3 * ionic_strength_mol_l)


def davies_gamma(
    ionic_strength_mol_l: npt.ArrayLike, temp_c: npt.ArrayLike, charge: npt.ArrayLike = 1
) -> Floats:
    """Activity coefficient [-] of an ion by the Davies equation.

    Args:
        ionic_strength_mol_l: ionic strength [mol/L], 0 to 0.5.
        temp_c: temperature [degC], 0 to 40.
        charge: charge number [-], -4 to 4, sign irrelevant.

    Shapes broadcast; NaN gives NaN. Raises OutOfRangeError. Source: see `log_gamma1_davies`.
    """
    ionic = checked("ionic strength", ionic_strength_mol_l, *IONIC_STRENGTH_RANGE_MOL_L, "mol/L")
    z = checked("charge", charge, -4.0, 4.0, "")
    return np.exp(z * z * log_gamma1_davies(ionic, checked_temp_c(temp_c)))
