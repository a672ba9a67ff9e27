"""How often the counter bubbled: counts from settings and switches, whatever their order."""

from collections.abc import Sequence
from datetime import datetime, timedelta

import numpy as np

from dawnlevel.arguments import Floats


def bubbles_counted(
    start: datetime,
    moments: Sequence[datetime],
    switches: Sequence[tuple[datetime, bool]],
    rates: Sequence[tuple[datetime, float]],
) -> Floats:
    """Bubbles from `start` to each of `moments` [-], shape (m,); 0 for moments before `start`.

    Args:
        start: when counting begins (aware).
        moments: until when (aware), any order.
        switches: when the solenoid opened (True) or closed, sorted by time.
        rates: counts set at the needle [bubbles/s], sorted by time.

    Before the first switch the gas is closed, before the first setting nothing flows. Source: a rate that
    stays as set, times the seconds in which the solenoid is open.
    """
    open_at, is_open = _steps(start, [(at, float(value)) for at, value in switches])
    set_at, count = _steps(start, rates)
    until = np.array([_seconds(start, moment) for moment in moments], dtype=np.float64)
    edges = np.unique(np.concatenate(([0.0], open_at, set_at, until)))
    edges = edges[edges >= 0.0]
    flow = _latest(open_at, is_open, edges[:-1]) * _latest(set_at, count, edges[:-1])
    total = np.concatenate(([0.0], np.cumsum(flow * np.diff(edges))))
    return np.asarray(total[np.searchsorted(edges, np.maximum(until, 0.0))])


def _seconds(start: datetime, moment: datetime) -> float:
    return (moment - start) / timedelta(seconds=1)


def _steps(start: datetime, events: Sequence[tuple[datetime, float]]) -> tuple[Floats, Floats]:
    """Seconds since `start` of the events, shape (e,), and what holds before and after each, (e + 1,)."""
    at = np.array([_seconds(start, moment) for moment, _ in events], dtype=np.float64)
    return at, np.array([0.0, *(value for _, value in events)], dtype=np.float64)


def _latest(at: Floats, value: Floats, seconds: Floats) -> Floats:
    """What holds at each of `seconds`."""
    return np.asarray(value[np.searchsorted(at, seconds, side="right")])
