"""The posterior's mode and its curvature: where draws are proposed."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.estimate.model import TankModel

Array = npt.NDArray[np.float64]

_STEP = 1e-3
_SECOND_STEP = 1e-2
_MOST_STEPS = 25
_LENGTHS = np.array([1.0, 0.5, 0.25, 0.1, 0.03, 0.01])
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
    value, curvature = 0.0, np.eye(model.size)
    for widening, enough in _STAGES:
        here, value, curvature = _climb(model.widened(widening), here, enough)
    inverse = np.linalg.inv(curvature)
    factor = np.asarray(np.linalg.cholesky(0.5 * (inverse + inverse.T)), dtype=np.float64)
    peak = Peak(here, factor, value)
    return peak, model.near(here[:, None])


def _climb(model: TankModel, start: Array, enough: float) -> tuple[Array, float, Array]:
    """Mode, its log posterior and curvature, from `start`; ends when a step gains less than `enough`."""
    here, model = start, model.near(start[:, None])
    value = float(model.log_posterior(here[:, None])[0])
    gradient, curvature = _derivatives(model, here)
    for _ in range(_MOST_STEPS):
        step = np.linalg.solve(curvature, gradient)
        tries = np.clip(here[:, None] + step[:, None] * _LENGTHS, -_FARTHEST, _FARTHEST)
        values = model.log_posterior(tries)
        best = int(np.argmax(np.where(np.isfinite(values), values, -np.inf)))
        gain = float(values[best]) - value
        if not gain > 0.0:
            break
        here, value = tries[:, best], float(values[best])
        gradient, curvature = _derivatives(model, here)
        if gain < enough:
            break
        model = model.near(here[:, None])
    return here, value, curvature


def _derivatives(model: TankModel, here: Array) -> tuple[Array, Array]:
    """Gradient (d,) and Gauss-Newton curvature (d, d) of the log posterior at `here`."""
    size = here.size
    points = np.repeat(here[:, None], size + 1, axis=1)
    points[np.arange(size), np.arange(size)] += _STEP
    gradient, curvature = -here, np.eye(size)
    for group, predicted in zip(model.evidence, model.predicted(points), strict=True):
        centre = predicted[:, -1:]
        jacobian = (predicted[:, :-1] - centre) / _STEP
        around = group.observed.log_likelihood(centre + np.array([-_SECOND_STEP, 0.0, _SECOND_STEP]))
        slope = (around[:, 2] - around[:, 0]) / (2.0 * _SECOND_STEP)
        bend = (2.0 * around[:, 1] - around[:, 0] - around[:, 2]) / _SECOND_STEP**2
        gradient = gradient + jacobian.T @ slope
        curvature = curvature + (jacobian.T * np.maximum(bend, 0.0)) @ jacobian
    return gradient, curvature
