"""Least squares for the balance's few parameters, with escape from poor starts and an honest outcome.

For independent normal errors of one sd this is also maximum likelihood. Every fit is tried from several
starts, because a poor one can end in a false minimum without any sign of it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from dawnlevel.errors import BadInputError, NotEnoughRecordsError

Floats = npt.NDArray[np.float64]
Residuals = Callable[[Floats], Floats]

# Restarts multiply the start by up to 10^2 either way; an even spread (Kronecker sequence of the
# plastic-number kind, 1/g^i) covers the box without random numbers.
_RESTART_DECADES = 2.0
# A restart counts as better, and so the first start as poor, from this relative gain in the sum of squares.
_BETTER = 1e-6
# Least over greatest singular value of the Jacobian with columns of unit length, below which a direction
# is undetermined: the square root of rounding error.
_LEAST_SINGULAR_RATIO = float(np.sqrt(np.finfo(np.float64).eps))


_NORMAL_97_5 = 1.959963984540054


class FitOutcome(StrEnum):
    """What may be said of a fit."""

    CONVERGED = "converged"
    RESTARTED = "restarted"  # converged, but not from the start that was given
    NOT_IDENTIFIABLE = "not_identifiable"  # the data do not fix every parameter
    NOT_CONVERGED = "not_converged"


@dataclass(frozen=True, slots=True)
class FitResult:
    """A fit of p parameters to n residuals.

    `values`, `sd`, `low_95`, `high_95` have shape (p,), `covariance` (p, p), in the parameters' units;
    `rss` and `residual_sd` are in the residuals' unit (squared). `reason` says why the outcome is what it
    is. Where the outcome is NOT_IDENTIFIABLE the values are only the best point found: do not quote them.
    """

    outcome: FitOutcome
    reason: str
    values: Floats
    covariance: Floats
    low_95: Floats
    high_95: Floats
    rss: float
    residual_sd: float

    @property
    def sd(self) -> Floats:
        """Standard errors of the parameters, shape (p,), in their units."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def identified(self) -> bool:
        """Whether the values may be quoted."""
        return self.outcome in {FitOutcome.CONVERGED, FitOutcome.RESTARTED}


def fit(
    residuals: Residuals,
    start: Sequence[float],
    low: Sequence[float] | None = None,
    high: Sequence[float] | None = None,
    *,
    restarts: int = 6,
    serial_errors: bool = False,
    likelihood_intervals: bool = False,
    widest_relative: float = np.inf,
) -> FitResult:
    """Least squares by a bounded trust region from `start` (p,) and from `restarts` starts spread round it.

    `residuals` maps (p,) to (n,). Bounds `low`, `high` (p,) default to none. Intervals are Student's.

    `serial_errors` widens the covariance for errors that follow one another, by (1 + r)/(1 - r) with r the
    residuals' lag-1 correlation where that is above nought (effective number of first-order autoregressive
    readings; textbook, from memory). `likelihood_intervals` takes covariance and intervals as maximum
    likelihood does: J'J plus the residuals' curvature instead of J'J alone, RSS/n instead of RSS/(n - p),
    the normal distribution instead of Student's; they are not given where that curvature is not positive.
    A parameter whose 95 % half-width exceeds `widest_relative` times its value, or has none, is not
    identifiable.

    Raises: NotEnoughRecordsError unless n > p; BadInputError if the residuals are nowhere finite.
    """
    first = np.asarray(start, dtype=np.float64)
    lower = np.full(first.shape, -np.inf) if low is None else np.asarray(low, dtype=np.float64)
    upper = np.full(first.shape, np.inf) if high is None else np.asarray(high, dtype=np.float64)
    best, given = _best_of(residuals, first, lower, upper, restarts)
    left = residuals(best.values)
    if left.size <= first.size:
        raise NotEnoughRecordsError(
            f"{left.size} readings cannot fix {first.size} parameters.",
            where="fit",
            cure="Take more readings.",
        )
    jacobian = _jacobian(residuals, best, lower, upper)
    covariance, ratio = _inverse_information(jacobian)
    freedom, quantile = left.size - first.size, _student_97_5(left.size - first.size)
    if likelihood_intervals and ratio >= _LEAST_SINGULAR_RATIO:
        covariance = _inverse(jacobian.T @ jacobian + _curvature(residuals, best.values))
        freedom, quantile = left.size, _NORMAL_97_5
    covariance = covariance * (best.rss / freedom) * (_serial_widening(left) if serial_errors else 1.0)
    half = quantile * np.sqrt(np.diag(covariance))
    outcome, reason = _judged(best, given, ratio, half, lower, upper, widest_relative)
    return FitResult(
        outcome=outcome,
        reason=reason,
        values=best.values,
        covariance=covariance,
        low_95=best.values - half,
        high_95=best.values + half,
        rss=best.rss,
        residual_sd=float(np.sqrt(best.rss / freedom)),
    )


@dataclass(frozen=True, slots=True)
class _Run:
    """One minimisation: where it ended (p,), its sum of squares, whether it says that it arrived."""

    values: Floats
    rss: float
    arrived: bool
    jacobian: Floats


def _best_of(
    residuals: Residuals, first: Floats, lower: Floats, upper: Floats, restarts: int
) -> tuple[_Run, _Run | None]:
    """The best run of all starts, and the run from the start that was given (None if it failed)."""
    given = _minimise(residuals, np.clip(first, lower, upper), lower, upper, 300)
    others = (
        _minimise(residuals, np.clip(point, lower, upper), lower, upper, 60)
        for point in _spread(first, restarts)
    )
    runs = [run for run in (given, *others) if run is not None]
    if not runs:
        raise BadInputError(
            "The model gives no finite residuals from any start.",
            where="fit",
            cure="Check the readings for gaps and the start for its units.",
        )
    best = min(runs, key=lambda run: run.rss)
    if given is not None and given.rss <= best.rss * (1.0 + _BETTER):
        best = given  # the same fit; keep its parameters' order where terms could be swapped
    return best, given


def _spread(start: Floats, count: int) -> list[Floats]:
    """`count` starts (p,), each parameter times 10^-2..10^2; the sign is kept."""
    ratio = 1.0 / _generalised_golden(start.size) ** np.arange(1, start.size + 1)
    places = [np.mod(0.5 + number * ratio, 1.0) for number in range(1, count + 1)]
    return [start * 10.0 ** (_RESTART_DECADES * (2.0 * place - 1.0)) for place in places]


def _generalised_golden(dimensions: int) -> float:
    """The root above 1 of g^(d + 1) = g + 1, by iteration; its powers spread points evenly."""
    golden = 1.5
    for _ in range(60):
        golden = (1.0 + golden) ** (1.0 / (dimensions + 1.0))
    return golden


def _minimise(
    residuals: Residuals, start: Floats, lower: Floats, upper: Floats, patience: int
) -> _Run | None:
    """One run, at most `patience` steps a parameter; None where the residuals are not finite."""
    from scipy.optimize import least_squares  # noqa: PLC0415  # scipy is slow to load

    with np.errstate(all="ignore"):  # a step too far may overflow; the trust region then shrinks
        try:
            found = least_squares(
                residuals,
                start,
                jac="3-point",
                bounds=(lower, upper),
                x_scale="jac",
                xtol=1e-15,
                ftol=1e-15,
                gtol=1e-15,
                max_nfev=patience * start.size,
            )
        except ValueError:
            return None
    return _Run(found.x, 2.0 * float(found.cost), found.status > 0, np.asarray(found.jac))


def _judged(
    best: _Run,
    given: _Run | None,
    ratio: float,
    half: Floats,
    lower: Floats,
    upper: Floats,
    widest_relative: float,
) -> tuple[FitOutcome, str]:
    """Outcome and reason; `ratio` of singular values [-], `half` widths (p,) in the parameters' units."""
    reach = np.where(np.isfinite(half), 1e-4 * half, 0.0)  # a trust region stops just inside a bound
    on_bound = np.zeros(half.shape, dtype=np.bool_)
    for bound in (lower, upper):
        near = np.abs(best.values - bound) <= reach + 1e-8 * np.where(np.isfinite(bound), np.abs(bound), 0.0)
        on_bound |= near
    wide = ~(half <= widest_relative * np.abs(best.values))
    if not best.arrived:
        return FitOutcome.NOT_CONVERGED, "the search ran out of steps"
    if ratio < _LEAST_SINGULAR_RATIO:
        return FitOutcome.NOT_IDENTIFIABLE, "some change of the parameters leaves the fit as it is"
    if np.any(on_bound):
        return FitOutcome.NOT_IDENTIFIABLE, f"parameter {_which(on_bound)} sits on its bound"
    if np.any(wide):
        return FitOutcome.NOT_IDENTIFIABLE, f"the interval of parameter {_which(wide)} is too wide"
    if best is not given:
        return FitOutcome.RESTARTED, "the start that was given ended in a worse fit"
    return FitOutcome.CONVERGED, "no other start gave a better fit"


def _student_97_5(freedom: int) -> float:
    """Student's t [-] that 2.5 % exceed, for `freedom` degrees of freedom."""
    from scipy.special import stdtrit  # noqa: PLC0415  # scipy is slow to load

    return float(stdtrit(freedom, 0.975))


def _which(chosen: npt.NDArray[np.bool_]) -> str:
    """The numbers, from 1, of the chosen parameters."""
    return ", ".join(str(index + 1) for index in np.flatnonzero(chosen))


def _jacobian(residuals: Residuals, best: _Run, lower: Floats, upper: Floats) -> Floats:
    """Derivatives (n, p) by the five-point rule (error h^4), or the optimiser's where that leaves the box."""
    steps = np.abs(best.values) * np.finfo(np.float64).eps ** 0.2
    inside = (best.values - 2 * steps >= lower) & (best.values + 2 * steps <= upper) & (steps > 0.0)
    if not np.all(inside):
        return best.jacobian
    columns = []
    for index, step in enumerate(steps):
        shift = np.zeros_like(best.values)
        shift[index] = step
        near = residuals(best.values + shift) - residuals(best.values - shift)
        far = residuals(best.values + 2 * shift) - residuals(best.values - 2 * shift)
        columns.append((8.0 * near - far) / (12.0 * step))
    return np.stack(columns, axis=1)


def _curvature(residuals: Residuals, values: Floats) -> Floats:
    """Sum of each residual times its matrix of second derivatives (p, p), by central differences."""
    at_best = residuals(values)
    steps = np.where(values != 0.0, np.abs(values), 1.0) * np.finfo(np.float64).eps ** 0.25

    def weighed(first: int, second: int, signs: tuple[int, int]) -> float:
        moved = values.copy()
        moved[first] += signs[0] * steps[first]
        moved[second] += signs[1] * steps[second]
        return float(at_best @ (residuals(moved) - at_best))

    size = values.size
    curvature = np.empty((size, size))
    for i in range(size):
        for j in range(size):
            corners = weighed(i, j, (1, 1)) + weighed(i, j, (-1, -1))
            others = weighed(i, j, (1, -1)) + weighed(i, j, (-1, 1))
            curvature[i, j] = (corners - others) / (4.0 * steps[i] * steps[j])
    return curvature


def _inverse(information: Floats) -> Floats:
    """Inverse (p, p) of a positive definite matrix; infinite where it is not one."""
    try:
        np.linalg.cholesky(information)
    except np.linalg.LinAlgError:
        return np.full(information.shape, np.inf)
    return np.asarray(np.linalg.inv(information), dtype=np.float64)


def _inverse_information(jacobian: Floats) -> tuple[Floats, float]:
    """(J'J)^-1 (p, p) and least over greatest singular value of J with columns of unit length.

    Infinite where J has no rank to speak of.
    """
    lengths = np.linalg.norm(jacobian, axis=0)
    if not np.all(np.isfinite(lengths)) or np.any(lengths == 0.0):
        return np.full((lengths.size, lengths.size), np.inf), 0.0
    _, singular, right = np.linalg.svd(jacobian / lengths, full_matrices=False)
    if singular[-1] == 0.0:
        return np.full((lengths.size, lengths.size), np.inf), 0.0
    scaled = right.T / singular
    return scaled @ scaled.T / np.outer(lengths, lengths), float(singular[-1] / singular[0])


def _serial_widening(left: Floats) -> float:
    """(1 + r)/(1 - r), r the lag-1 correlation of the residuals (n,), at least 1."""
    total = float(left @ left)
    correlation = float(left[1:] @ left[:-1]) / total if total > 0.0 else 0.0
    return (1.0 + correlation) / (1.0 - correlation) if correlation > 0.0 else 1.0
