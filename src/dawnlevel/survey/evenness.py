"""How even a mapped tank is: coefficient of variation, worst corner, dead zones."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.survey.box import GRID, corners
from dawnlevel.survey.field import Field

Array = npt.NDArray[np.float64]

DEAD_SHARE = 0.8
"""A zone counts as dead below this share of the tank's mean, 0.1 pH above it; own choice."""

DEAD_CHANCE = 0.95
"""A dead zone is named only where the chance that its cells lie below DEAD_SHARE reaches this; own choice,
its false alarms are measured on even tanks (docs/spread.md)."""


@dataclass(frozen=True, slots=True)
class DeadZone:
    """Neighbouring cells that are dead beyond doubt.

    Attributes:
        cells: their numbers, shape (k,).
        share: share of the water they hold.
        centre: their middle, as shares of the sides, shape (3,).
        chance: the highest chance among them of lying below DEAD_SHARE.
        lowest: the cell where least is expected.
        shortfall: 1 - CO2 over the tank's mean in that cell, draws of shape (n,). (The zone's edges are
            drawn smoother than water is: a mean over its cells would claim too little.)
    """

    cells: npt.NDArray[np.intp]
    share: float
    centre: Array
    chance: float
    lowest: int
    shortfall: Array


def variation(field: Field) -> Array:
    """Coefficient of variation of CO2 over the water [-], draws of shape (n,)."""
    return np.asarray(field.relative.std(axis=0))


def worst_corner(field: Field) -> tuple[Array, int]:
    """How far the lowest of the eight corners falls short, and the cell that is most often it.

    1 - CO2 there over the tank's mean [-], draws of shape (n,).
    """
    at = corners()
    relative = field.relative[at]
    lowest = relative.argmin(axis=0)
    return 1.0 - relative.min(axis=0), int(at[np.bincount(lowest, minlength=at.size).argmax()])


def dead_chances(field: Field) -> Array:
    """Chance that each cell lies below DEAD_SHARE of the tank's mean, shape (G,)."""
    return np.asarray((field.relative < DEAD_SHARE).mean(axis=1))


def dead_zones(field: Field) -> list[DeadZone]:
    """Zones that are dead beyond meter noise, the largest first."""
    from scipy.ndimage import label  # noqa: PLC0415 - scipy would slow the start of every command

    chances, relative, shares = dead_chances(field), field.relative, field.box.shares()
    numbers, count = label((chances >= DEAD_CHANCE).reshape(GRID))
    found = []
    for number in range(1, count + 1):
        cells = np.flatnonzero(numbers.ravel() == number)
        lowest = int(cells[relative[cells].mean(axis=1).argmin()])
        found.append(
            DeadZone(
                cells=cells,
                share=cells.size / chances.size,
                centre=shares[cells].mean(axis=0),
                chance=float(chances[cells].max()),
                lowest=lowest,
                shortfall=1.0 - relative[lowest],
            )
        )
    return sorted(found, key=lambda zone: -zone.share)
