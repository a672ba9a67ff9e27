"""How good a schedule's hours are: chance of hitting the band, of holding it, of breaching the ceiling."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.estimate.posterior import Posterior
from dawnlevel.plan.future import Chances, Hours
from dawnlevel.plan.goal import BREACH_DROP, CEILING_RISK, HIT_SLACK, HOLD_SLACK, Goal
from dawnlevel.tank import TargetKind

Array = npt.NDArray[np.float64]

_SOFT = 0.02
"""Width over which a margin turns from missed to met [pH]: makes the search smooth; own choice."""

_CEILING_WEIGHT = 8.0
_FAR_WEIGHT = 0.2


@dataclass(frozen=True, slots=True)
class Verdict:
    """Chances of K schedules, each shape (K,).

    Attributes:
        worth: what the search maximises: about the chance of hit and hold, less the ceiling's excess risk.
        hit: chance that the level lies in the band at lights-on.
        held: chance that it is hit (where lights-on is still ahead) and held until the gas closes.
        breach: chance of breaching the ceiling.
    """

    worth: Array
    hit: Array
    held: Array
    breach: Array


def judge(
    posterior: Posterior,
    goal: Goal,
    luck: Chances,
    hours: Hours,
    co2_mg_l: Array,
    lights_on_h: float,
    close_h: Array,
    blind_until_h: Array,
) -> Verdict:
    """Chances for levels of shape (S+1, K, n); `close_h` (K,) is when each schedule's gas closes for good.

    `lights_on_h` may be negative (already past): then only holding counts. A breach counts up to
    `blind_until_h` (K,), the hour until which nobody will have read and corrected.
    """
    shape = co2_mg_l.shape
    is_next = np.append(hours.next_day, hours.next_day[-1])[:, None, None] > 0
    day_ph = np.where(is_next, luck.next_day_ph, posterior.unknowns.day_ph[-1])
    q = goal.quantity(posterior, co2_mg_l, day_ph)
    margin = np.minimum(q - goal.low, goal.high - q)
    holding = (hours.edges_h[:, None] >= max(lights_on_h, 0.0) - 1e-6) & (
        hours.edges_h[:, None] <= close_h + 1e-6
    )
    hold = np.where(holding[:, :, None], margin + HOLD_SLACK, np.inf).min(axis=0)
    soft, met = _soft(hold), hold >= 0
    hit = np.full(shape[1], np.nan)
    far = np.abs(np.where(holding[:, :, None], q - goal.middle, 0.0)).mean(axis=(0, 2))
    if lights_on_h >= 0:
        at_on = margin[int(np.argmin(np.abs(hours.edges_h - lights_on_h)))] + HIT_SLACK
        soft, met = soft * _soft(at_on), met & (at_on >= 0)
        hit = (at_on >= 0).mean(axis=1)
    over = co2_mg_l > goal.ceiling_mg_l
    if goal.kind is TargetKind.DROP:
        over |= q > goal.high + BREACH_DROP
    over = (over & (hours.edges_h[:, None] <= blind_until_h)[:, :, None]).any(axis=0)
    breach = over.mean(axis=1)
    excess = np.maximum(breach - CEILING_RISK, 0.0)
    worth = soft.mean(axis=1) - _CEILING_WEIGHT * np.minimum(excess, 0.25) - _FAR_WEIGHT * far
    return Verdict(worth, hit, met.mean(axis=1), breach)


def _soft(margin: Array) -> Array:
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(margin / _SOFT, -30.0, 30.0))))
