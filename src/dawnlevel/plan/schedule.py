"""Gas schedules for one day: when the solenoid is open, and how that lies on a grid of hours."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


FASTEST_BPS = 30.0
"""Faster than this is a jet and no row of bubbles; large tanks with coarse diffusers ask for more than ten,
counted on a film or over several counters; common practice, no source."""


def countable(rate_bps: float) -> float:
    """The nearest rate that can be counted: steps of 0.02 below 1 bubble/s, 0.05 to 6, 0.25 above."""
    step = 0.02 if rate_bps < 1.0 else 0.05 if rate_bps < 6.0 else 0.25
    return round(min(max(round(rate_bps / step), 1) * step, FASTEST_BPS), 4)


@dataclass(frozen=True, slots=True)
class Schedule:
    """One day's gas: windows (open, close) in hours from now, in order, at one needle setting.

    Attributes:
        windows_h: when the solenoid is open.
        rate_bps: the count [bubbles/s].
        is_new: whether the count is a new setting of the needle.
        later: (hour, count) of a second change of the needle by hand [h from now, bubbles/s]; None for none.
    """

    windows_h: tuple[tuple[float, float], ...]
    rate_bps: float
    is_new: bool
    later: tuple[float, float] | None = None

    @property
    def start_h(self) -> float:
        """When the gas opens first [h from now]."""
        return self.windows_h[0][0]

    @property
    def close_h(self) -> float:
        """When the gas closes for good [h from now]."""
        return self.windows_h[-1][1]


def pulsed(
    start_h: float,
    boost_end_h: float,
    close_h: float,
    duty: float,
    pulses: int,
    rate_bps: float,
    is_new: bool,
) -> Schedule:
    """A boost from `start_h` to `boost_end_h`, then `pulses` equal pulses, open for `duty` of the time.

    Each pulse lies at the end of its part of the hours between the boost and `close_h`; duty 1 or no
    pulses give one window.
    """
    if duty >= 1.0 or pulses == 0:
        return Schedule(((start_h, close_h),), rate_bps, is_new)
    part = (close_h - boost_end_h) / pulses
    ends = boost_end_h + part * np.arange(1, pulses + 1)
    windows = [(start_h, boost_end_h), *((float(end - duty * part), float(end)) for end in ends)]
    return Schedule(tuple(windows), rate_bps, is_new)


def open_share(edges_h: Array, schedules: Sequence[Schedule]) -> Array:
    """Share of each step in which each schedule's gas is open, shape (S, K)."""
    left, right = edges_h[:-1, None], edges_h[1:, None]
    share = np.zeros((edges_h.size - 1, len(schedules)))
    most = max(len(schedule.windows_h) for schedule in schedules)
    for position in range(most):
        windows = np.array(
            [s.windows_h[position] if position < len(s.windows_h) else (0.0, 0.0) for s in schedules]
        )
        share += np.clip(np.minimum(right, windows[:, 1]) - np.maximum(left, windows[:, 0]), 0.0, None)
    return np.asarray(share / np.diff(edges_h)[:, None])
