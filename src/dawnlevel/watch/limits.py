"""Limits that hold false alarms to a stated rate in time, for figures that come daily, weekly or in between.

A chart with one fixed limit alarms falsely once in so many figures, so a keeper who reads twice as often is
troubled twice as often. Here each figure may alarm falsely with just the chance that its share of the
calendar allows: `gap / days between false alarms`. The limit that does so follows from how the statistic is
distributed while nothing has changed and no alarm has come, carried from figure to figure by quadrature:
dynamic probability limits (Shen, Zou, Jiang & Tsung 2013, Naval Research Logistics 60, 625: from memory,
not checked; tested by simulation).
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.errors import BadInputError, OutOfRangeError
from dawnlevel.watch.quadrature import below, density, nodes_and_areas

Array = npt.NDArray[np.float64]

DAYS_A_YEAR = 365.25
MEMORY_DAYS = 4.0
"""So long the average remembers: a lasting shift of 2 sd in daily figures shows in a few days; own choice."""

_LEAST_CHANCE, _MOST_CHANCE = 1e-9, 0.2
_LEAST_WEIGHT, _MOST_WEIGHT = 0.05, 0.9
_STEADY = 1e-6  # a limit that moves by less from figure to figure stays


@dataclass(frozen=True, slots=True)
class Watched:
    """An average watched over irregular times.

    Attributes:
        path: the average after each figure, shape (n,), started again at 0 after each alarm.
        limits: its limit at each figure, both sides alike, shape (n,).
        alarms: which figures raised an alarm, shape (n,).
    """

    path: Array
    limits: Array
    alarms: npt.NDArray[np.bool_]


def days_between_alarms(figures: int, alarms_a_year: float = 1.0) -> float:
    """Days between false alarms that each of several `figures` may have [d].

    So that one tank has no more than `alarms_a_year` of them in all. Expected numbers of alarms add up
    however the figures hang together, so this holds for correlated figures too.
    """
    if figures < 1:
        raise BadInputError("No figure is watched.", where="control chart", cure="Name at least one figure.")
    if not 0.01 <= alarms_a_year <= 100.0:
        raise OutOfRangeError("false alarms a year", alarms_a_year, 0.01, 100.0, "", where="control chart")
    return DAYS_A_YEAR * figures / alarms_a_year


def watch_average(
    figures: npt.ArrayLike, days: npt.ArrayLike, between_alarms_d: float, memory_d: float = MEMORY_DAYS
) -> Watched:
    """The average of standardised figures (n,) at times `days` (n,), rising [d], with its limits.

    A figure's weight is 1 - exp(-gap / memory), from 0.05 to 0.9: after a week's silence the newest figure
    says nearly all, within a day's readings each says little. NaN figures are passed over and their time
    is the next one's. `between_alarms_d` is the mean time between false alarms.
    """
    values, times = np.asarray(figures, dtype=np.float64), np.asarray(days, dtype=np.float64)
    if np.any(np.diff(times) < 0):
        raise BadInputError("The times do not rise.", where="control chart", cure="Sort the figures by time.")
    path, limits = np.zeros(values.shape), np.full(values.shape, np.nan)
    alarms = np.zeros(values.shape, dtype=np.bool_)
    z, state, limit, last, asked, is_steady = 0.0, _START, 0.0, None, (0.0, 0.0), False
    for i in np.flatnonzero(np.isfinite(values)):
        gap = round(float(times[i] - last), 4) if last is not None else memory_d
        weight = float(np.clip(-np.expm1(-gap / memory_d), _LEAST_WEIGHT, _MOST_WEIGHT))
        chance = float(np.clip(gap / between_alarms_d, _LEAST_CHANCE, _MOST_CHANCE))
        if not (is_steady and asked == (weight, chance)):
            before, was_asked, asked = limit, asked, (weight, chance)
            state, limit = _next(state, weight, chance)
            is_steady = asked == was_asked and abs(limit - before) < _STEADY
        z = (1.0 - weight) * z + weight * float(values[i])
        path[i], limits[i], last = z, limit, times[i]
        if abs(z) > limit:
            alarms[i], z, state, limit, is_steady = True, 0.0, _START, 0.0, False
    return Watched(path, limits, alarms)


@dataclass(frozen=True, slots=True)
class _State:
    """Where the average may be while nothing changed and no alarm came: nodes and their chances."""

    nodes: Array
    chances: Array


_START = _State(np.zeros(1), np.ones(1))


def _next(state: _State, weight: float, chance: float) -> tuple[_State, float]:
    """The state after one more figure, and the limit beyond which the average goes with just `chance`."""
    from scipy.optimize import brentq  # noqa: PLC0415 - scipy is slow to import

    start = (1.0 - weight) * state.nodes

    def excess(limit: float) -> float:
        beyond = below((-limit - start) / weight) + below((start - limit) / weight)
        return float(np.log(np.sum(state.chances * beyond)) - np.log(chance))

    furthest = float(np.max(np.abs(start))) + 7.0 * weight
    limit = float(brentq(excess, 0.0, furthest, xtol=1e-7))
    nodes, areas = nodes_and_areas(-limit, limit, weight)
    chances = areas * (state.chances @ density((nodes - start[:, None]) / weight)) / weight
    return _State(nodes, chances / chances.sum()), limit
