"""Practice tanks whose water does not mix at once: two or three zones that exchange water.

Each zone is a box in the tank. Between zones water goes to and fro; gas enters some, leaves through their
surface: dC_i/dt = gas_i - loss_i C_i + sum_j flow_ij / V_i (C_j - C_i), exact by the matrix exponential.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Zones:
    """k zones.

    Attributes:
        low, high: corners of each zone's box as shares of the tank's sides, shape (k, 3). Where boxes
            overlap the later zone counts; the first is the whole tank.
        gas_mg_l_h: CO2 brought into each zone [mg/L/h], shape (k,).
        loss_per_h: outgassing and uptake [1/h], shape (k,).
        flow_per_h: water exchanged between zones [tank volumes/h], symmetric, shape (k, k), diagonal 0.
    """

    low: Array
    high: Array
    gas_mg_l_h: Array
    loss_per_h: Array
    flow_per_h: Array

    def zone_of(self, shares: Array) -> npt.NDArray[np.intp]:
        """Which zone places belong to; shares of the sides, shape (m, 3); result (m,)."""
        found = np.zeros(len(shares), dtype=np.intp)
        for number in range(1, len(self.low)):
            inside = ((shares >= self.low[number]) & (shares <= self.high[number])).all(axis=1)
            found[inside] = number
        return found

    @property
    def volumes(self) -> Array:
        """Each zone's share of the water, shape (k,), on a fine lattice."""
        ways = [(np.arange(30) + 0.5) / 30] * 3
        lattice = np.stack(np.meshgrid(*ways, indexing="ij"), axis=-1).reshape(-1, 3)
        return np.asarray(np.bincount(self.zone_of(lattice), minlength=len(self.low)) / len(lattice))

    @property
    def rates(self) -> Array:
        """The matrix A of dC/dt = A C + gas [1/h], shape (k, k)."""
        exchange = self.flow_per_h / self.volumes[:, None]
        return np.asarray(exchange - np.diag(exchange.sum(axis=1) + self.loss_per_h))

    def levels(self, start_mg_l: Array, hours: Sequence[float]) -> Array:
        """CO2 in the zones at `hours` after `start_mg_l` (k,) [mg/L], shape (len(hours), k)."""
        from scipy.linalg import expm  # noqa: PLC0415 - scipy would slow the start of every command

        steady = -np.linalg.solve(self.rates, self.gas_mg_l_h)
        return np.array([steady + expm(self.rates * hour) @ (start_mg_l - steady) for hour in hours])

    def mean(self, levels_mg_l: Array) -> Array:
        """Mean of the water for levels of shape (..., k) [mg/L]."""
        return np.asarray(levels_mg_l @ self.volumes)


def side_pocket(
    exchange_h: float,
    low: Sequence[float],
    high: Sequence[float],
    gas_mg_l_h: float = 24.0,
    loss: float = 0.8,
) -> Zones:
    """A tank with one pocket between `low` and `high` (shares of the sides), fed by exchange alone.

    `exchange_h` is how long the pocket's water stays before it is exchanged [h]; gas goes into the rest
    [mg/L/h]; `loss` is outgassing and uptake everywhere [1/h].
    """
    pocket = float(np.prod(np.subtract(high, low)))
    flow = pocket / exchange_h
    return Zones(
        low=np.array([[0.0, 0.0, 0.0], list(low)]),
        high=np.array([[1.0, 1.0, 1.0], list(high)]),
        gas_mg_l_h=np.array([gas_mg_l_h, 0.0]),
        loss_per_h=np.array([loss, loss]),
        flow_per_h=np.array([[0.0, flow], [flow, 0.0]]),
    )
