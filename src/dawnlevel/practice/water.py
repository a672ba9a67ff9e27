"""A practice tank's water as tables: pH and total carbon against CO2, quick to look up for one float.

The true water holds what a drop kit counts without it being carbonate (phosphate, humic matter), so its
pH is a little off what any pH-and-KH formula expects. Tables are made once, on a pH grid where every
term is explicit, and then read with plain floats: a tank of seven days asks some hundred thousand times.
"""

from bisect import bisect_right
from dataclasses import dataclass
from math import log
from typing import Self

import numpy as np
import numpy.typing as npt

from dawnlevel.chemistry import carbonate_coefficients, co2_from_ph_fast, davies_gamma

Floats = npt.NDArray[np.float64]

CO2_G_MOL = 44.0095
"""Molar mass of CO2 [g/mol]; standard atomic weights."""

PO4_G_MOL = 94.971
"""Molar mass of PO4 [g/mol]; standard atomic weights."""

ORGANIC_SITES_UEQ_MG = 10.2
"""Acid sites per mg of dissolved organic carbon [ueq/mg]; Hruska et al. 2003, ES&T 37(9), 1788."""

ORGANIC_PKA = (3.04, 4.42, 6.70)
"""Three equal shares of the organic sites; from memory, not checked."""

PHOSPHATE_PKA2 = 7.207
"""Second dissociation of phosphoric acid at 25 degC; PHREEQC's phreeqc.dat."""

KIT_END_POINT_PH = 4.5
"""Where a drop kit's colour changes; common practice, no source."""

_LN_LOW, _LN_STEP, _POINTS = log(0.02), 0.02, 500


@dataclass(frozen=True, slots=True)
class Water:
    """Lookup tables of one water over ln(CO2) from 0.02 mg/L up in steps of 0.02.

    Attributes:
        cold_c, warm_c: the two temperatures [degC] of the pH tables; in between pH is linear.
        ph_cold, ph_warm: pH at each CO2 level.
        co2_mg_l: the levels [mg/L].
        excess_mg_l: dissolved inorganic carbon less alkalinity, as CO2 [mg/L], at each level; gas
            exchange, injection and plants change this sum, mixing conserves it.
    """

    cold_c: float
    warm_c: float
    ph_cold: tuple[float, ...]
    ph_warm: tuple[float, ...]
    co2_mg_l: tuple[float, ...]
    excess_mg_l: tuple[float, ...]

    def __deepcopy__(self, memo: dict[int, object]) -> Self:
        """The tables never change, so copies of a tank share them."""
        return self

    def ph(self, co2_mg_l: float, temp_c: float) -> float:
        """PH [-] at `co2_mg_l` [mg/L] and `temp_c` [degC], as an ideal electrode reads it."""
        place = (log(max(co2_mg_l, 0.02)) - _LN_LOW) / _LN_STEP
        i = min(int(place), _POINTS - 2)
        rest = place - i
        cold = self.ph_cold[i] + rest * (self.ph_cold[i + 1] - self.ph_cold[i])
        warm = self.ph_warm[i] + rest * (self.ph_warm[i + 1] - self.ph_warm[i])
        return cold + (temp_c - self.cold_c) / (self.warm_c - self.cold_c) * (warm - cold)

    def co2(self, excess_mg_l: float) -> float:
        """CO2 [mg/L] that goes with `excess_mg_l` [mg/L as CO2]."""
        table = self.excess_mg_l
        i = min(max(bisect_right(table, excess_mg_l), 1), _POINTS - 1)
        low, low_c = table[i - 1], self.co2_mg_l[i - 1]
        slope = (self.co2_mg_l[i] - low_c) / (table[i] - low)
        return max(low_c + slope * (excess_mg_l - low), 1e-3)

    def excess(self, co2_mg_l: float) -> float:
        """Carbon less alkalinity, as CO2 [mg/L], that goes with `co2_mg_l` [mg/L]."""
        i = min(max(bisect_right(self.co2_mg_l, co2_mg_l), 1), _POINTS - 1)
        low, low_s = self.co2_mg_l[i - 1], self.excess_mg_l[i - 1]
        slope = (self.excess_mg_l[i] - low_s) / (self.co2_mg_l[i] - low)
        return low_s + slope * (co2_mg_l - low)

    def level_at_ph(self, ph: float, temp_c: float) -> float:
        """CO2 [mg/L] at which an ideal electrode reads `ph` at `temp_c` [degC]."""
        share = (temp_c - self.cold_c) / (self.warm_c - self.cold_c)
        table = np.array(self.ph_cold) + share * (np.array(self.ph_warm) - np.array(self.ph_cold))
        return float(np.exp(np.interp(-ph, -table, np.log(np.array(self.co2_mg_l)))))


def other_alkalinity_meq_l(
    ph: npt.ArrayLike, phosphate_mg_l: float, doc_mg_l: float, ionic_strength_mol_l: float
) -> Floats:
    """Alkalinity [meq/L] that is no carbonate, counted from the kit's end point; shape of `ph`.

    Args: pH [-], phosphate [mg/L PO4], organic carbon [mg/L], ionic strength [mol/L].
    Sources: phreeqc.dat (phosphate), Hruska et al. 2003 (site density); the organic pKa are from memory.
    """
    meter = np.asarray(ph, dtype=np.float64)
    gamma = float(davies_gamma(ionic_strength_mol_l, 25.0))
    # HPO4-- over H2PO4-: gamma2 = gamma1^4, and the meter reads the proton's activity
    pka = PHOSPHATE_PKA2 + 3.0 * float(np.log10(gamma))
    phosphate = phosphate_mg_l / PO4_G_MOL * (_open(meter, pka) - _open(KIT_END_POINT_PH, pka))
    sites = doc_mg_l * ORGANIC_SITES_UEQ_MG * 1e-3 / len(ORGANIC_PKA)
    organic = sum((_open(meter, k) - _open(KIT_END_POINT_PH, k) for k in ORGANIC_PKA), np.zeros_like(meter))
    return np.asarray(phosphate + sites * organic)


def _open(ph: npt.ArrayLike, pka: float) -> Floats:
    """Share of an acid's sites that have lost their proton at `ph`."""
    return np.asarray(1.0 / (1.0 + 10.0 ** (pka - np.asarray(ph, dtype=np.float64))))


def make_water(
    alkalinity_meq_l: float,
    ionic_strength_mol_l: float,
    phosphate_mg_l: float,
    doc_mg_l: float,
    temp_c: float,
) -> Water:
    """Tables for a water of total (kit) alkalinity [meq/L] at a tank temperature [degC].

    Raises OutOfRangeError for water no aquarium has. Sources: those of `dawnlevel.chemistry`.
    """
    ph = np.linspace(4.6, 9.9, 1400)
    carbonate = alkalinity_meq_l - other_alkalinity_meq_l(ph, phosphate_mg_l, doc_mg_l, ionic_strength_mol_l)
    ln_levels = _LN_LOW + _LN_STEP * np.arange(_POINTS)

    def against_ln_co2(values: Floats, co2: Floats) -> tuple[float, ...]:
        good = co2 > 1e-3
        return tuple(np.interp(ln_levels, np.log(co2[good])[::-1], values[good][::-1]).tolist())

    def levels(at_c: float) -> Floats:
        return co2_from_ph_fast(
            ph, carbonate, carbonate_coefficients(alkalinity_meq_l, at_c, ionic_strength_mol_l)
        )

    cold, warm = temp_c - 6.0, temp_c + 3.0
    middle = carbonate_coefficients(alkalinity_meq_l, temp_c, ionic_strength_mol_l)
    co2, activity = levels(temp_c), 10.0**-ph
    dic_mg_l = co2 * (1.0 + middle.k1 / activity * (1.0 + middle.k2 / activity))
    return Water(
        cold_c=cold,
        warm_c=warm,
        ph_cold=against_ln_co2(ph, levels(cold)),
        ph_warm=against_ln_co2(ph, levels(warm)),
        co2_mg_l=tuple(np.exp(ln_levels).tolist()),
        excess_mg_l=against_ln_co2(dic_mg_l - alkalinity_meq_l * CO2_G_MOL, co2),
    )
