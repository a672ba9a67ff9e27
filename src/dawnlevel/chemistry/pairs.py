"""Bicarbonate that calcium and magnesium hold in pairs, and so hide from the CO2 equilibrium."""

import numpy as np

from dawnlevel.chemistry._arrays import Floats
from dawnlevel.chemistry.activity import log_gamma1_davies
from dawnlevel.chemistry.constants import k_cahco3_plummer_busenberg_1982, k_mghco3_wateq4f

_ROUNDS = 6


def free_alkalinity_meq_l(
    alkalinity_meq_l: Floats,
    temp_c: Floats,
    ionic_strength_mol_l: Floats,
    calcium_mmol_l: Floats,
    magnesium_mmol_l: Floats,
) -> Floats:
    """Alkalinity [meq/L] outside the pairs CaHCO3+ and MgHCO3+; unchecked building block.

    `alkalinity_meq_l` [meq/L], `temp_c` [degC], `ionic_strength_mol_l` [mol/L], total `calcium_mmol_l` and
    `magnesium_mmol_l` [mmol/L] broadcast. The pairs take 0.5 to 2.5 % in tank waters. Sources: Plummer &
    Busenberg 1982 (calcium), wateq4f.dat (magnesium), Davies. The CaCO3 pair is left out (matters from pH 8).
    """
    gamma2 = np.exp(4.0 * log_gamma1_davies(ionic_strength_mol_l, temp_c))
    # gamma2 gamma1 / gamma1: the pair and bicarbonate carry one charge each, so only gamma2 remains
    per_mmol_ca = 1e-3 * gamma2 * k_cahco3_plummer_busenberg_1982(temp_c)
    per_mmol_mg = 1e-3 * gamma2 * k_mghco3_wateq4f(temp_c)
    free = alkalinity_meq_l
    for _ in range(_ROUNDS):
        calcium = calcium_mmol_l / (1.0 + per_mmol_ca * free)
        magnesium = magnesium_mmol_l / (1.0 + per_mmol_mg * free)
        free = alkalinity_meq_l / (1.0 + per_mmol_ca * calcium + per_mmol_mg * magnesium)
    return free
