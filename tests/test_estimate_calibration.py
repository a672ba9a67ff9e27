"""Simulation-based calibration (Talts et al. 2018, arXiv 1804.06788): is the posterior what it says it is?

Unknowns from the prior, records by the model's own process, the rank of the truth among 63 draws: even
over 16 bins. It shows the code consistent with itself, not the model right. About 25 s a test.
"""

import numpy as np
import pytest
from scipy.stats import chi2

from dawnlevel.chemistry.coefficients import ph_from_co2_fast
from dawnlevel.estimate import evidence
from dawnlevel.estimate.model import TankModel
from dawnlevel.estimate.posterior import PROPOSALS, SWEEPS, posterior
from dawnlevel.estimate.priors import READ_PH_SD
from tests.estimate_worlds import Floats, drawn_records, one_day

REPEATS, RANKED, BINS = 240, 63, 16
LEAST_P = 0.001
"""Chance that an even histogram fails; six quantities are looked at, so a false alarm is one in 170."""

NAMES = ("alkalinity_meq_l", "kla_per_h", "gain_mg_l_h_per_bps", "uptake_mg_l_h", "CO2 now", "meter now")


def _quantities(model: TankModel, z: Floats) -> Floats:
    """The quantities of NAMES, shape (6, B)."""
    unknowns = model.unknowns(z)
    level = model.levels(unknowns)[-1]
    true_ph = ph_from_co2_fast(level[None, :], unknowns["alkalinity_meq_l"], unknowns.water)
    meter = evidence.meter_ph(unknowns, true_ph)[0] + unknowns.day_ph[-1]
    return np.stack([*(unknowns[name] for name in NAMES[:4]), level, meter])


def _p_values(proposals: int, sweeps: int, noise: float) -> dict[str, float]:
    """Chance of ranks so uneven, by quantity; the estimator takes `noise` times the noise."""
    tank, template, end = one_day()
    ranks = []
    for repeat in range(REPEATS):
        rng = np.random.default_rng([1, repeat])
        records, model, truth = drawn_records(tank, template, end, rng)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(evidence, "READ_PH_SD", noise * READ_PH_SD)
            found = posterior(tank, records, end, rng, n=4 * RANKED, proposals=proposals, sweeps=sweeps)
        thinned = found.draws.z[:, ::4]
        ranks.append((_quantities(model, thinned) < _quantities(model, truth)).sum(axis=1))
    expected = REPEATS / BINS
    binned = np.array(ranks) * BINS // (RANKED + 1)
    counts = np.array([np.bincount(column, minlength=BINS) for column in binned.T])
    statistic = ((counts - expected) ** 2 / expected).sum(axis=1)
    return dict(zip(NAMES, chi2.sf(statistic, BINS - 1).tolist(), strict=True))


@pytest.mark.parametrize("name", NAMES)
def test_ranks_are_even(name: str, as_tuned: dict[str, float]) -> None:
    """With the estimator's own settings: alkalinity, exchange, gain, uptake, the level, the meter's pH."""
    assert as_tuned[name] > LEAST_P


@pytest.fixture(scope="module")
def as_tuned() -> dict[str, float]:
    """P values with the estimator's own settings."""
    return _p_values(PROPOSALS, SWEEPS, 1.0)


def test_noise_understated_by_half_is_found_out() -> None:
    """The negative control: with half the meter's noise the level or the meter's pH must fail."""
    found = _p_values(PROPOSALS, SWEEPS, 0.5)
    assert found["meter now"] < LEAST_P, found
