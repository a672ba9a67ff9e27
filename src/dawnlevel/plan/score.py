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

_CEILING_WEIGHT, _CEILING_STEEP = 25.0, 0.05
_OVER_WEIGHT = 5.0
"""What a factor of ten above the ceiling costs: at 1.6 times the ceiling a whole success. Where every
schedule breaches (the level is over it now), the chance of breach alone would tell none from another."""
_FAR_WEIGHT = 0.6
_CLOSE_WEIGHT = 0.02

USUAL_CLOSE_H = 1.25
"""How long before lights-off the gas closes where nothing speaks for another time: 1-2 h is common
practice, no source. The level is then useful late in the day and still falls before the night."""


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
    blind_h: tuple[Array, Array],
) -> Verdict:
    """Chances for levels [mg/L] of shape (S+1, K, n).

    `close_h` (K,) is when each schedule's gas closes for good. `lights_on_h` may be negative (already
    past): then only holding counts. A breach counts from the first to the second of `blind_h` (each (K,)):
    from the hour at which the day begins (what was over the ceiling before is not its doing) until that
    by which somebody will have read and corrected.
    """
    on_edge = int(np.argmin(np.abs(hours.edges_h - max(lights_on_h, 0.0))))
    is_next = bool(hours.next_day[min(on_edge, hours.next_day.size - 1)])
    day_ph = luck.missed_ph(posterior, lights_on_h if lights_on_h >= 0 else 1.0, is_next_day=is_next)
    edges = hours.edges_h[:, None]
    on_h = hours.edges_h[on_edge]  # counts also where the gas closes before it, as a night timer's does
    holding = ((edges >= on_h) & (edges <= np.maximum(close_h, on_h) + 1e-6))[:, :, None]
    counted = ((edges >= blind_h[0] - 1e-6) & (edges <= blind_h[1]))[:, :, None]
    # the quantity rises with the level, so the extremes of the level are those of the quantity
    extremes = np.stack(
        (
            np.where(holding, co2_mg_l, np.inf).min(axis=0),
            np.where(holding, co2_mg_l, 0.0).max(axis=0),
            np.where(counted, co2_mg_l, 0.0).max(axis=0),
            co2_mg_l[on_edge],
        )
    )
    q_least, q_most, q_peak, q_on = goal.quantity(posterior, extremes, day_ph)
    hold = np.minimum(q_least - goal.low, goal.high - q_most) + HOLD_SLACK
    soft, met = _soft(hold), hold >= 0
    hit = np.full(co2_mg_l.shape[1], np.nan)
    if lights_on_h >= 0:
        at_on = np.minimum(q_on - goal.low, goal.high - q_on) + HIT_SLACK
        soft, met = soft * _soft(at_on), met & (at_on >= 0)
        hit = (at_on >= 0).mean(axis=1)
    far = np.abs(0.5 * (q_least + q_most) - goal.middle).mean(axis=1)
    over = extremes[2] > goal.ceiling_mg_l
    if goal.kind is TargetKind.DROP:
        over |= q_peak > goal.high + BREACH_DROP
    breach = over.mean(axis=1)
    excess = np.maximum(breach - CEILING_RISK, 0.0)
    far_over = np.log10(np.maximum(extremes[2] / goal.ceiling_mg_l, 1.0)).mean(axis=1)
    ceiling = _CEILING_WEIGHT * np.minimum(excess, _CEILING_STEEP) + excess + _OVER_WEIGHT * far_over
    late = np.abs(hours.edges_h[-1] - close_h - USUAL_CLOSE_H)
    worth = soft.mean(axis=1) - ceiling - _FAR_WEIGHT * far - _CLOSE_WEIGHT * late
    return Verdict(worth, hit, met.mean(axis=1), breach)


def _soft(margin: Array) -> Array:
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(margin / _SOFT, -30.0, 30.0))))
