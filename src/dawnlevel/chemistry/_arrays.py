"""What every chemistry function does with its arguments: make float64, refuse what is out of range."""

import numpy as np
import numpy.typing as npt

from dawnlevel.errors import OutOfRangeError

Floats = npt.NDArray[np.float64]

LN10 = 2.302585092994046


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
