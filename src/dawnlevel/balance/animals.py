"""What animals take from the water and give to it: oxygen by mass and temperature."""

import numpy as np
import numpy.typing as npt

from dawnlevel.arguments import Floats, checked
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
