"""What a probe logged: pH and temperature by the minute."""

from dataclasses import dataclass
from typing import Self

import numpy as np
import numpy.typing as npt

from dawnlevel.errors import BadInputError, OutOfRangeError

Floats = npt.NDArray[np.float64]
Minutes = npt.NDArray[np.int64]

PH_MEASURED = (0.0, 14.0)
"""The scale of a pH meter [-] (common practice, no source)."""

TEMP_MEASURED_C = (-20.0, 80.0)
"""What a probe's thermometer in or beside a tank can show [degC] (judgement)."""


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """A probe's readings in order of time, each minute once; arrays of one shape (n,).

    Attributes:
        minute_utc: whole minutes since 1970-01-01T00:00Z, rising.
        ph: pH [-].
        temp_c: temperature [degC]; NaN where there is none.

    Raises BadInputError where minutes do not rise or shapes differ, OutOfRangeError for what no probe shows.
    """

    minute_utc: Minutes
    ph: Floats
    temp_c: Floats

    def __post_init__(self) -> None:
        """Refuse what is no log."""
        if not self.minute_utc.shape == self.ph.shape == self.temp_c.shape == (self.minute_utc.size,):
            raise BadInputError(
                "Minutes, pH and temperatures differ in number.",
                where="probe log",
                cure="Give one of each a reading.",
            )
        if (np.diff(self.minute_utc) <= 0).any():
            raise BadInputError(
                "The minutes do not rise.", where="probe log", cure="Sort them, each minute once."
            )
        _check("pH", self.ph, PH_MEASURED, "")
        _check("temperature", self.temp_c[~np.isnan(self.temp_c)], TEMP_MEASURED_C, "degC")

    def __len__(self) -> int:
        """How many minutes have a reading."""
        return int(self.minute_utc.size)

    @classmethod
    def gathered(cls, minute_utc: Minutes, ph: Floats, temp_c: Floats) -> Self:
        """Readings in any order, each (n,): minutes since 1970 UTC, pH, degC; of a minute the last holds."""
        order = np.argsort(minute_utc, kind="stable")
        minutes = minute_utc[order]
        last = order[np.append(minutes[1:] != minutes[:-1], True)] if minutes.size else order
        return cls(minute_utc[last], ph[last], temp_c[last])

    @classmethod
    def none(cls) -> Self:
        """No readings."""
        return cls(np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros(0))


def _check(name: str, values: Floats, limits: tuple[float, float], unit: str) -> None:
    wrong = ~((values >= limits[0]) & (values <= limits[1]))
    if wrong.any():
        raise OutOfRangeError(name, float(values[wrong][0]), *limits, unit, where="probe log")
