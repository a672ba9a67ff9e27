"""Readings taken over some minutes brought to one moment by the day's model."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

UNFOLLOWED = 0.3
"""How far a place may fall short of following the tank's mean, as a share of the correction (sd); own choice:
a corner with an exchange time of half an hour lags a change of the last half hour by about that much."""


@dataclass(frozen=True, slots=True)
class Brought:
    """n readings at one moment.

    Attributes:
        positions_cm: where, shape (n, 3).
        relative: natural logarithm of CO2 over the readings' geometric mean, shape (n,).
        covariance: of its errors, shape (n, n).
        common: natural logarithm of the readings' geometric mean [ln mg/L], draws of shape (B,).
        noise_sd: what one reading's noise amounts to in `relative`.
        moved: largest correction made, as a share of the level.
    """

    positions_cm: Array
    relative: Array
    covariance: Array
    common: Array
    noise_sd: float
    moved: float


def bring(
    positions_cm: Array, co2_mg_l: Array, level_then_mg_l: Array, level_now_mg_l: Array, noise_sd: float
) -> Brought:
    """Readings at `positions_cm` (n, 3) as if all had been taken at one moment.

    `co2_mg_l` (n, B) is CO2 by the meter for each draw of water and meter; `level_then_mg_l` (n, B) and
    `level_now_mg_l` (B,) what the model says of the tank as a whole at each reading's time and at the moment
    [all mg/L]. `noise_sd` is the reading noise of the natural logarithm of CO2. What all readings share (the
    meter's offset, KH) is no unevenness and goes into `common`.
    """
    shift = np.log(level_now_mg_l) - np.log(level_then_mg_l)
    logs = np.log(co2_mg_l) + shift
    common = logs.mean(axis=0)
    relative = logs - common
    followed = UNFOLLOWED * shift.mean(axis=1)
    spread = np.atleast_2d(np.cov(relative)) if relative.shape[1] > 1 else np.zeros((len(shift),) * 2)
    covariance = spread + np.diag(noise_sd**2 + followed**2)
    moved = float(np.abs(np.expm1(shift.mean(axis=1))).max())
    return Brought(positions_cm, relative.mean(axis=1), covariance, common, noise_sd, moved)
