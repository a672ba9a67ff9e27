"""Where to read next: the places whose readings would take most doubt out of the map.

Source: expected reduction of the summed variance, `cohn_1996`; for a Gaussian process it does not depend on
what will be read.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.survey.field import Field

Array = npt.NDArray[np.float64]

MOST = 3
"""Places that are named; own choice: a keeper's patience."""


@dataclass(frozen=True, slots=True)
class NextPlace:
    """A cell worth reading: its number, and the share of the map's variance that its reading would remove."""

    cell: int
    removes: float


def expected_reduction(covariance: Array, noise_sd: float) -> Array:
    """Drop of the summed variance of the cells about their mean by one reading in each cell, shape (G,).

    `covariance` is that of the cells, shape (G, G); `noise_sd` that of the reading.
    """
    about_mean = covariance - covariance.mean(axis=0)
    return np.asarray((about_mean**2).sum(axis=0) / (np.diag(covariance) + noise_sd**2))


def summed_variance(covariance: Array) -> float:
    """Summed variance of the cells about their mean."""
    return float(np.trace(covariance) - covariance.mean() * len(covariance))


def where_next(field: Field, count: int = MOST) -> list[NextPlace]:
    """The `count` cells to read, one after another, the most telling first."""
    covariance, found = field.covariance.copy(), []
    whole = summed_variance(covariance)
    for _ in range(count):
        reduction = expected_reduction(covariance, field.noise_sd)
        cell = int(reduction.argmax())
        found.append(NextPlace(cell, float(reduction[cell] / whole)))
        column = covariance[:, cell]
        covariance = covariance - np.outer(column, column) / (column[cell] + field.noise_sd**2)
    return found
