"""A Gaussian process over places: covariance, marginal likelihood, and what readings say of other places.

Source: Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, eqs. 2.23 to 2.30 and 4.17
(`rasmussen_williams_2006`).
"""

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

_ROOT3 = np.sqrt(3.0)


def distances(first_cm: Array, second_cm: Array) -> Array:
    """Distances between places of shapes (n, 3) and (m, 3) [cm], shape (n, m)."""
    return np.asarray(np.sqrt(((first_cm[:, None, :] - second_cm[None, :, :]) ** 2).sum(axis=-1)))


def matern(distance_cm: Array, sd: float, reach_cm: float) -> Array:
    """Matern covariance of smoothness 3/2 at a distance [cm]: `sd` squared at 0, fading over `reach_cm`.

    Of this smoothness because water between two zones changes over a short way, yet does not jump.
    """
    scaled = _ROOT3 * distance_cm / reach_cm
    return np.asarray(sd**2 * (1.0 + scaled) * np.exp(-scaled))


def log_evidence(values: Array, covariance: Array) -> float:
    """Log marginal likelihood of `values` (n,) with mean 0 and `covariance` (n, n), noise included."""
    root = np.linalg.cholesky(covariance)
    white = np.linalg.solve(root, values)
    n = values.size
    return float(-0.5 * white @ white - np.log(np.diag(root)).sum() - 0.5 * n * np.log(2.0 * np.pi))


def predict(values: Array, noisy: Array, cross: Array, prior: Array) -> tuple[Array, Array]:
    """Mean (m,) and covariance (m, m) at m places, from n readings.

    `noisy` (n, n) is the readings' covariance with noise, `cross` (m, n) that between places and readings,
    `prior` (m, m) that of the places.
    """
    root = np.linalg.cholesky(noisy)
    half = np.linalg.solve(root, cross.T)
    mean = half.T @ np.linalg.solve(root, values)
    return mean, prior - half.T @ half


def root(covariance: Array) -> Array:
    """Lower root L of a covariance (m, m): L z is a draw for z of m independent standard normals."""
    floor = 1e-9 * float(np.trace(covariance)) / len(covariance)  # places close together are all but one
    return np.asarray(np.linalg.cholesky(covariance + floor * np.eye(len(covariance))), dtype=np.float64)
