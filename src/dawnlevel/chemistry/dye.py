"""Bromothymol blue in an indicator cell: how blue it is at a pH, and which CO2 a colour means.

A cell holds water of known KH and dye behind a gap of air, so that only CO2 reaches it from the tank. The
dye's pKa is the weak point: no primary table of its temperature dependence was found and published values
run from 7.0 to 7.4, so every function takes the pKa as an argument, with its half width beside it here.
"""

import numpy as np
import numpy.typing as npt

from dawnlevel.chemistry._arrays import LN10, Floats, checked, checked_temp_c, floats
from dawnlevel.chemistry.activity import IONIC_STRENGTH_RANGE_MOL_L, log_gamma1_davies
from dawnlevel.chemistry.carbonate import co2_from_ph, ph_from_co2
from dawnlevel.units import dkh_to_meq_l

# Kolthoff 1930, J. Phys. Chem. 34, 1466, at zero ionic strength (from memory; the table was not read).
BTB_PKA_ZERO_KOLTHOFF_1930 = 7.30
# Judgement: the published values 7.0, 7.1, 7.26, 7.3 and 7.4 all lie within it (common practice, no source).
BTB_PKA_HALF_WIDTH = 0.2
# Judgement between two sister dyes, -0.0043 and -0.0075 (Yao & Byrne 2001, ES&T 35, 1197).
BTB_PKA_PER_C = -0.005
BTB_PKA_PER_C_HALF_WIDTH = 0.003
BTB_REFERENCE_TEMP_C = 25.0
CELL_KH_DKH = 4.0  # common practice, no source

KH_RANGE_DKH = (0.03, 56.0)
PKA_RANGE = (5.0, 9.0)


def bromothymol_blue_pka(
    ionic_strength_mol_l: npt.ArrayLike,
    temp_c: npt.ArrayLike = BTB_REFERENCE_TEMP_C,
    pka_zero: npt.ArrayLike = BTB_PKA_ZERO_KOLTHOFF_1930,
) -> Floats:
    """Apparent pKa [-] of bromothymol blue on the scale a pH meter reads.

    Args:
        ionic_strength_mol_l: ionic strength [mol/L], 0 to 0.5.
        temp_c: temperature [degC], 0 to 40.
        pka_zero: pKa [-] at zero ionic strength and 25 degC, 5 to 9; uncertain by 0.2.

    Shapes broadcast; NaN gives NaN. Raises OutOfRangeError. Source: Yao & Byrne 2001, ES&T 35, 1197, for the
    ionic strength (factor 3 on the activity scale: the two forms carry one and two charges).
    """
    ionic = checked("ionic strength", ionic_strength_mol_l, *IONIC_STRENGTH_RANGE_MOL_L, "mol/L")
    temp = checked_temp_c(temp_c)
    base = checked("pKa", pka_zero, *PKA_RANGE, "")
    shift = 3.0 * log_gamma1_davies(ionic, floats(BTB_REFERENCE_TEMP_C)) / LN10
    return base + BTB_PKA_PER_C * (temp - BTB_REFERENCE_TEMP_C) + shift


def bromothymol_blue_pka_half_width(temp_c: npt.ArrayLike) -> Floats:
    """Half width [-] of what is believed of the pKa at `temp_c` [degC], 0 to 40; same shape.

    The half widths of the pKa and of its temperature slope add in squares. Raises OutOfRangeError; NaN gives
    NaN. Source: judgement over published values (common practice, no source).
    """
    distance = checked_temp_c(temp_c) - BTB_REFERENCE_TEMP_C
    return np.hypot(BTB_PKA_HALF_WIDTH, BTB_PKA_PER_C_HALF_WIDTH * distance)


def blue_fraction(ph: npt.ArrayLike, pka: npt.ArrayLike) -> Floats:
    """Share [-] of the dye in its blue form at `ph` [-], 0 to 14, with apparent `pka` [-], 5 to 9.

    Shapes broadcast; NaN gives NaN. Raises OutOfRangeError. Source: acid-base equilibrium.
    """
    distance = checked("pH", ph, 0.0, 14.0, "") - checked("pKa", pka, *PKA_RANGE, "")
    return 1.0 / (1.0 + np.exp(-LN10 * distance))


def cell_ph(
    co2_mg_l: npt.ArrayLike, temp_c: npt.ArrayLike, cell_kh_dkh: npt.ArrayLike = CELL_KH_DKH
) -> Floats:
    """PH [-] of an indicator cell in equilibrium with water of `co2_mg_l` [mg/L].

    `temp_c` [degC], 0 to 40, and `cell_kh_dkh` [dKH], 0.03 to 56, broadcast; the cell holds sodium
    hydrogencarbonate in pure water. NaN gives NaN. Raises OutOfRangeError. Source: see `ph_from_co2`.
    """
    kh_dkh = checked("KH of the cell", cell_kh_dkh, *KH_RANGE_DKH, "dKH")
    return ph_from_co2(co2_mg_l, dkh_to_meq_l(kh_dkh), temp_c)


def _cell_pka(temp_c: npt.ArrayLike, cell_kh_dkh: npt.ArrayLike, pka_zero: npt.ArrayLike) -> Floats:
    """Apparent pKa [-] in a cell whose ionic strength is its alkalinity."""
    return bromothymol_blue_pka(1e-3 * dkh_to_meq_l(floats(cell_kh_dkh)), temp_c, pka_zero)


def cell_blue_fraction(
    co2_mg_l: npt.ArrayLike,
    temp_c: npt.ArrayLike,
    cell_kh_dkh: npt.ArrayLike = CELL_KH_DKH,
    pka_zero: npt.ArrayLike = BTB_PKA_ZERO_KOLTHOFF_1930,
) -> Floats:
    """Share [-] of the cell's dye that is blue in equilibrium with `co2_mg_l` [mg/L].

    `temp_c` [degC], `cell_kh_dkh` [dKH] and `pka_zero` [-] as in `cell_ph` and `bromothymol_blue_pka`.
    Shapes broadcast; NaN gives NaN. Raises OutOfRangeError. Sources: see there.
    """
    ph = cell_ph(co2_mg_l, temp_c, cell_kh_dkh)
    return blue_fraction(ph, _cell_pka(temp_c, cell_kh_dkh, pka_zero))


def cell_co2_from_blue_fraction(
    fraction: npt.ArrayLike,
    temp_c: npt.ArrayLike,
    cell_kh_dkh: npt.ArrayLike = CELL_KH_DKH,
    pka_zero: npt.ArrayLike = BTB_PKA_ZERO_KOLTHOFF_1930,
) -> Floats:
    """CO2 [mg/L] that colours the cell to a blue `fraction` [-], 0.01 to 0.99.

    The other arguments as in `cell_blue_fraction`, whose inverse it is. 0.1 in the pKa moves the answer by
    26 %. Shapes broadcast; NaN gives NaN. Raises OutOfRangeError.
    """
    share = checked("blue fraction", fraction, 0.01, 0.99, "")
    kh_dkh = checked("KH of the cell", cell_kh_dkh, *KH_RANGE_DKH, "dKH")
    ph = _cell_pka(temp_c, kh_dkh, pka_zero) + np.log10(share / (1.0 - share))
    return co2_from_ph(ph, dkh_to_meq_l(kh_dkh), temp_c)
