"""The posterior's mode and its curvature: where draws are proposed."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.estimate.model import TankModel

Array = npt.NDArray[np.float64]

_STEP = 1e-3
_SECOND_STEP = 1e-2
_MOST_STEPS = 25
_LENGTHS = np.array([0.5, 0.25, 0.1, 0.03, 0.01])
_FARTHEST = 6.0
_STAGES = ((12.0, 1.0), (3.0, 0.3), (1.0, 0.003))
"""How much the meter's noise is widened, and the gain in log posterior below which a stage ends."""


@dataclass(frozen=True, slots=True)
class Peak:
    """Mode (d,), and the lower Cholesky factor (d, d) of the covariance the curvature implies."""

    mode: Array
    factor: Array
    log_posterior: float


def find_peak(model: TankModel) -> tuple[Peak, TankModel]:
    """The peak, and the model made quick near it.

    Gauss-Newton with a line search from the prior's centre; all derivatives come from batches. Far from
    the peak every reading looks like a slip and pulls at nothing, so the meter's noise is first taken
    large and then brought down to what it is. Each record's log likelihood is a function of one predicted
    number, so the curvature is I + J' diag(w) J with w the (clipped) second derivative of that function
    and J the numbers' Jacobian.
    """
    here = np.zeros(model.size)
    for widening, enough in _STAGES:
        point = _climb(model.widened(widening), here, enough)
        here = point.here
    inverse = np.linalg.inv(point.curvature)
    factor = np.asarray(np.linalg.cholesky(0.5 * (inverse + inverse.T)), dtype=np.float64)
    peak = Peak(here, factor, point.value)
    return peak, model.near(here[:, None])


@dataclass(frozen=True, slots=True)
class _Point:
    """A point (d,) with its log posterior, gradient (d,) and Gauss-Newton curvature (d, d)."""

    here: Array
    value: float
    gradient: Array
    curvature: Array


def _climb(model: TankModel, start: Array, enough: float) -> _Point:
    """The mode from `start`; ends when a step gains less than `enough`."""
    model = model.near(start[:, None])
    point = _derivatives(model, start)
    for _ in range(_MOST_STEPS):
        step = np.asarray(np.linalg.solve(point.curvature, point.gradient), dtype=np.float64)
        tried = _derivatives(model, np.clip(point.here + step, -_FARTHEST, _FARTHEST))
        if not tried.value > point.value:
            shorter = _shorter_step(model, point, step)
            if shorter is None:
                break
            tried = shorter
        gain, point = tried.value - point.value, tried
        if gain < enough:
            break
        model = model.near(point.here[:, None])
    return point


def _shorter_step(model: TankModel, point: _Point, step: Array) -> _Point | None:
    """The best of some shorter steps; None where none climbs."""
    tries = np.clip(point.here[:, None] + step[:, None] * _LENGTHS, -_FARTHEST, _FARTHEST)
    values = model.log_posterior(tries)
    best = int(np.argmax(np.where(np.isfinite(values), values, -np.inf)))
    return _derivatives(model, tries[:, best]) if values[best] > point.value else None


def _derivatives(model: TankModel, here: Array) -> _Point:
    """The point at `here` with its derivatives, all from one batch of neighbours."""
    size = here.size
    points = np.repeat(here[:, None], size + 1, axis=1)
    points[np.arange(size), np.arange(size)] += _STEP
    value, gradient, curvature = -0.5 * float(here @ here), -here, np.eye(size)
    for group, predicted in zip(model.evidence, model.predicted(points), strict=True):
        centre = predicted[:, -1:]
        jacobian = (predicted[:, :-1] - centre) / _STEP
        around = group.observed.log_likelihood(centre + np.array([-_SECOND_STEP, 0.0, _SECOND_STEP]))
        jacobian = np.broadcast_to(jacobian, (around.shape[0], size))  # all KH counts share one number
        slope = (around[:, 2] - around[:, 0]) / (2.0 * _SECOND_STEP)
        bend = (2.0 * around[:, 1] - around[:, 0] - around[:, 2]) / _SECOND_STEP**2
        value += float(around[:, 1].sum())
        gradient = gradient + jacobian.T @ slope
        curvature = curvature + (jacobian.T * np.maximum(bend, 0.0)) @ jacobian
    return _Point(here, value, gradient, curvature)
