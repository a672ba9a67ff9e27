"""The water as a box of cells: positions in cm, a grid over it, its corners."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

GRID = (7, 4, 4)
"""Cells along length, width and height; own choice: a keeper reads eight places or so, not a hundred."""


@dataclass(frozen=True, slots=True)
class Box:
    """The water: length (left to right), width (front to back), height (substrate to surface) [cm]."""

    length_cm: float
    width_cm: float
    height_cm: float

    @property
    def sides_cm(self) -> Array:
        """Length, width, height [cm], shape (3,)."""
        return np.array([self.length_cm, self.width_cm, self.height_cm])

    def shares(self, grid: tuple[int, int, int] = GRID) -> Array:
        """Middles of the cells as shares of the sides, shape (G, 3); height runs fastest."""
        ways = [(np.arange(count) + 0.5) / count for count in grid]
        return np.stack(np.meshgrid(*ways, indexing="ij"), axis=-1).reshape(-1, 3)

    def cells(self, grid: tuple[int, int, int] = GRID) -> Array:
        """Middles of the cells [cm], shape (G, 3), in the order of `shares`."""
        return self.shares(grid) * self.sides_cm


def corners(grid: tuple[int, int, int] = GRID) -> npt.NDArray[np.intp]:
    """Numbers of the eight corner cells, shape (8,)."""
    ends = np.meshgrid(*[np.array([0, count - 1]) for count in grid], indexing="ij")
    return np.asarray(np.ravel_multi_index([end.ravel() for end in ends], grid), dtype=np.intp)


def front_view(cells: Array, grid: tuple[int, int, int] = GRID) -> Array:
    """Cell values of shape (..., G) seen from the front: mean over the width, shape (..., height, length).

    The first row is the surface.
    """
    box = cells.reshape(*cells.shape[:-1], *grid).mean(axis=-2)
    return np.asarray(np.swapaxes(box, -1, -2)[..., ::-1, :])


def top_view(cells: Array, grid: tuple[int, int, int] = GRID) -> Array:
    """Cell values of shape (..., G) seen from above: mean over the height, shape (..., width, length).

    The first row is the back, the last the front.
    """
    box = cells.reshape(*cells.shape[:-1], *grid).mean(axis=-1)
    return np.asarray(np.swapaxes(box, -1, -2)[..., ::-1, :])
