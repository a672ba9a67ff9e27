"""Draws from the posterior: proposed about the mode, weighted, resampled, then moved.

Importance sampling from a Student-t about the mode gives draws whose weights say how well the proposal
fits; after resampling, a few sweeps of independence-like Metropolis moves (a preconditioned
Crank-Nicolson step about the mode, Cotter et al. 2013, doi 10.1214/13-STS421, from memory, not checked)
make the draws distinct and mend what the proposal missed. The moves leave the posterior unchanged.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.estimate.laplace import Peak
from dawnlevel.estimate.model import TankModel

Array = npt.NDArray[np.float64]

_TAIL = 12.0
"""Degrees of freedom of the proposal: heavier tails than the posterior's, light enough for 60 unknowns."""

_KEEP = 0.85
"""Share of the old point kept in a move."""


_ENOUGH_TAKEN = 1.0
"""Moves each draw should have taken on average before the draws count as distinct."""

_MOST_SWEEPS = 12


@dataclass(frozen=True, slots=True)
class Draws:
    """Equally weighted draws and how good they are.

    Attributes:
        z: unknowns, shape (d, n).
        efficiency: effective share of the proposals, 0 to 1.
        accepted: share of moves accepted; NaN where none was tried.
    """

    z: Array
    efficiency: float
    accepted: float


def draw(
    model: TankModel, peak: Peak, rng: np.random.Generator, n: int, proposals: int, sweeps: int
) -> Draws:
    """`n` equally weighted draws from the posterior of `model`."""
    normal = rng.standard_normal((model.size, proposals))
    widen = np.sqrt(_TAIL / rng.chisquare(_TAIL, proposals))
    z = peak.mode[:, None] + peak.factor @ (normal * widen)
    log_value = model.log_posterior(z)
    radius = np.einsum("ij,ij->j", normal, normal) * widen**2
    log_weight = log_value + 0.5 * (_TAIL + model.size) * np.log1p(radius / _TAIL)
    weight = np.exp(log_weight - log_weight.max())
    weight = np.minimum(weight, weight.mean() * np.sqrt(proposals))
    weight /= weight.sum()
    efficiency = 1.0 / (float(np.square(weight).sum()) * proposals)
    chosen = np.searchsorted(np.cumsum(weight), (rng.random() + np.arange(n)) / n).clip(0, proposals - 1)
    picked, accepted = _move(model, peak, rng, z[:, chosen], log_value[chosen], sweeps)
    return Draws(picked, efficiency, accepted)


def _move(
    model: TankModel, peak: Peak, rng: np.random.Generator, z: Array, log_value: Array, sweeps: int
) -> tuple[Array, float]:
    """`sweeps` moves of every draw, and more while few are taken; the draws and the share accepted."""
    if not sweeps:
        return z, float("nan")
    keep, spread = _KEEP, np.sqrt(1.0 - _KEEP**2)
    local = np.linalg.solve(peak.factor, z - peak.mode[:, None])
    log_ratio = log_value + 0.5 * np.einsum("ij,ij->j", local, local)
    taken, done = 0.0, 0
    while done < sweeps or (taken < _ENOUGH_TAKEN and done < _MOST_SWEEPS):
        tried = keep * local + spread * rng.standard_normal(local.shape)
        tried_z = peak.mode[:, None] + peak.factor @ tried
        tried_ratio = model.log_posterior(tried_z) + 0.5 * np.einsum("ij,ij->j", tried, tried)
        accept = np.log(rng.random(local.shape[1])) < tried_ratio - log_ratio
        local = np.where(accept, tried, local)
        z = np.where(accept, tried_z, z)
        log_ratio = np.where(accept, tried_ratio, log_ratio)
        taken, done = taken + float(accept.mean()), done + 1
    return z, taken / done
