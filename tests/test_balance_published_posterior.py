"""Saturating uptake and the posterior drawn from it, against a reference posterior that others published."""

import json
import zipfile

import emcee
import numpy as np
import numpy.typing as npt
import pytest
from reference_data import data_file

from dawnlevel.balance.trajectory import Steps, levels

Array = npt.NDArray[np.float64]

PUBLISHED = {
    "k_a": (0.646, 0.755, 0.896),
    "V_m": (0.649, 0.897, 1.475),
    "K_m": (0.086, 0.980, 8.74),
    "sigma": (0.0967, 0.1255, 0.1716),
}
"""5, 50 and 95 % of posteriordb's reference draws for `one_comp_mm_elim_abs` (stan-dev/posteriordb, commit
28f8d3d6e975315f42aa274a8399f21e07a43b30, BSD-3): dC/dt = exp(-k_a t) D k_a/V - (V_m/V) C/(K_m + C), C(0) = 0,
half-Cauchy(0, 1) priors, ln of the readings normal about ln C."""

EACH = 6  # steps between two readings


@pytest.fixture(scope="module")
def dosing() -> dict[str, Array]:
    """The published data: dose, volume, times, readings."""
    with zipfile.ZipFile(data_file("pdb/one_comp_mm_elim_abs.json.zip")) as pack:
        read = json.loads(pack.read("one_comp_mm_elim_abs.json"))
    return {name: np.asarray(value, dtype=float) for name, value in read.items()}


def _model(dosing: dict[str, Array], k_a: Array, v_m: Array, k_m: Array) -> Array:
    """C at the readings' times, shape (20, B), from the balance that carries CO2 through the day.

    Uptake in full light stands for elimination, the gas for the dose as it is absorbed: per step its mean.
    """
    times = np.concatenate([[dosing["t0"]], dosing["times"]])
    edges = np.interp(np.arange((times.size - 1) * EACH + 1) / EACH, np.arange(times.size), times)
    dt = np.diff(edges)
    left = np.exp(-k_a * edges[:, None])
    source = dosing["D"] / dosing["V"] * (left[:-1] - left[1:]) / dt[:, None]
    nothing, light = np.zeros_like(source), np.ones(dt.size)
    steps = Steps(dt, source, nothing, light, 0.0 * light, np.zeros_like(k_a))
    found = levels(np.zeros_like(k_a), steps, v_m / dosing["V"], k_m, passes=5)
    return found[EACH::EACH]


def _log_density(dosing: dict[str, Array], logs: Array) -> Array:
    """Log posterior of the logs of k_a, V_m, K_m, sigma, shape (B, 4), up to a constant, shape (B,)."""
    k_a, v_m, k_m, sigma = np.exp(logs.T)
    modelled = np.maximum(_model(dosing, k_a, v_m, k_m), 1e-12)
    off = (np.log(dosing["C_hat"])[:, None] - np.log(modelled)) / sigma
    likelihood = -0.5 * (off**2).sum(axis=0) - off.shape[0] * logs[:, 3]
    half_cauchy = -np.log1p(np.exp(2.0 * logs)).sum(axis=1)
    return likelihood + half_cauchy + logs.sum(axis=1)


def test_saturating_uptake_gives_the_published_posterior(dosing: dict[str, Array]) -> None:
    """All of k_a and sigma, the median of V_m within 4 %; the tails of V_m and K_m are too heavy to compare.

    K_m is known within a factor of ten only: its median has the sampler's own doubt besides (three standard
    errors of a median, 1.25 sd/sqrt(n)).
    """
    start = np.log([0.75, 0.9, 1.0, 0.125]) + 0.1 * np.random.default_rng(5).standard_normal((64, 4))
    sampler = emcee.EnsembleSampler(
        64,
        4,
        lambda logs: _log_density(dosing, logs),
        vectorize=True,
        moves=[(emcee.moves.DEMove(), 0.8), (emcee.moves.DESnookerMove(), 0.2)],
    )
    sampler.random_state = np.random.RandomState(11).get_state()
    sampler.run_mcmc(start, 3000)
    logs = sampler.get_chain(discard=500, flat=True)
    drawn = dict(zip(PUBLISHED, np.exp(np.quantile(logs, (0.05, 0.5, 0.95), axis=0)).T, strict=True))
    for name in ("k_a", "sigma"):
        np.testing.assert_allclose(drawn[name], PUBLISHED[name], rtol=0.04, err_msg=name)
    assert drawn["V_m"][1] == pytest.approx(PUBLISHED["V_m"][1], rel=0.04)
    independent = logs.shape[0] / sampler.get_autocorr_time(quiet=True)[2]
    doubt = 3.0 * 1.25 * logs[:, 2].std() / np.sqrt(independent)
    assert np.log(drawn["K_m"][1]) == pytest.approx(np.log(PUBLISHED["K_m"][1]), abs=0.04 + doubt)
    assert doubt < 0.12
