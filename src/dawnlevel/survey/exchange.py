"""How long water in a place stays before it is exchanged with the rest, from readings while the level moves.

A place follows the tank with a lag, and loses CO2 of its own: dC/dt = (L - C) / tau - loss C, where L is the
level of the tank as a whole and tau the exchange time.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

SHORTEST_H, LONGEST_H = 1.0 / 60.0, 24.0
"""Exchange times that are weighed [h], evenly in their logarithm: below, it is mixed at once; above, cut off
(own choice)."""

MOST_LOSS_PER_H = 1.2
"""Losses of the place's own that are weighed, evenly from 0 [1/h]: plants, and a surface of its own (own
choice: twice the losses of most whole tanks)."""

_TAUS = np.geomspace(SHORTEST_H, LONGEST_H, 80)
_LOSSES = np.linspace(0.0, MOST_LOSS_PER_H, 9)
_STARTS = np.linspace(0.0, 1.5, 31)


@dataclass(frozen=True, slots=True)
class Exchange:
    """Exchange time of a place.

    Attributes:
        draws_h: draws of it [h], shape (n,).
        told: share of the prior's width (in the logarithm) that the readings took away, 0 to 1.
    """

    draws_h: Array
    told: float


def lagged(level: Array, hours: Array, tau_h: Array, loss_per_h: Array) -> Array:
    """CO2 at `hours` (m,) in a place that follows `level` (m,) from nothing at the first of them.

    `tau_h` [h] and `loss_per_h` [1/h] are of one shape s; the result is of shape (m, *s), in the unit of
    `level`. Exact for a level that is straight between the hours.
    """
    lag = 1.0 / (1.0 / tau_h + loss_per_h)
    gain = lag / tau_h
    found = np.zeros((hours.size, *np.shape(tau_h)))
    for step in range(1, hours.size):
        length = hours[step] - hours[step - 1]
        slope = (level[step] - level[step - 1]) / length
        # the solution that is straight too, and what is left of the distance from it
        behind = gain * (level[step - 1] - slope * lag)
        ahead = gain * (level[step] - slope * lag)
        found[step] = ahead + (found[step - 1] - behind) * np.exp(-length / lag)
    return found


def exchange_time(
    ratios: Array,
    ratio_sds: Array,
    hours: Array,
    level: Array,
    grid_h: Array,
    rng: np.random.Generator,
    count: int = 400,
) -> Exchange:
    """Exchange time of a place from CO2 there over that of the tank, read at several times.

    `ratios` (k,) with their sds (k,) at `hours` (k,) [h]; `level` (m,) is the tank's at `grid_h` (m,) [h],
    which cover the hours. What the place held at the first of the grid's hours, as a share of the level, is
    not known and is averaged over; so is its own loss.
    """
    tau, loss, start = np.meshgrid(_TAUS, _LOSSES, _STARTS * level[0], indexing="ij")
    followed = lagged(level, grid_h, tau[..., 0], loss[..., 0])
    right = np.clip(np.searchsorted(grid_h, hours), 1, grid_h.size - 1)
    share = (hours - grid_h[right - 1]) / (grid_h[right] - grid_h[right - 1])
    weights = np.zeros(tau.shape)
    for number, (at, part) in enumerate(zip(right, share, strict=True)):
        place = (1.0 - part) * followed[at - 1] + part * followed[at]
        left = start * np.exp(-(1.0 / tau + loss) * (hours[number] - grid_h[0]))
        level_then = (1.0 - part) * level[at - 1] + part * level[at]
        off = ((place[..., None] + left) / level_then - ratios[number]) / ratio_sds[number]
        weights -= 0.5 * off**2
    likely = np.exp(weights - weights.max()).sum(axis=(1, 2))
    step = np.log(_TAUS[1] / _TAUS[0])
    drawn = np.log(rng.choice(_TAUS, count, p=likely / likely.sum())) + step * rng.uniform(-0.5, 0.5, count)
    told = 1.0 - float(np.std(drawn)) / float(np.std(np.log(_TAUS)))
    return Exchange(np.exp(drawn), max(0.0, told))
