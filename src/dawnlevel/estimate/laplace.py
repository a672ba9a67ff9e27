"""The posterior's mode and its curvature: where draws are proposed."""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from dawnlevel.estimate.model import TankModel
from dawnlevel.estimate.observations import MeterReadings

Array = npt.NDArray[np.float64]

_STEP = 1e-3
_SECOND_STEP = 1e-2
_MOST_STEPS = 25
_LENGTHS = np.array([0.5, 0.25, 0.1, 0.03, 0.01])
_FARTHEST = 6.0
_SHARP = 2.0
"""Precision (against the prior's 1) from which an axis counts as sharp."""

_RIDGE_STEPS = 2
_LONGEST_RIDGE_STEP = 8.0
_STAGES = ((12.0, 1.0), (3.0, 0.3), (1.0, 0.003))
"""How much the meter's noise is widened, and the gain in log posterior below which a stage ends."""

_FAR_STAGES = ((100.0, 1.0), (30.0, 1.0), *_STAGES)
"""The same from farther off: at a hundred times its noise a reading pulls over two pH units; own choice."""

_SLIPS_DOUBTED = 2
"""Readings that count as slips from which another peak is looked for: one happens; own choice."""


@dataclass(frozen=True, slots=True)
class Ridge:
    """How the posterior curves away from its axes.

    Records fix a few combinations of unknowns sharply, and those combinations bend as the loosely known
    unknowns move. Along the sharp axes the peak is followed by Newton steps with the derivatives at the
    mode; they depend on the loose scores only, so the map is a shear and keeps volumes.

    Attributes:
        sharp: which axes are sharp, shape (d,).
        predicted: every record's predicted number at the mode, shape (n,).
        jacobian: its derivatives by the unknowns, shape (n, d).
        slope, bend: first and negative second derivative of each record's log likelihood, shape (n,).
    """

    sharp: npt.NDArray[np.bool_]
    predicted: Array
    jacobian: Array
    slope: Array
    bend: Array


@dataclass(frozen=True, slots=True)
class Peak:
    """The mode and the axes about it.

    Attributes:
        mode: shape (d,).
        axes: one axis a column, as long as the curvature says, shape (d, d).
        ridge: how the posterior curves; None for a straight one.
    """

    mode: Array
    axes: Array
    ridge: Ridge | None

    @property
    def straight(self) -> "Peak":
        """The same peak without its ridge."""
        return replace(self, ridge=None)

    def place(self, model: TankModel, v: Array) -> Array:
        """Unknowns z for standard normal scores v along the axes, both (d, n); volumes keep their ratios."""
        z = self.mode[:, None] + self.axes @ v
        if self.ridge is None or not self.ridge.sharp.any():
            return np.asarray(z)
        sharp = self.axes[:, self.ridge.sharp]
        on_ridge = z - sharp @ v[self.ridge.sharp]
        followed = self._followed(model, self.ridge, on_ridge, sharp)
        return np.asarray(followed + sharp @ v[self.ridge.sharp])

    @staticmethod
    def _followed(model: TankModel, ridge: Ridge, z: Array, sharp: Array) -> Array:
        """Points (d, n) moved along the sharp axes to where the posterior peaks there."""
        for _ in range(_RIDGE_STEPS):
            off = np.concatenate(model.predicted(z)) - ridge.predicted[:, None]
            pull = ridge.jacobian.T @ (ridge.slope[:, None] - ridge.bend[:, None] * off)
            z = z - sharp @ np.clip(sharp.T @ (z - pull), -_LONGEST_RIDGE_STEP, _LONGEST_RIDGE_STEP)
        return z


def find_peak(model: TankModel) -> tuple[Peak, TankModel]:
    """The peak, and the model made quick near it.

    Gauss-Newton with a line search from the prior's centre; all derivatives come from batches. Far from
    the peak every reading looks like a slip and pulls at nothing, so the meter's noise is first taken
    large and then brought down to what it is. Each record's log likelihood is a function of one predicted
    number, so the curvature is I + J' diag(w) J with w the (clipped) second derivative of that function
    and J the numbers' Jacobian. Where several readings still count as slips, a peak that explains them may
    lie farther off (a diffuser that dissolves a tenth of what was expected): it is looked for with the noise
    taken larger still, and the higher of the two peaks holds.
    """
    point = _through(model, _STAGES)
    if _slips(model, point.here) >= _SLIPS_DOUBTED:
        point = max(point, _through(model, _FAR_STAGES), key=lambda one: one.value)
    here = point.here
    model = model.near(here[:, None])
    precisions, vectors = np.linalg.eigh(point.curvature)
    axes = np.asarray(vectors / np.sqrt(precisions), dtype=np.float64)
    ridge = Ridge(precisions > _SHARP, point.predicted, point.jacobian, point.slope, point.bend)
    return Peak(here, axes, ridge), model


def _through(model: TankModel, stages: tuple[tuple[float, float], ...]) -> "_Point":
    """The mode reached from the prior's centre through stages of less and less widened noise."""
    here = np.zeros(model.size)
    for widening, enough in stages:
        point = _climb(model.widened(widening), here, enough)
        here = point.here
    return point


def _slips(model: TankModel, here: Array) -> int:
    """How many readings of the meter count rather as slips at a point (d,)."""
    groups = zip(model.evidence, model.predicted(here[:, None]), strict=True)
    return sum(
        int(group.observed.are_slips(predicted).sum())
        for group, predicted in groups
        if isinstance(group.observed, MeterReadings)
    )


@dataclass(frozen=True, slots=True)
class _Point:
    """A point (d,) with its log posterior, gradient (d,) and Gauss-Newton curvature (d, d); see Ridge."""

    here: Array
    value: float
    gradient: Array
    curvature: Array
    predicted: Array
    jacobian: Array
    slope: Array
    bend: Array


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
    value = -0.5 * float(here @ here)
    parts: list[tuple[Array, Array, Array, Array]] = []
    for group, predicted in zip(model.evidence, model.predicted(points), strict=True):
        centre = predicted[:, -1:]
        around = group.observed.log_likelihood(centre + np.array([-_SECOND_STEP, 0.0, _SECOND_STEP]))
        slope = (around[:, 2] - around[:, 0]) / (2.0 * _SECOND_STEP)
        bend = (2.0 * around[:, 1] - around[:, 0] - around[:, 2]) / _SECOND_STEP**2
        value += float(around[:, 1].sum())
        parts.append((centre[:, 0], (predicted[:, :-1] - centre) / _STEP, slope, np.maximum(bend, 0.0)))
    if not parts:
        return _Point(
            here, value, -here, np.eye(size), *(np.zeros(0), np.zeros((0, size)), *[np.zeros(0)] * 2)
        )
    centre, jacobian, slope, bend = (np.concatenate(column) for column in zip(*parts, strict=True))
    gradient = jacobian.T @ slope - here
    curvature = np.eye(size) + (jacobian.T * bend) @ jacobian
    return _Point(here, value, gradient, curvature, centre, jacobian, slope, bend)
