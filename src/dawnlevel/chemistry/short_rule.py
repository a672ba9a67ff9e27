"""The trade's short rule for CO2, kept only to show how far off it is."""

import numpy as np
import numpy.typing as npt

from dawnlevel.chemistry._arrays import LN10, Floats, checked, floats
from dawnlevel.chemistry.carbonate import PH_RANGE, co2_from_ph
from dawnlevel.units import dkh_to_meq_l


def short_rule_co2_mg_l(ph: npt.ArrayLike, kh_dkh: npt.ArrayLike) -> Floats:
    """CO2 [mg/L] by 3 x KH x 10^(7 - pH); never used for advice.

    `ph` [-], 4 to 10, and `kh_dkh` [dKH], 0.03 to 56, broadcast; NaN gives NaN. Raises OutOfRangeError.
    Source: common practice, no source. It ignores temperature and activity.
    """
    kh = checked("carbonate hardness", kh_dkh, 0.03, 56.0, "dKH")
    return 3.0 * kh * np.exp(LN10 * (7.0 - checked("pH", ph, *PH_RANGE, "")))


def short_rule_error(
    ph: npt.ArrayLike,
    kh_dkh: npt.ArrayLike,
    temp_c: npt.ArrayLike,
    ionic_strength_mol_l: npt.ArrayLike | None = None,
) -> Floats:
    """Relative error [-] of the short rule against `co2_from_ph`: -0.12 means 12 % too low.

    `ph` [-], `kh_dkh` [dKH], `temp_c` [degC] and `ionic_strength_mol_l` [mol/L] broadcast; NaN gives NaN.
    Raises OutOfRangeError and BadInputError as `co2_from_ph`.
    """
    by_rule = short_rule_co2_mg_l(ph, kh_dkh)
    return by_rule / co2_from_ph(ph, dkh_to_meq_l(floats(kh_dkh)), temp_c, ionic_strength_mol_l) - 1.0
