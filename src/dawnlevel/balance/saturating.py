"""The level after a step when plants take CO2 up by a saturating (Michaelis) law; arrays broadcast.

dC/dt = s - k C - U C/(Km + C). The steady level C* (f(C*) = 0) divides out without cancelling:

    d(C - C*)/dt = -(C - C*) [k + a/(Km + C)],  a = U Km/(Km + C*)

so with D = C - C* and L = -ln(D/D0) the time to reach L is, with b = Km + C*, m = k b + a, w = e^-L,

    t(L) = [b L + a D0 (1 - w)/(k (b + D0 w) + a) * ln(1 + z)/z] / m,  z = k D0 (1 - w)/(k (b + D0 w) + a)

an exact, implicit solution; it is solved for L by Newton. From L = (rate at C0) dt the iterates approach
the root from one side, because t(L) is concave for D0 > 0 and convex for D0 < 0: no bracketing is needed.
Own derivation from the separable equation; checked against an adaptive solver in the tests.
"""

import numpy as np
import numpy.typing as npt

from dawnlevel.balance.phi import log1p_ratio
from dawnlevel.errors import OutOfRangeError

#: Prior of the half-saturation constant, mg/L of free CO2: 3.3 to 7.5, submersed plants at 30 degC.
#: Van, Haller & Bowes 1976, Plant Physiol. 58, 761: 75-95 umol/L at pH 8, 150-170 at pH 4
#: (checked against the source's abstract).
km_low_van_haller_bowes_1976_mg_l = 3.3
km_high_van_haller_bowes_1976_mg_l = 7.5

# A loss below this is taken as this, so that a steady level always exists; over a day it changes the
# level by less than 3e-9 of itself.
_LEAST_LOSS_PER_H = 1e-10
_MOST_ITERATIONS = 60
_RELATIVE_TOLERANCE = 1e-13


def step_saturating(
    c0_mg_l: npt.ArrayLike,
    source_mg_l_h: npt.ArrayLike,
    loss_per_h: npt.ArrayLike,
    uptake_max_mg_l_h: npt.ArrayLike,
    km_mg_l: npt.ArrayLike,
    dt_h: npt.ArrayLike,
) -> npt.NDArray[np.float64]:
    """Level [mg/L] after `dt_h` [h] with uptake U C/(Km + C), U [mg/L/h], Km [mg/L]; all broadcast.

    Source [mg/L/h], loss [1/h], uptake and start must not be negative, Km above nought. Closed implicit
    form, Newton to a relative 1e-13 in ln(C - C*); the level agrees with an adaptive solver to 1e-9.

    Raises: OutOfRangeError for a negative argument or a Km that is not above nought.
    """
    c0, source, loss, uptake, km, dt = (
        np.asarray(values, dtype=np.float64)
        for values in (c0_mg_l, source_mg_l_h, loss_per_h, uptake_max_mg_l_h, km_mg_l, dt_h)
    )
    _refuse_below("level", c0, 0.0, "mg/L")
    _refuse_below("source", source, 0.0, "mg/L/h")
    _refuse_below("loss", loss, 0.0, "1/h")
    _refuse_below("uptake", uptake, 0.0, "mg/L/h")
    _refuse_below("half-saturation level", km, np.finfo(np.float64).tiny, "mg/L")
    _refuse_below("step", dt, 0.0, "h")
    loss = np.maximum(loss, _LEAST_LOSS_PER_H)
    steady = _steady(source, loss, uptake, km)
    gap = c0 - steady
    curve = uptake * km / (km + steady)
    closed = _log_decay(gap, km + c0, km + steady, loss, curve, dt)
    level: npt.NDArray[np.float64] = np.maximum(c0 + gap * np.expm1(-closed), 0.0)
    return level


def steady_level_saturating(
    source_mg_l_h: npt.ArrayLike,
    loss_per_h: npt.ArrayLike,
    uptake_max_mg_l_h: npt.ArrayLike,
    km_mg_l: npt.ArrayLike,
) -> npt.NDArray[np.float64]:
    """Level [mg/L] at which source, loss and saturating uptake balance; arguments as `step_saturating`.

    Without any loss and with more source than uptake there is none; a loss of 1e-10 1/h is assumed then.
    """
    source, loss, uptake, km = (
        np.asarray(values, dtype=np.float64)
        for values in (source_mg_l_h, loss_per_h, uptake_max_mg_l_h, km_mg_l)
    )
    return _steady(source, np.maximum(loss, _LEAST_LOSS_PER_H), uptake, km)


def _steady(
    source: npt.NDArray[np.float64],
    loss: npt.NDArray[np.float64],
    uptake: npt.NDArray[np.float64],
    km: npt.NDArray[np.float64],
) -> npt.NDArray[np.float64]:
    """The root >= 0 of k C^2 + (k Km + U - s) C - s Km = 0 [mg/L], in the form that does not cancel."""
    linear = loss * km + uptake - source
    root = np.sqrt(linear * linear + 4.0 * loss * source * km)
    size = np.abs(linear) + root
    steady: npt.NDArray[np.float64] = np.where(
        linear >= 0.0, 2.0 * source * km / np.where(size > 0.0, size, 1.0), size / (2.0 * loss)
    )
    return steady


def _log_decay(
    gap: npt.NDArray[np.float64],
    start: npt.NDArray[np.float64],
    end: npt.NDArray[np.float64],
    loss: npt.NDArray[np.float64],
    curve: npt.NDArray[np.float64],
    dt: npt.NDArray[np.float64],
) -> npt.NDArray[np.float64]:
    """L = -ln(D/D0) after `dt` [h]; `gap` D0, `start` Km + C0, `end` Km + C* in mg/L, `curve` a in mg/L/h."""
    slowest = loss * end + curve
    decay = (loss + curve / start) * dt
    for _ in range(_MOST_ITERATIONS):
        gone = -gap * np.expm1(-decay)  # D0 (1 - w)
        here = start - gone  # Km + C
        rate = loss * here + curve
        time = (end * decay + curve * gone / rate * log1p_ratio(loss * gone / rate)) / slowest
        change = (dt - time) * rate / here
        decay = decay + change
        if np.all(np.abs(change) <= _RELATIVE_TOLERANCE * decay):
            break
    result: npt.NDArray[np.float64] = decay
    return result


def _refuse_below(name: str, values: npt.NDArray[np.float64], low: float, unit: str) -> None:
    """Raise OutOfRangeError naming the least of `values` unless all are at least `low` (in `unit`)."""
    if not np.all(values >= low):
        raise OutOfRangeError(name, float(np.min(values)), low, np.inf, unit, where="saturating uptake")
