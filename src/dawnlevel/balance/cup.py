"""The baseline cup: how much CO2 is still in it after some hours; arrays broadcast.

The film law carries carbon away, d(DIC)/dt = -(k/h)(C - Ceq), while the alkalinity stays. As carbonate
gives its carbon back, CO2 falls more slowly than DIC: dC/dt = -(k/h)(C - Ceq)/B with B = dDIC/dC, about
1 + CO3/CO2, which grows in hard water. A still cup left overnight is therefore not at its baseline yet.
"""

import numpy as np
import numpy.typing as npt

from dawnlevel.balance.prior import Prior
from dawnlevel.chemistry import CarbonateCoefficients, carbonate_coefficients
from dawnlevel.chemistry.coefficients import MOL_PER_MG_CO2, ph_from_co2_fast
from dawnlevel.errors import OutOfRangeError
from dawnlevel.tank import BaselineMethod

_JUDGED = "judgement from film theory and lakes (computed); no published cup was found"

#: Transfer velocity in the cup by how it was prepared, cm/h. Stirred and aerated have no published span;
#: a factor 2 either way is taken, as for the still cup. Aerated is an effective figure for an air stone.
CUP_TRANSFER_VELOCITY_CM_H: dict[BaselineMethod, Prior] = {
    BaselineMethod.STILL_CUP: Prior(1.0, 0.5, 2.0, "cm/h", _JUDGED),
    BaselineMethod.STIRRED_CUP: Prior(5.0, 2.5, 10.0, "cm/h", _JUDGED),
    BaselineMethod.AERATED: Prior(20.0, 10.0, 40.0, "cm/h", _JUDGED),
}

#: Depth of water in a cup whose depth nobody noted, cm (common practice, no source).
CUP_DEPTH_CM = 7.5

# Runge-Kutta of fourth order for L = -ln(excess left/excess at first), in steps that change L by no more
# than this; beyond the deepest L the excess is below 1e-10 of itself and B no longer changes.
_STEP = 0.25
_DEEPEST = 25.0


def cup_residue_fraction(
    transfer_velocity_cm_h: npt.ArrayLike, depth_cm: npt.ArrayLike, hours: npt.ArrayLike
) -> npt.NDArray[np.float64]:
    """Share (0 to 1) of the excess CO2 left after `hours` [h] without buffering: exp(-k t/h); broadcast.

    k in cm/h, depth in cm. Too small in hard water; see `cup_co2_mg_l`.
    """
    exchanges = np.asarray(transfer_velocity_cm_h, dtype=np.float64) * np.asarray(hours, dtype=np.float64)
    share: npt.NDArray[np.float64] = np.exp(-exchanges / np.asarray(depth_cm, dtype=np.float64))
    return share


def cup_co2_mg_l(
    start_co2_mg_l: npt.ArrayLike,
    air_co2_mg_l: npt.ArrayLike,
    transfer_velocity_cm_h: npt.ArrayLike,
    depth_cm: npt.ArrayLike,
    hours: npt.ArrayLike,
    alkalinity_meq_l: npt.ArrayLike | None = None,
    temp_c: npt.ArrayLike = 22.0,
    ionic_strength_mol_l: npt.ArrayLike | None = None,
) -> npt.NDArray[np.float64]:
    """CO2 [mg/L] in the cup after `hours` [h]; all arguments broadcast.

    Start and air level in mg/L, transfer velocity k in cm/h, depth in cm. With `alkalinity_meq_l` [meq/L]
    the carbonate buffer is followed, at `temp_c` [degC]; without, the plain exponential. Numerical error
    with buffer, from 0.3 to 20 dKH: 1e-5 in pH for a cup that loses CO2, 0.001 for one that takes it up.

    Raises: OutOfRangeError for a negative level, k or time, or a depth not above nought.
    """
    start, air, velocity, depth, time = (
        np.asarray(values, dtype=np.float64)
        for values in (start_co2_mg_l, air_co2_mg_l, transfer_velocity_cm_h, depth_cm, hours)
    )
    for name, values, unit in (
        ("CO2 in the cup", start, "mg/L"),
        ("CO2 at rest with the air", air, "mg/L"),
        ("transfer velocity", velocity, "cm/h"),
        ("hours in the cup", time, "h"),
    ):
        _refuse_below(name, values, 0.0, unit)
    _refuse_below("depth of the cup", depth, 1e-3, "cm")
    exchanges = velocity * time / depth
    excess = start - air
    if alkalinity_meq_l is None:
        return np.asarray(air + excess * np.exp(-exchanges))
    alkalinity = np.asarray(alkalinity_meq_l, dtype=np.float64)
    coefficients = carbonate_coefficients(alkalinity, temp_c, ionic_strength_mol_l)
    decay = _buffered_decay(air, excess, exchanges, alkalinity, coefficients)
    return np.asarray(air + excess * np.exp(-decay))


def carbonate_buffer(
    co2_mg_l: npt.ArrayLike, alkalinity_meq_l: npt.ArrayLike, coefficients: CarbonateCoefficients
) -> npt.NDArray[np.float64]:
    """dDIC/dCO2 at fixed alkalinity, dimensionless, at least 1; CO2 in mg/L, alkalinity in meq/L.

    With HCO3 ~ C/a, CO3 ~ C/a^2 and the charge HCO3 + 2 CO3 + OH - H fixed, d ln a/d ln C is
    (HCO3 + 2 CO3)/(HCO3 + 4 CO3 + OH + H); where H and OH are small this is 1 + CO3/CO2 and a little less.
    """
    co2 = np.asarray(co2_mg_l, dtype=np.float64)
    activity = np.power(
        10.0, -ph_from_co2_fast(co2, np.asarray(alkalinity_meq_l, dtype=np.float64), coefficients)
    )
    per_co2 = coefficients.k1 / activity  # HCO3/CO2
    carbonate = per_co2 * coefficients.k2 / activity
    water = (coefficients.kw / activity + activity / coefficients.gamma1) / (MOL_PER_MG_CO2 * co2)
    follows = (per_co2 + 2.0 * carbonate) / (per_co2 + 4.0 * carbonate + water)
    buffer: npt.NDArray[np.float64] = 1.0 + per_co2 * (1.0 - follows) + carbonate * (1.0 - 2.0 * follows)
    return buffer


def _buffered_decay(
    air: npt.NDArray[np.float64],
    excess: npt.NDArray[np.float64],
    exchanges: npt.NDArray[np.float64],
    alkalinity: npt.NDArray[np.float64],
    coefficients: CarbonateCoefficients,
) -> npt.NDArray[np.float64]:
    """L = -ln(excess left/excess at first), dimensionless: dL/ds = 1/B, s = k t/h from 0 to `exchanges`."""

    def slope(depth: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        level = np.maximum(air + excess * np.exp(-depth), 1e-9)
        return 1.0 / carbonate_buffer(level, alkalinity, coefficients)

    shape = np.broadcast_shapes(air.shape, excess.shape, exchanges.shape, alkalinity.shape)
    decay, left = np.zeros(shape), np.broadcast_to(exchanges, shape)
    at_rest = slope(np.full(shape, np.inf))
    while np.any((left > 0.0) & (decay < _DEEPEST)):
        first = slope(decay)
        ds = np.minimum(left, _STEP / np.maximum(first, at_rest))
        second = slope(decay + 0.5 * ds * first)
        third = slope(decay + 0.5 * ds * second)
        fourth = slope(decay + ds * third)
        decay = decay + ds / 6.0 * (first + 2.0 * (second + third) + fourth)
        left = left - ds
    return decay + left * at_rest


def _refuse_below(name: str, values: npt.NDArray[np.float64], low: float, unit: str) -> None:
    """Raise OutOfRangeError naming the least of `values` unless all are at least `low` (in `unit`)."""
    if not np.all(values >= low):
        raise OutOfRangeError(name, float(np.min(values)), low, np.inf, unit, where="baseline cup")
