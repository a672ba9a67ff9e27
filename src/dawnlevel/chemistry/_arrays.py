"""What every chemistry function does with its arguments: make float64, refuse what is out of range."""

import math
from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from dawnlevel.errors import OutOfRangeError

Floats = npt.NDArray[np.float64]

LN10 = 2.302585092994046

_BLOCK = (
    16_384  # the temporaries of one block stay in the processor's cache: twice as fast at a million points
)


def floats(value: npt.ArrayLike) -> Floats:
    """`value` as a float64 array; a scalar becomes 0-d, so that arithmetic on it gives a numpy scalar."""
    return np.asarray(value, dtype=np.float64)


def checked(name: str, value: npt.ArrayLike, low: float, high: float, unit: str) -> Floats:
    """`value` as float64 of the same shape, refused if any of it lies outside `low` to `high` [`unit`].

    NaN passes. Raises OutOfRangeError with the smallest value if it is too low, else with the largest.
    """
    array = floats(value)
    if array.size == 0:
        return array
    smallest, largest = float(array.min()), float(array.max())
    if smallest != smallest:  # noqa: PLR0124  # NaN is the one number that differs from itself
        smallest, largest = float(np.fmin.reduce(array, axis=None)), float(np.fmax.reduce(array, axis=None))
    if smallest < low:
        raise OutOfRangeError(name, smallest, low, high, unit)
    if largest > high:
        raise OutOfRangeError(name, largest, low, high, unit)
    return array


def checked_temp_c(temp_c: npt.ArrayLike) -> Floats:
    """Water temperature as float64, refused outside 0 to 40 [degC]."""
    return checked("temperature", temp_c, 0.0, 40.0, "degC")


def in_blocks(function: Callable[..., Floats], *arguments: Floats) -> Floats:
    """`function(*arguments)` of an element-wise `function`, worked in blocks where the arrays are long.

    Shapes broadcast. Raises ValueError where they do not.
    """
    shape = np.broadcast_shapes(*(argument.shape for argument in arguments))
    size = math.prod(shape)
    if size <= _BLOCK:
        return function(*arguments)
    flat = [a if a.ndim == 0 else np.broadcast_to(a, shape).reshape(-1) for a in arguments]
    result = np.empty(size, dtype=np.float64)
    for start in range(0, size, _BLOCK):
        block = slice(start, start + _BLOCK)
        result[block] = function(*(a if a.ndim == 0 else a[block] for a in flat))
    return result.reshape(shape)
