"""Two surveys of one tank, before and after something was changed: is it more even now?"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.survey.evenness import variation
from dawnlevel.survey.field import Field

Array = npt.NDArray[np.float64]

BEYOND_DOUBT = 0.95
"""Chance from which a change is called one; own choice."""


@dataclass(frozen=True, slots=True)
class Change:
    """What changed from one survey to another.

    Attributes:
        more_even: chance that the coefficient of variation is lower after.
        variation: after minus before, coefficient of variation [-], draws of shape (n,).
    """

    more_even: float
    variation: Array

    @property
    def verdict(self) -> int:
        """1: more even, -1: less even, 0: cannot be told."""
        if self.more_even >= BEYOND_DOUBT:
            return 1
        return -1 if self.more_even <= 1.0 - BEYOND_DOUBT else 0


def change(before: Field, after: Field) -> Change:
    """The change between two maps, whose doubts are taken as independent."""
    first, then = variation(before), variation(after)
    pairs = then[:, None] - first[None, :]
    size = min(first.size, then.size)
    return Change(float((pairs < 0.0).mean()), then[:size] - first[:size])
