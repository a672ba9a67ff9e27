"""What the indicator cell should look like, and standards to match it against.

The dye's own constant is known to 0.2 only, so a blue share computed from CO2 is uncertain; a standard with
the same dye is not: cell and standard share the constant, and only what dissolved salts do to it (its shift
with ionic strength) differs. That shift is computed here, and it is large: in a shop's pH 6.86 buffer the dye
looks as it does at pH 7.13 in a 4 dKH cell.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.arguments import Floats
from dawnlevel.chemistry import bromothymol_blue_pka, buffer_ph, cell_blue_fraction, cell_ph, co2_from_ph
from dawnlevel.chemistry.dye import BTB_PKA_HALF_WIDTH, BTB_PKA_ZERO_KOLTHOFF_1930, CELL_KH_DKH
from dawnlevel.tank import Buffer
from dawnlevel.units import dkh_to_meq_l

PHOSPHATE_BUFFER_MOL_L = 0.1
"""Ionic strength of 0.025 m KH2PO4 with 0.025 m Na2HPO4 [mol/L]: 0.025 + 3 x 0.025."""

STANDARD_MOL_L = 0.02
"""Ionic strength of a home-made standard [mol/L]: about 10 mmol/L phosphate; own choice."""

PHOSPHATE_PKA2 = 7.207
"""H2PO4- at zero ionic strength, 25 degC (phreeqc.dat, wateq4f.dat; checked)."""


@dataclass(frozen=True, slots=True)
class CellColours:
    """The cell in balance with each CO2, all of shape (m,).

    Attributes:
        co2_mg_l: CO2 in the tank [mg/L].
        ph: pH inside the cell [-].
        blue: share of the dye that is blue [-]; the rest is yellow.
        blue_low, blue_high: the same with the dye's constant 0.2 higher and lower.
        standard_ph: pH to which a phosphate standard is set to look the same [-].
        standard_ratio: hydrogenphosphate over dihydrogenphosphate that comes near it [mol/mol].
    """

    co2_mg_l: Floats
    ph: Floats
    blue: Floats
    blue_low: Floats
    blue_high: Floats
    standard_ph: Floats
    standard_ratio: Floats


def _shift(ionic_mol_l: float, cell_kh_dkh: float, temp_c: float) -> float:
    """How much lower the dye's constant is at `ionic_mol_l` [mol/L] than in the cell [pH]; negative."""
    cell = bromothymol_blue_pka(1e-3 * dkh_to_meq_l(cell_kh_dkh), temp_c)
    return float(bromothymol_blue_pka(ionic_mol_l, temp_c) - cell)


def cell_colours(
    co2_mg_l: npt.ArrayLike,
    temp_c: float = 25.0,
    cell_kh_dkh: float = CELL_KH_DKH,
    standard_mol_l: float = STANDARD_MOL_L,
) -> CellColours:
    """What the cell looks like at each CO2, and the standard that looks the same.

    Args:
        co2_mg_l: CO2 in the tank [mg/L], 0.01 to 1000, shape (m,).
        temp_c: temperature [degC], 0 to 40.
        cell_kh_dkh: KH of the cell's solution [dKH].
        standard_mol_l: ionic strength of the standards [mol/L], 0 to 0.5.

    Raises OutOfRangeError. Sources: see `cell_ph` and `bromothymol_blue_pka` (Yao & Byrne 2001 for the
    shift), phosphate pKa2 of phreeqc.dat.
    """
    levels = np.atleast_1d(np.asarray(co2_mg_l, dtype=np.float64))
    ph = cell_ph(levels, temp_c, cell_kh_dkh)
    blue_low, blue, blue_high = (
        cell_blue_fraction(levels, temp_c, cell_kh_dkh, BTB_PKA_ZERO_KOLTHOFF_1930 + off)
        for off in (BTB_PKA_HALF_WIDTH, 0.0, -BTB_PKA_HALF_WIDTH)
    )
    standard_ph = ph + _shift(standard_mol_l, cell_kh_dkh, temp_c)
    # The dye and the phosphate lose a proton from the same charges, so their constants shift alike.
    pure_shift = _shift(standard_mol_l, cell_kh_dkh, temp_c) - _shift(0.0, cell_kh_dkh, temp_c)
    ratio = 10.0 ** (standard_ph - PHOSPHATE_PKA2 - pure_shift)
    return CellColours(levels, ph, blue, blue_low, blue_high, standard_ph, ratio)


def phosphate_buffer_as_co2_mg_l(temp_c: float = 25.0, cell_kh_dkh: float = CELL_KH_DKH) -> float:
    """CO2 [mg/L] at which the cell looks like the same dye in the pH 6.86 phosphate buffer.

    `temp_c` [degC], 0 to 40; `cell_kh_dkh` [dKH]. Raises OutOfRangeError. Sources: NIST buffer, Yao & Byrne
    2001 for the shift.
    """
    seen = buffer_ph(Buffer.PHOSPHATE, temp_c) - _shift(PHOSPHATE_BUFFER_MOL_L, cell_kh_dkh, temp_c)
    return float(co2_from_ph(seen, dkh_to_meq_l(cell_kh_dkh), temp_c))


def misread_percent(made_dkh: float, believed_dkh: float, ph: float = 6.65, temp_c: float = 25.0) -> float:
    """How far CO2 read from the cell is off [%] where its solution is `made_dkh` but believed `believed_dkh`.

    Both [dKH]; `ph` inside the cell [-]; `temp_c` [degC]. Negative: more CO2 than believed is read as less.
    Raises OutOfRangeError. Source: `co2_from_ph` at the colour's pH.
    """
    true, read = (float(co2_from_ph(ph, dkh_to_meq_l(kh), temp_c)) for kh in (made_dkh, believed_dkh))
    return 100.0 * (read / true - 1.0)
