"""Gauss-Legendre quadrature and the standard normal, as the charts need them."""

import math
from functools import lru_cache

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

_PER_WIDTH = 4.0
_COUNTS = (40, 56, 80, 112, 160, 224, 400)  # few, so that the rules are made once


def nodes_and_areas(low: float, high: float, width: float) -> tuple[Array, Array]:
    """Nodes and weights on [low, high] for integrands as wide as `width` (a bell's sd), each shape (k,)."""
    wanted = _PER_WIDTH * (high - low) / width
    nodes, areas = _rule(next((count for count in _COUNTS if count >= wanted), _COUNTS[-1]))
    half = 0.5 * (high - low)
    return low + half * (nodes + 1.0), half * areas


@lru_cache(maxsize=len(_COUNTS))
def _rule(count: int) -> tuple[Array, Array]:
    """Nodes and weights on [-1, 1]."""
    nodes, areas = np.polynomial.legendre.leggauss(count)
    return nodes, areas


def density(x: Array) -> Array:
    """Density of the standard normal at x."""
    return np.asarray(np.exp(-0.5 * x * x) / math.sqrt(2.0 * math.pi))


def below(x: Array) -> Array:
    """Chance that a standard normal lies below x."""
    from scipy.special import ndtr  # noqa: PLC0415 - scipy is slow to import

    return np.asarray(ndtr(x), dtype=np.float64)
