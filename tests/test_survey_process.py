"""The Gaussian process against scikit-learn's on the same points."""

import numpy as np
import pytest
from scipy.optimize import minimize
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, Matern

from dawnlevel.survey.box import Box
from dawnlevel.survey.field import MEAN_SD, Setting, _draws, noisy_covariance, predict_cells
from dawnlevel.survey.moment import Brought
from dawnlevel.survey.process import distances, log_evidence, matern, root
from dawnlevel.survey.where_next import expected_reduction, summed_variance

NOISE = 0.04
PLACES = np.random.default_rng(5).uniform(0.0, 1.0, (10, 3)) * [90.0, 45.0, 40.0]
VALUES = 0.2 * np.sin(PLACES[:, 0] / 30.0) + 0.03 * np.random.default_rng(6).standard_normal(10)
CELLS = np.random.default_rng(7).uniform(0.0, 1.0, (30, 3)) * [90.0, 45.0, 40.0]


def brought(places: np.ndarray = PLACES, values: np.ndarray = VALUES) -> Brought:
    covariance = NOISE**2 * np.eye(len(values))
    return Brought(places, values, covariance, np.zeros(1), NOISE, 0.0)


def theirs(sd: float, reach_cm: float, *, noise: float = NOISE) -> GaussianProcessRegressor:
    kernel = ConstantKernel(sd**2) * Matern(reach_cm, nu=1.5) + ConstantKernel(MEAN_SD**2)
    return GaussianProcessRegressor(kernel, alpha=noise**2, optimizer=None)


@pytest.mark.parametrize("sd", [0.01, 0.1, 0.5])
@pytest.mark.parametrize("reach_cm", [8.0, 45.0, 200.0])
@pytest.mark.parametrize("noise", [0.7, 1.0, 1.5])
def test_mean_covariance_and_evidence_are_theirs(sd: float, reach_cm: float, noise: float) -> None:
    setting = Setting(sd, reach_cm, noise)
    model = theirs(sd, reach_cm, noise=noise * NOISE).fit(PLACES, VALUES)
    mean, covariance = model.predict(CELLS, return_cov=True)
    own_mean, own_covariance = predict_cells(brought(), setting, CELLS)
    assert own_mean == pytest.approx(mean, abs=1e-9)
    assert own_covariance == pytest.approx(covariance, abs=1e-9)
    own = log_evidence(VALUES, noisy_covariance(brought(), setting))
    assert own == pytest.approx(model.log_marginal_likelihood_value_, abs=1e-8)


def test_the_likeliest_setting_is_theirs() -> None:
    kernel = ConstantKernel(0.04, (1e-6, 10.0)) * Matern(30.0, (1.0, 1e4), nu=1.5)
    kernel += ConstantKernel(MEAN_SD**2, "fixed")
    model = GaussianProcessRegressor(kernel, alpha=NOISE**2, n_restarts_optimizer=3, random_state=1)
    model.fit(PLACES, VALUES)

    def lost(log: np.ndarray) -> float:
        setting = Setting(float(np.exp(log[0])), float(np.exp(log[1])), 1.0)
        return -log_evidence(VALUES, noisy_covariance(brought(), setting))

    found = minimize(lost, np.log([0.2, 30.0]), method="Nelder-Mead", options={"xatol": 1e-6, "fatol": 1e-9})
    assert -found.fun == pytest.approx(model.log_marginal_likelihood_value_, abs=1e-5)
    part = model.kernel_.k1
    assert np.exp(found.x) == pytest.approx([np.sqrt(part.k1.constant_value), part.k2.length_scale], rel=0.01)


def test_the_expected_reduction_is_what_one_more_reading_does_in_theirs() -> None:
    _, covariance = predict_cells(brought(), Setting(0.2, 30.0, 1.0), CELLS)
    expected = expected_reduction(covariance, NOISE)
    for cell in (0, 11, 29):
        places = np.vstack([PLACES, CELLS[cell]])
        more = theirs(0.2, 30.0).fit(places, np.append(VALUES, 0.0))
        _, after = more.predict(CELLS, return_cov=True)
        assert summed_variance(covariance) - summed_variance(after) == pytest.approx(expected[cell], rel=1e-6)


def test_draws_have_the_mean_and_covariance_of_the_prediction() -> None:
    """The map's draws come from another route than the prediction; both must agree."""
    setting, box, rng = Setting(0.3, 40.0, 1.3), Box(90.0, 45.0, 40.0), np.random.default_rng(1)
    cells = box.cells()[::20]
    places = np.vstack([cells, PLACES])
    unit = root(matern(distances(places, places), 1.0, 40.0))
    drawn = _draws(brought(), setting, unit, 40_000, rng)
    mean, covariance = predict_cells(brought(), setting, cells)
    assert drawn.mean(axis=1) == pytest.approx(mean, abs=0.006)
    assert np.cov(drawn) == pytest.approx(covariance, abs=0.003)
