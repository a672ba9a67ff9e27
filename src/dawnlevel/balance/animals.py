"""What animals take from the water and give to it: oxygen by mass and temperature."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from dawnlevel.arguments import Floats, checked
from dawnlevel.balance.prior import Prior
from dawnlevel.tank import Animals
from dawnlevel.units import KELVIN_AT_0_C, O2_G_MOL

#: Resting oxygen uptake of a bony fish of 50 g, ln R = a - b/T with R in mmol/h and T in K; 69 species,
#: Clarke & Johnston 1999, J. Anim. Ecol. 68, 893 (checked against the abstract).
intercept_clarke_johnston_1999 = 15.7
slope_k_clarke_johnston_1999 = 5020.0
reference_mass_g_clarke_johnston_1999 = 50.0

#: Exponent of mass, pooled over all species; the mean of the species' own exponents is 0.79 (standard error
#: 0.11). Same source.
mass_exponent_clarke_johnston_1999 = 0.80

_WHERE = "oxygen use of fish"


def fish_oxygen_mg_per_h(mass_g: npt.ArrayLike, temp_c: npt.ArrayLike) -> Floats:
    """Oxygen that one resting bony fish takes from the water [mg/h].

    Args:
        mass_g: mass of the fish [g], 0.001 to 100000.
        temp_c: temperature of the water [degC], 0 to 40.

    Shapes broadcast; NaN gives NaN. A moving, feeding or frightened fish takes more.
    Raises OutOfRangeError, and BadInputError for what is no number. Source: Clarke & Johnston 1999, J. Anim.
    Ecol. 68, 893: ln R = 15.7 - 5020/T for 50 g, times (mass/50)^0.80. Across species, not within one: one
    that suddenly is 10 degC warmer raises its uptake 2.40-fold (median, same source), not 1.83-fold.
    """
    mass = checked(_WHERE, "mass of the fish", mass_g, 1e-3, 1e5, "g")
    kelvin = checked(_WHERE, "temperature", temp_c, 0.0, 40.0, "degC") + KELVIN_AT_0_C
    at_50_g = np.exp(intercept_clarke_johnston_1999 - slope_k_clarke_johnston_1999 / kelvin)
    scale = np.power(mass / reference_mass_g_clarke_johnston_1999, mass_exponent_clarke_johnston_1999)
    return np.asarray(O2_G_MOL * at_50_g * scale)


#: Oxygen uptake of animals that swim about and are fed, over that at rest, 90 % span: routine 1.5-2 times,
#: fed 2-3 times (physiology texts, from memory, not checked).
ROUTINE_FACTOR = Prior(1.8, 1.2, 2.8, "", "from memory, not checked: physiology texts")

#: CO2 given off per oxygen taken up [mg/mg]: 44.0095/31.9988 times a respiratory quotient of 0.85 to 1.0
#: (from memory, not checked); about 1:1 by weight in the Purdue tilapia manual (checked against its table).
CO2_PER_OXYGEN = 1.375 * 0.925


def resting_oxygen_mg_per_h(animals: Sequence[Animals], temp_c: float) -> float:
    """Oxygen that all `animals` take at rest in water of `temp_c` [degC, 0 to 40]: mg/h.

    Shrimp, snails and others are taken as fish of their mass: no figure for them was found. Raises
    OutOfRangeError. Source: fish_oxygen_mg_per_h.
    """
    return float(sum(one.number * float(fish_oxygen_mg_per_h(one.grams, temp_c)) for one in animals))
