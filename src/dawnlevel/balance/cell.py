"""The indicator cell: a first-order lag behind the tank, exact over a step; arrays broadcast.

x' = (C(t) - x)/tau, x the CO2 level that the cell's liquid shows, in mg/L of the tank's water. The tank
follows the exact step of `step.py`, so C(t) = C_inf + (C_0 - C_inf) e^(-k t).

Why a lag of first order: film theory with two nodes, tank film - gas gap - cell liquid; the fast node is
0.1-0.9 h (computed from diffusivities, CRC Handbook from Jaehne et al. 1987, J. Geophys. Res. 92;
no published measurement of an indicator cell was found).
"""

import numpy as np
import numpy.typing as npt

from dawnlevel.balance.phi import exp_difference_ratio, log1p_ratio
from dawnlevel.balance.prior import Prior

#: Lag of a common cell: computed (see above); rise and fall are learnt apart, because CO2 taken up from
#: above makes the liquid overturn while its loss leaves it stably layered.
CELL_LAG_H = Prior(2.0, 0.8, 6.0, "h", "computed from film theory, no published measurement found")

# A tank that moves more slowly than this stands still; it keeps the quotient below from overflowing.
_LEAST_SLOPE_MG_L_H = 1e-280


def cell_step(
    x0_mg_l: npt.ArrayLike,
    c0_mg_l: npt.ArrayLike,
    c_inf_mg_l: npt.ArrayLike,
    loss_per_h: npt.ArrayLike,
    tau_h: npt.ArrayLike,
    dt_h: npt.ArrayLike,
) -> npt.NDArray[np.float64]:
    """Level [mg/L] in the cell after `dt_h` [h], from `x0_mg_l`, lag `tau_h` > 0 [h]; all broadcast.

    The tank goes from `c0_mg_l` towards `c_inf_mg_l` at `loss_per_h` [1/h]; a loss of nought, or
    c0 = c_inf, is a constant tank. Right also where 1/tau equals the loss.
    """
    x0, c0, c_inf = (np.asarray(values, dtype=np.float64) for values in (x0_mg_l, c0_mg_l, c_inf_mg_l))
    dt = np.asarray(dt_h, dtype=np.float64)
    tank = np.asarray(loss_per_h, dtype=np.float64) * dt
    lag = dt / np.asarray(tau_h, dtype=np.float64)
    level: npt.NDArray[np.float64] = (
        c_inf + (x0 - c_inf) * np.exp(-lag) + (c0 - c_inf) * lag * exp_difference_ratio(tank, lag)
    )
    return level


def cell_step_rise_fall(
    x0_mg_l: npt.ArrayLike,
    c0_mg_l: npt.ArrayLike,
    c_inf_mg_l: npt.ArrayLike,
    loss_per_h: npt.ArrayLike,
    tau_rise_h: npt.ArrayLike,
    tau_fall_h: npt.ArrayLike,
    dt_h: npt.ArrayLike,
) -> npt.NDArray[np.float64]:
    """As `cell_step`, with one lag while the cell is below the tank and another while it is above.

    Within a step the tank moves one way, so cell and tank meet at most once; the meeting is found in
    closed form and the lag changes there. All arguments broadcast; levels in mg/L, times in h.
    """
    x0, c0, c_inf, loss, rise, fall, dt = (
        np.asarray(values, dtype=np.float64)
        for values in (x0_mg_l, c0_mg_l, c_inf_mg_l, loss_per_h, tau_rise_h, tau_fall_h, dt_h)
    )
    ahead = np.where(c0 == x0, c_inf - c0, c0 - x0)
    first = np.where(ahead >= 0.0, rise, fall)
    second = np.where(ahead >= 0.0, fall, rise)
    split = np.minimum(_meeting_time(x0 - c0, c0 - c_inf, loss, first), dt)
    x_split = cell_step(x0, c0, c_inf, loss, first, split)
    c_split = c_inf + (c0 - c_inf) * np.exp(-loss * split)
    return cell_step(x_split, c_split, c_inf, loss, second, dt - split)


def _meeting_time(
    gap: npt.NDArray[np.float64],
    excess: npt.NDArray[np.float64],
    loss: npt.NDArray[np.float64],
    tau: npt.NDArray[np.float64],
) -> npt.NDArray[np.float64]:
    """Hours until the cell meets the tank, infinite if never; `gap` x0 - C0, `excess` C0 - C_inf, mg/L.

    The gap is gap e^(-t/tau) + k excess (e^(-k t) - e^(-t/tau))/(1/tau - k); it is nought where
    (e^((1/tau - k) t) - 1)/(1/tau - k) = q, q = -gap/(k excess).
    """
    slope = loss * excess
    moves = np.abs(slope) > _LEAST_SLOPE_MG_L_H
    q = np.where(moves, -gap / np.where(moves, slope, 1.0), 0.0)
    y = (1.0 / tau - loss) * q
    meets = (q > 0.0) & (y > -1.0)
    time: npt.NDArray[np.float64] = np.where(meets, q * log1p_ratio(np.where(meets, y, 0.0)), np.inf)
    return time
