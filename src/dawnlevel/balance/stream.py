"""Dissolved oxygen over a day: the tank's balance with light, respiration and exchange, by trapezoid.

The form published for streams (Appling et al. 2018, J. Geophys. Res. Biogeosci. 123, 624-645,
doi 10.1002/2017JG004140), which is the CO2 balance with its sign changed:

    dO/dt = (GPP L(t)/mean(L) + ER)/z + K600 (Sc/600)^-1/2 (Osat - O)

Light and saturation are readings, not constants, so the step is a trapezoid in its closed implicit form.
Time is in days there, not hours, and so it is here.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.errors import BadInputError

_HALF_LOG_2_PI_E = 0.5 * (np.log(2.0 * np.pi) + 1.0)


@dataclass(frozen=True, slots=True)
class OxygenDay:
    """Readings of one day at even steps, all of shape (n,).

    `oxygen_mg_l` as measured, `saturation_mg_l` at the water's temperature, `light` in any unit,
    `exchange_scale` (Sc/600)^-1/2 [-]; `depth_m` mean depth [m], `step_d` the step [d].
    """

    oxygen_mg_l: npt.NDArray[np.float64]
    saturation_mg_l: npt.NDArray[np.float64]
    light: npt.NDArray[np.float64]
    exchange_scale: npt.NDArray[np.float64]
    depth_m: float
    step_d: float

    def __post_init__(self) -> None:
        """Refuse series of unequal length and days without light."""
        shapes = {s.shape for s in (self.oxygen_mg_l, self.saturation_mg_l, self.light, self.exchange_scale)}
        if len(shapes) != 1 or self.oxygen_mg_l.ndim != 1:
            raise BadInputError(
                "The day's series differ in length.",
                where="oxygen",
                cure="Give one value of each at every time.",
            )
        if not np.mean(self.light) > 0.0:
            raise BadInputError(
                "The day has no light.", where="oxygen", cure="Take a day with the lights on."
            )


def oxygen_trapezoid(
    day: OxygenDay,
    gpp_g_m2_d: npt.ArrayLike,
    er_g_m2_d: npt.ArrayLike,
    k600_per_d: npt.ArrayLike,
    first_mg_l: npt.ArrayLike | None = None,
) -> npt.NDArray[np.float64]:
    """Oxygen [mg/L], shape (..., n), for production and respiration [g/m2/d] and K600 [1/d], each (...).

    Respiration is negative. The first level is `first_mg_l` [mg/L], or else the first reading.
    """
    gpp, er, k600 = (np.asarray(v, dtype=np.float64) for v in (gpp_g_m2_d, er_g_m2_d, k600_per_d))
    light = day.light / np.mean(day.light)
    pull = day.exchange_scale * day.saturation_mg_l
    level = np.asarray(day.oxygen_mg_l[0] if first_mg_l is None else first_mg_l, dtype=np.float64)
    shape = np.broadcast_shapes(gpp.shape, er.shape, k600.shape, level.shape)
    levels = np.empty((*shape, light.size))
    levels[..., 0] = level
    for i in range(light.size - 1):
        made = (gpp * (light[i] + light[i + 1]) + 2.0 * er) / day.depth_m
        scales = day.exchange_scale[i] + day.exchange_scale[i + 1]
        drawn = k600 * (pull[i] + pull[i + 1] - scales * level)
        level = level + (made + drawn) * day.step_d / (2.0 + k600 * day.exchange_scale[i + 1] * day.step_d)
        levels[..., i + 1] = level
    return levels


def oxygen_negative_log_likelihood(
    oxygen_mg_l: npt.ArrayLike, measured_mg_l: npt.ArrayLike
) -> npt.NDArray[np.float64]:
    """Negative log likelihood, shape (...), of levels (..., n) against readings (n,), both mg/L.

    Independent normal errors whose sd is the root mean square residual: n (ln sd + (ln 2 pi + 1)/2).
    """
    residual = np.asarray(oxygen_mg_l, dtype=np.float64) - np.asarray(measured_mg_l, dtype=np.float64)
    mean_square = np.mean(residual * residual, axis=-1)
    value: npt.NDArray[np.float64] = residual.shape[-1] * (0.5 * np.log(mean_square) + _HALF_LOG_2_PI_E)
    return value
