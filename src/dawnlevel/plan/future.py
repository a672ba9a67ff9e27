"""The hours ahead, for many gas schedules at once and every draw of the posterior."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.balance.trajectory import Steps, levels
from dawnlevel.estimate.posterior import Posterior
from dawnlevel.estimate.priors import DAY_PH_SPREAD, DRIFT_SPREAD, HALF_SATURATION_MG_L, SETTING_SPREAD

Array = npt.NDArray[np.float64]

LINEARISED_AT_MG_L = 20.0
"""Where uptake is linearised first: near the levels that plans aim at."""


@dataclass(frozen=True, slots=True)
class Hours:
    """A grid of hours ahead, shared by all schedules.

    Attributes:
        edges_h: hours from the posterior's end, shape (S+1,); edges_h[0] is 0.
        light: share of full light in each step, shape (S,).
        next_day: 1 where a step belongs to the gas day after the posterior's last, shape (S,).
    """

    edges_h: Array
    light: Array
    next_day: Array

    @property
    def middle_h(self) -> Array:
        """Middle of each step [h], shape (S,)."""
        return np.asarray(0.5 * (self.edges_h[1:] + self.edges_h[:-1]))


@dataclass(frozen=True, slots=True)
class Chances:
    """What is drawn anew for the future, so that all schedules meet the same luck. Shapes (n,).

    Attributes:
        new_setting_log: error of a needle count set anew.
        next_drift_log: drift of the gain into the next gas day.
        next_day_ph: what a mixed-tank balance misses on the next gas day [pH].
    """

    new_setting_log: Array
    next_drift_log: Array
    next_day_ph: Array


def chances(posterior: Posterior, rng: np.random.Generator) -> Chances:
    """Luck for every draw of `posterior`."""
    z = rng.standard_normal((3, posterior.size))
    return Chances(SETTING_SPREAD * z[0], DRIFT_SPREAD * z[1], DAY_PH_SPREAD * z[2])


def thin(posterior: Posterior, n: int) -> Posterior:
    """The posterior with every k-th draw only, n or a few more."""
    step = max(posterior.size // n, 1)
    return posterior.subset(slice(0, step * n, step))


def simulate(
    posterior: Posterior, luck: Chances, hours: Hours, open_share: Array, rate_bps: Array, is_new: Array
) -> Array:
    """CO2 at the edges of `hours` for K schedules and n draws [mg/L], shape (S+1, K, n).

    Args:
        posterior: where the tank stands now.
        luck: what is drawn anew.
        hours: the grid.
        open_share: share of each step in which the gas is open, shape (S, K).
        rate_bps: counted rate of each schedule [bubbles/s], shape (K,).
        is_new: whether the count is a new needle setting (True) or the present one, shape (K,).
    """
    unknowns, n, k = posterior.unknowns, posterior.size, open_share.shape[1]
    drift = unknowns.drift_log[-1]
    present = drift + unknowns.setting_log[-1] if unknowns.setting_log.size else drift
    log_gain = np.where(is_new[:, None], drift + luck.new_setting_log, present)
    full = unknowns["gain_mg_l_h_per_bps"] * np.exp(log_gain) * rate_bps[:, None]
    by_day = np.stack((full, full * np.exp(luck.next_drift_log)))
    injected = (by_day[hours.next_day.astype(np.intp)] * open_share[:, :, None]).reshape(-1, k * n)
    names = ("kla_per_h", "gain_fade", "respiration_mg_l_h", "uptake_mg_l_h")
    kla, fade, respiration, uptake = (np.tile(unknowns[name], k) for name in names)
    air = np.tile(unknowns.air_co2_mg_l, k)
    steps = Steps(
        dt_h=np.diff(hours.edges_h),
        source_mg_l_h=injected + (kla * air + respiration),
        loss_per_h=injected * (fade / 30.0) + kla,
        light=hours.light,
        replaced=np.zeros(hours.light.size),
        fresh_mg_l=air,
    )
    start = np.tile(posterior.levels[-1], k)
    guess = np.full((hours.edges_h.size, 1), LINEARISED_AT_MG_L)
    found = levels(start, steps, uptake, HALF_SATURATION_MG_L, guess_mg_l=guess, passes=2)
    return np.maximum(found, 0.05).reshape(-1, k, n)
