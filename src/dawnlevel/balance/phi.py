"""The few ratios of exponentials that exact steps are made of, right down to an argument of nought.

Standard functions of exponential integrators: phi1(x) = (1 - e^-x)/x, phi2(x) = (1 - phi1(x))/x.
Identities; no data behind them.
"""

import math

import numpy as np
import numpy.typing as npt

# 1/(n + 2)! for n = 0..17: below |x| = 1 the rest of the series is under 1/20! = 4e-19.
_PHI2_SERIES = np.array([(-1.0) ** n / math.factorial(n + 2) for n in range(18)])


def phi1(x: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """(1 - e^-x)/x, 1 at x = 0; any shape, dimensionless."""
    x_ = np.asarray(x, dtype=np.float64)
    nought = x_ == 0.0
    divisor = np.where(nought, 1.0, x_)
    ratio: npt.NDArray[np.float64] = np.where(nought, 1.0, -np.expm1(-x_) / divisor)
    return ratio


def phi2(x: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """(1 - phi1(x))/x, 1/2 at x = 0; any shape, dimensionless.

    Below |x| = 1 by series, because the difference would cancel there.
    """
    x_ = np.asarray(x, dtype=np.float64)
    small = np.abs(x_) < 1.0
    near = np.polynomial.polynomial.polyval(np.where(small, x_, 0.0), _PHI2_SERIES)
    far_x = np.where(small, 1.0, x_)
    value: npt.NDArray[np.float64] = np.where(small, near, (1.0 - phi1(far_x)) / far_x)
    return value


def log1p_ratio(x: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """ln(1 + x)/x, 1 at x = 0; any shape, dimensionless; x > -1."""
    x_ = np.asarray(x, dtype=np.float64)
    nought = x_ == 0.0
    divisor = np.where(nought, 1.0, x_)
    ratio: npt.NDArray[np.float64] = np.where(nought, 1.0, np.log1p(x_) / divisor)
    return ratio


def exp_difference_ratio(a: npt.ArrayLike, b: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """(e^-a - e^-b)/(b - a), e^-a at a = b; broadcast over both, dimensionless."""
    a_, b_ = np.asarray(a, dtype=np.float64), np.asarray(b, dtype=np.float64)
    ratio: npt.NDArray[np.float64] = np.exp(-np.minimum(a_, b_)) * phi1(np.abs(b_ - a_))
    return ratio
