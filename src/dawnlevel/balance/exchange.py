"""Gas exchange through the water's surface: transfer velocity, its prior by surface, kLa.

A prior here is a judgement built from published transfer velocities, named beside it; no published one
for an aquarium's surface was found.
"""

import numpy as np
import numpy.typing as npt

from dawnlevel.balance.prior import Prior
from dawnlevel.chemistry.schmidt import schmidt_co2
from dawnlevel.tank import Surface

_LAKES = (
    "judgement from Emerson 1975, Limnol. Oceanogr. 20, 754 (0.8 +/- 0.4 cm/h, very sheltered lakes); "
    "Cole et al. 2010, Limnol. Oceanogr. Methods 8, 285 (1.5-3.1, small lakes in little wind)"
)
_STIRRED = (
    "judgement from Heiskanen et al. 2014, Tellus B 66, 22827 (about 7 cm/h, lake with convection); "
    "stirred cells 4-18 (from memory, not checked)"
)

#: Transfer velocity of CO2 at 22 degC by how the surface moves, cm/h, median (90 % span).
TRANSFER_VELOCITY_CM_H: dict[Surface, Prior] = {
    Surface.STILL: Prior(1.0, 0.4, 2.5, "cm/h", _LAKES),
    Surface.GENTLE: Prior(3.0, 1.5, 6.0, "cm/h", _LAKES),
    Surface.RIPPLED: Prior(7.0, 4.0, 12.0, "cm/h", _STIRRED),
    Surface.STRONG: Prior(15.0, 8.0, 30.0, "cm/h", _STIRRED),
}

#: Temperature the priors are meant at, degC.
PRIOR_TEMP_C = 22.0

#: kLa of CO2 over kLa of O2, 0.92 +/- 0.03 (1 sd): (Sc_CO2/Sc_O2)^-n, n 1/2 to 2/3, Schmidt numbers of
#: Wanninkhof 1992, J. Geophys. Res. 97, 7373 (computed). Not to be fitted. It fails where bubbles carry
#: the exchange: an air bubble fills with CO2 and stops working, Biogeosciences 15, 3085 (2018).
kla_ratio_co2_o2_wanninkhof_1992 = 0.92
kla_ratio_sd_co2_o2_wanninkhof_1992 = 0.03


def kla_per_h(
    transfer_velocity_cm_h: npt.ArrayLike,
    depth_cm: npt.ArrayLike,
    temp_c: npt.ArrayLike = PRIOR_TEMP_C,
    reference_temp_c: npt.ArrayLike = PRIOR_TEMP_C,
    exponent: npt.ArrayLike = 2.0 / 3.0,
) -> npt.NDArray[np.float64]:
    """Exchange rate kLa of CO2 [1/h]: transfer velocity [cm/h] over depth [cm], scaled with Sc^-exponent.

    The velocity holds at `reference_temp_c` [degC]. Exponent 2/3 for a smooth surface, 1/2 for a wavy
    one: Jaehne et al. 1987, J. Geophys. Res. 92 (checked against the abstract). All broadcast.
    """
    velocity = np.asarray(transfer_velocity_cm_h, dtype=np.float64)
    scale = np.power(
        schmidt_co2(temp_c) / schmidt_co2(reference_temp_c), -np.asarray(exponent, dtype=np.float64)
    )
    kla: npt.NDArray[np.float64] = velocity * scale / np.asarray(depth_cm, dtype=np.float64)
    return kla


def kla_o2_per_h(kla_co2_per_h: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Exchange rate (kLa) of O2 [1/h] from that of CO2 [1/h] by the fixed ratio 0.92; any shape."""
    kla: npt.NDArray[np.float64] = (
        np.asarray(kla_co2_per_h, dtype=np.float64) / kla_ratio_co2_o2_wanninkhof_1992
    )
    return kla
