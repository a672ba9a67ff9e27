"""Draws from the posterior: proposed about the mode, weighted, resampled, then moved.

A Student-t along the peak's axes, bent to follow its ridge (laplace.py), proposes; importance weights say
how well that fits; after resampling, a few sweeps of Metropolis moves (a preconditioned Crank-Nicolson
step about the mode, Cotter et al. 2013, doi 10.1214/13-STS421, from memory, not checked) make the draws
distinct and mend what the proposal missed. The moves leave the posterior unchanged.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.estimate.laplace import Peak
from dawnlevel.estimate.model import TankModel

Array = npt.NDArray[np.float64]

_TAIL = 6.0
"""Degrees of freedom of the proposal: its tails must be heavier than the posterior's."""

_KEEP = 0.85
"""Share of the old point kept in a move."""


_POOR = 0.05
"""Efficiency below which the ridge is doubted: far from the mode its derivatives may point anywhere. Own
choice; ordinary records give 0.1 to 0.3."""

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
    """`n` equally weighted draws from the posterior of `model`.

    Proposed along the ridge; where hardly any of those carries weight the straight axes are tried with the
    same scores. Of the two those serve that found more of the posterior (the larger mean weight): a proposal
    that misses its bulk can look even enough among its own.
    """
    v = rng.standard_normal((model.size, proposals)) * np.sqrt(_TAIL / rng.chisquare(_TAIL, proposals))
    found = _propose(model, peak, v)
    if found.efficiency < _POOR:
        found = max(found, _propose(model, peak.straight, v), key=lambda one: one.log_evidence)
    chosen = np.searchsorted(np.cumsum(found.weight), (rng.random() + np.arange(n)) / n)
    chosen = chosen.clip(0, proposals - 1)
    draws = v[:, chosen], found.z[:, chosen]
    z, accepted = _move(model, found.peak, rng, draws, found.log_target[chosen], sweeps)
    return Draws(z, found.efficiency, accepted)


@dataclass(frozen=True, slots=True)
class _Proposed:
    """Proposals about a peak, and how well they serve.

    Attributes:
        peak: the peak they were made about.
        z: where they lie, shape (d, p).
        log_target: log posterior there, shape (p,).
        weight: normalised importance weights, shape (p,).
        efficiency: effective share of them, 0 to 1.
        log_evidence: log of the posterior's mass as they estimate it.
    """

    peak: Peak
    z: Array
    log_target: Array
    weight: Array
    efficiency: float
    log_evidence: float


def _propose(model: TankModel, peak: Peak, v: Array) -> _Proposed:
    """Proposals at the scores v (d, p) of a Student-t along the peak's axes, with importance weights."""
    z = peak.place(model, v)
    log_target = model.log_posterior(z)
    radius = np.einsum("ij,ij->j", v, v)
    log_weight = log_target + 0.5 * (_TAIL + model.size) * np.log1p(radius / _TAIL)
    highest = float(log_weight.max())
    weight = np.exp(log_weight - highest)
    log_evidence = highest + float(np.log(weight.mean()))
    weight = np.minimum(weight, weight.mean() * np.sqrt(v.shape[1]))
    weight /= weight.sum()
    efficiency = 1.0 / (float(np.square(weight).sum()) * v.shape[1])
    return _Proposed(peak, z, log_target, weight, efficiency, log_evidence)


def _move(
    model: TankModel,
    peak: Peak,
    rng: np.random.Generator,
    draws: tuple[Array, Array],
    log_target: Array,
    sweeps: int,
) -> tuple[Array, float]:
    """`sweeps` moves of every draw, and more while few are taken; unknowns z (d, n) and the share accepted.

    `draws` are the scores v and where they lie, z; `log_target` is the log posterior there.
    """
    v, z = draws
    if not sweeps:
        return z, float("nan")
    keep, spread = _KEEP, np.sqrt(1.0 - _KEEP**2)
    log_ratio = log_target + 0.5 * np.einsum("ij,ij->j", v, v)
    taken, done = 0.0, 0
    while done < sweeps or (taken < _ENOUGH_TAKEN and done < _MOST_SWEEPS):
        tried = keep * v + spread * rng.standard_normal(v.shape)
        tried_z = peak.place(model, tried)
        tried_ratio = model.log_posterior(tried_z) + 0.5 * np.einsum("ij,ij->j", tried, tried)
        accept = np.log(rng.random(v.shape[1])) < tried_ratio - log_ratio
        v, z = np.where(accept, tried, v), np.where(accept, tried_z, z)
        log_ratio = np.where(accept, tried_ratio, log_ratio)
        taken, done = taken + float(accept.mean()), done + 1
    return z, taken / done
