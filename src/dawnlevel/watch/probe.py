"""Steps of a probe in a long log: where somebody calibrated, changed or moved it, and what it had drifted by.

A calibration lets the readings jump from one to the next and stay there; water moves smoothly, and comes
back to the same hour's level the next day. So a step must be sharp (most of it within half an hour), must
not be what that hour of the day always does, and must last for days. Tried on the Logan River's record
(Jones, Jones & Horsburgh 2022, doi 10.1016/j.envsoft.2022.105364), whose technicians wrote down each visit.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.errors import BadInputError

Array = npt.NDArray[np.float64]

LEAST_PH = 0.08
"""Smallest jump that is looked at [pH]: below it a river's or a tank's own moves are as large; own choice."""

_GRID_H = 0.25
_DAY = 96  # readings of the grid
_BEFORE, _HANDLING = 10, 4  # readings compared on either side (2.5 h), and left out while it is handled (1 h)
_NEIGHBOURS = (-4, -3, -2, -1, 1, 2, 3, 4)  # days whose same hour tells what is usual
_LASTS = (1, 2, 3)  # days over which a step must last
_SHARP, _LASTING = 0.5, 0.3  # least shares of a step; own choices, tried on the Logan River's record
_APART = 24  # readings: jumps nearer to each other are one


@dataclass(frozen=True, slots=True)
class ProbeStep:
    """One step of a probe.

    Attributes:
        hours: the time of the first reading after it [h], on the log's own scale, to a quarter of an hour.
        size_ph: new reading less old for the same water [pH]: same hours two days before and after.
        sharp_ph: how far the readings moved within half an hour [pH].
    """

    hours: float
    size_ph: float
    sharp_ph: float


def probe_steps(hours: npt.ArrayLike, ph: npt.ArrayLike, least_ph: float = LEAST_PH) -> list[ProbeStep]:
    """Steps of the probe in readings (n,) at times `hours` (n,) [h], rising; NaN readings are passed over.

    A minute's log is thinned to quarters of an hour by medians first. Nothing shorter than two days can
    show a step. Raises BadInputError for times that do not rise.
    """
    start, level = _on_grid(np.asarray(hours, dtype=np.float64), np.asarray(ph, dtype=np.float64))
    if level.size < 2 * _DAY:
        return []
    jump = _unusual(_jumps(level))
    near = np.flatnonzero(np.abs(np.nan_to_num(jump)) > least_ph)
    clusters = np.split(near, np.flatnonzero(np.diff(near) > _APART) + 1) if near.size else []
    steps = []
    for cluster in clusters:
        found = _step(level, jump, cluster)
        if found is not None:
            steps.append(ProbeStep(start + _GRID_H * found[0], found[1], found[2]))
    return steps


def drift_correction(hours: npt.ArrayLike, steps_h: npt.ArrayLike, sizes_ph: npt.ArrayLike) -> Array:
    """What to add to readings at `hours` (n,) for a probe set right at `steps_h` (m,) [h], rising; [pH].

    A probe drifts evenly from one calibration to the next: the correction grows from 0 to the size (m,) of
    the step that ends the stretch. Before the first step and after the last nothing is known: NaN.
    """
    times, ends = np.asarray(hours, dtype=np.float64), np.asarray(steps_h, dtype=np.float64)
    sizes = np.asarray(sizes_ph, dtype=np.float64)
    stretch = np.searchsorted(ends, times, side="right")
    is_between = (stretch > 0) & (stretch < ends.size)
    found = np.full(times.shape, np.nan)
    k = stretch[is_between]
    found[is_between] = sizes[k] * (times[is_between] - ends[k - 1]) / (ends[k] - ends[k - 1])
    return found


def _on_grid(hours: Array, ph: Array) -> tuple[float, Array]:
    """The first moment [h] and the medians of each quarter of an hour, NaN where there is no reading."""
    if hours.shape != ph.shape or np.any(np.diff(hours) < 0):
        raise BadInputError("The times do not rise.", where="probe log", cure="Sort the log by time.")
    is_known = np.isfinite(ph)
    times, values = hours[is_known], ph[is_known]
    if not times.size:
        return 0.0, np.zeros(0)
    place = np.rint((times - times[0]) / _GRID_H).astype(np.intp)
    order = np.lexsort((values, place))
    places, first, counts = np.unique(place[order], return_index=True, return_counts=True)
    level = np.full(int(place[-1]) + 1, np.nan)
    level[places] = values[order][first + counts // 2]
    return float(times[0]), level


def _median(values: Array, axis: int) -> Array:
    """Median over `axis` of what is known; NaN where nothing is."""
    ranked = np.moveaxis(np.sort(values, axis=axis), axis, -1)  # NaN come last
    known = np.isfinite(ranked).sum(axis=-1)[..., None]
    ends = np.stack((np.maximum(known - 1, 0) // 2, np.minimum(known // 2, ranked.shape[-1] - 1)))
    low, high = (np.take_along_axis(ranked, end, axis=-1)[..., 0] for end in ends)
    return np.asarray(0.5 * (low + high))


def _padded(values: Array, count: int) -> Array:
    return np.pad(values, count, constant_values=np.nan)


def _jumps(level: Array) -> Array:
    """Median of the hours after each reading, handling left out, less that of the hours before it."""
    windows = np.lib.stride_tricks.sliding_window_view(_padded(level, _BEFORE), _BEFORE)
    medians = _median(windows, 1)
    after = np.minimum(np.arange(level.size) + _HANDLING + _BEFORE, medians.size - 1)
    return np.asarray(medians[after] - medians[: level.size])


def _unusual(jump: Array) -> Array:
    """The jumps less what the same hour shows on the days around."""
    wide = _padded(jump, 4 * _DAY)
    others = [wide[(4 + day) * _DAY :][: jump.size] for day in _NEIGHBOURS]
    return np.asarray(jump - np.nan_to_num(_median(np.stack(others), 0)))


def _step(level: Array, jump: Array, cluster: npt.NDArray[np.intp]) -> tuple[int, float, float] | None:
    """Place, lasting size and sharpness of a cluster's step; None where it is none."""
    top = float(jump[cluster[np.argmax(np.abs(jump[cluster]))]])
    first = max(int(cluster[0]) - _HANDLING, 1)
    here = level[first - 1 : int(cluster[-1]) + 2 * _HANDLING]
    moves = np.sign(top) * np.stack((here[1:-1] - here[:-2], here[2:] - here[:-2]))
    if not np.isfinite(moves).any():
        return None
    best = int(np.nanargmax(np.nanmax(np.nan_to_num(moves, nan=-np.inf), axis=0)))
    place, sharp = first + best, float(np.nanmax(moves[:, best]))
    lasting = np.sign(top) * np.array([_same_hours(level, place, days) for days in _LASTS])
    if not np.all(lasting >= _LASTING * abs(top)) or sharp < _SHARP * abs(top):
        return None
    return place, float(np.sign(top) * lasting[1]), float(np.sign(top) * sharp)


def _same_hours(level: Array, place: int, days: int) -> float:
    """Same hours' medians over `days` after a place less those before; NaN where the log does not reach."""
    later = place + _HANDLING
    before, after = level[place - days * _DAY : place], level[later : later + days * _DAY]
    if place < days * _DAY or after.size < days * _DAY:
        return float("nan")
    earlier = np.roll(_median(before.reshape(days, _DAY), 0), -_HANDLING)
    return float(_median(_median(after.reshape(days, _DAY), 0) - earlier, 0))
