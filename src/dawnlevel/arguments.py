"""What a function does with its arguments: make float64, refuse what is out of range."""

import numpy as np
import numpy.typing as npt

from dawnlevel.errors import BadInputError, OutOfRangeError

Floats = npt.NDArray[np.float64]


def checked(where: str, name: str, value: npt.ArrayLike, low: float, high: float, unit: str) -> Floats:
    """`value` as float64 of the same shape, refused if any of it lies outside `low` to `high` [`unit`].

    NaN passes: a reading that is missing gives an answer that is missing. Raises OutOfRangeError naming
    `where`, `name` and the range, and BadInputError for what is no number.
    """
    try:
        array = np.asarray(value, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise BadInputError(
            f"The {name} {value!r} is no number.", where=where, cure=f"Give it as a number in {unit}."
        ) from error
    outside = array[(array < low) | (array > high)]
    if outside.size:
        raise OutOfRangeError(name, float(outside.flat[0]), low, high, unit, where=where)
    return array
