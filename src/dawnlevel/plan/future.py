"""The hours ahead, for many gas schedules at once and every draw of the posterior."""

from dataclasses import dataclass
from typing import cast

import numpy as np
import numpy.typing as npt

from dawnlevel.balance.trajectory import Steps, levels
from dawnlevel.estimate.posterior import Posterior
from dawnlevel.estimate.priors import (
    AHEAD_PH_SPREAD,
    DAY_PH_SPREAD,
    DRIFT_SPREAD,
    HALF_SATURATION_MG_L,
    SETTING_SPREAD,
)

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
        later_setting_log: the same for a second change of the needle.
        next_drift_log: drift of the gain into the next gas day.
        next_day_ph: what a mixed-tank balance misses on the next gas day [pH].
        ahead_ph: what it misses an hour and more ahead of the last record [pH].
    """

    new_setting_log: Array
    later_setting_log: Array
    next_drift_log: Array
    next_day_ph: Array
    ahead_ph: Array

    def missed_ph(self, posterior: Posterior, hour_h: float, *, is_next_day: bool) -> Array:
        """What the balance misses `hour_h` hours ahead, [pH], shape (n,); grows over the first hour."""
        day = self.next_day_ph if is_next_day else posterior.unknowns.day_ph[-1]
        return np.asarray(day + self.ahead_ph * min(max(hour_h, 0.0), 1.0))

    def subset(self, chosen: slice) -> "Chances":
        """The same luck for some of the draws only."""
        return Chances(
            self.new_setting_log[chosen],
            self.later_setting_log[chosen],
            self.next_drift_log[chosen],
            self.next_day_ph[chosen],
            self.ahead_ph[chosen],
        )


def chances(posterior: Posterior, rng: np.random.Generator) -> Chances:
    """Luck for every draw of `posterior`."""
    z = rng.standard_normal((5, posterior.size))
    setting, later = SETTING_SPREAD * z[0], SETTING_SPREAD * z[1]
    return Chances(setting, later, DRIFT_SPREAD * z[2], DAY_PH_SPREAD * z[3], AHEAD_PH_SPREAD * z[4])


def thin(posterior: Posterior, n: int) -> Posterior:
    """The posterior with every k-th draw only, n or a few more."""
    step = max(posterior.size // n, 1)
    return posterior.subset(slice(0, step * n, step))


@dataclass(frozen=True, slots=True)
class Gas:
    """What the gas does on a grid of S steps, for K schedules.

    Attributes:
        open_share: share of each step in which the gas is open, shape (S, K).
        rate_bps: counted rate [bubbles/s], shape (K,).
        is_new: whether the count is a new needle setting (True) or the present one, shape (K,).
        later_bps: count after a second change of the needle [bubbles/s], shape (K,).
        is_later: whether that change has been made, shape (S, K); None where no schedule has one.
        still_bps: count that still flows before any schedule begins [bubbles/s], shape (S,); None for none.
    """

    open_share: Array
    rate_bps: Array
    is_new: Array
    later_bps: Array
    is_later: npt.NDArray[np.bool_] | None
    still_bps: Array | None = None


def _injected(posterior: Posterior, luck: Chances, hours: Hours, gas: Gas) -> Array:
    """CO2 injected in each step [mg/L/h], shape (S, K, n)."""
    unknowns = posterior.unknowns
    drift = unknowns.drift_log[-1]
    present = drift + unknowns.setting_log[-1] if unknowns.setting_log.size else drift
    log_gain = np.where(gas.is_new[:, None], drift + luck.new_setting_log, present)
    full = unknowns["gain_mg_l_h_per_bps"] * np.exp(log_gain) * gas.rate_bps[:, None]
    next_day = np.exp(luck.next_drift_log)
    which = hours.next_day.astype(np.intp)
    injected = np.stack((full, full * next_day))[which]
    if gas.is_later is not None:
        gain = unknowns["gain_mg_l_h_per_bps"] * np.exp(drift + luck.later_setting_log)
        later = gain * gas.later_bps[:, None]
        injected = np.where(gas.is_later[:, :, None], np.stack((later, later * next_day))[which], injected)
    injected = injected * gas.open_share[:, :, None]
    if gas.still_bps is not None and gas.still_bps.any():
        still = unknowns["gain_mg_l_h_per_bps"] * np.exp(present)
        injected = injected + still * gas.still_bps[:, None, None]
    return np.asarray(injected)


def simulate(posterior: Posterior, luck: Chances, hours: Hours, gas: Gas) -> Array:
    """CO2 at the edges of `hours` for K schedules and n draws [mg/L], shape (S+1, K, n).

    Worked out in single precision, which is quicker: 1e-5 of a level is far below any doubt about it.
    """
    unknowns, n, k = posterior.unknowns, posterior.size, gas.rate_bps.size
    injected = _single(_injected(posterior, luck, hours, gas).reshape(-1, k * n))
    names = ("kla_per_h", "gain_fade", "respiration_mg_l_h", "uptake_mg_l_h")
    kla, fade, respiration, uptake = (_single(np.tile(unknowns[name], k)) for name in names)
    air = _single(np.tile(unknowns.air_co2_mg_l, k))
    steps = Steps(
        dt_h=_single(np.diff(hours.edges_h)),
        source_mg_l_h=injected + (kla * air + respiration),
        loss_per_h=injected * (fade / 30.0) + kla,
        light=_single(hours.light),
        replaced=np.zeros(hours.light.size),
        fresh_mg_l=air,
    )
    start = _single(np.tile(posterior.levels[-1], k))
    guess = _single(np.full((hours.edges_h.size, 1), LINEARISED_AT_MG_L))
    found = levels(start, steps, uptake, HALF_SATURATION_MG_L, guess_mg_l=guess, passes=2)
    return np.maximum(found, 0.05).reshape(-1, k, n).astype(np.float64)


def _single(values: Array) -> Array:
    """The same in single precision; the type is kept, for the balance does not care."""
    return cast("Array", values.astype(np.float32))
