"""Exchange times on simulated tanks, and before against after, beside a permutation test."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.stats import permutation_test, spearmanr
from survey_tanks import BOX, NOISE, SHARES, survey

from dawnlevel.practice.zones import side_pocket
from dawnlevel.survey.compare import change
from dawnlevel.survey.exchange import exchange_time, lagged
from dawnlevel.survey.field import Field, map_field

HOURS = np.linspace(0.0, 6.0, 25)


def test_a_lagging_place_is_what_an_adaptive_solver_says() -> None:
    level = 5.0 + 4.0 * HOURS
    for tau, loss in ((0.05, 0.0), (0.7, 0.3), (5.0, 1.0)):
        found = solve_ivp(
            lambda t, c, tau=tau, loss=loss: (5.0 + 4.0 * t - c) / tau - loss * c,
            (0.0, 6.0), [0.0], t_eval=HOURS, rtol=1e-9, atol=1e-10, method="Radau",
        )  # fmt: skip
        own = lagged(level, HOURS, np.array([tau]), np.array([loss]))[:, 0]
        assert own == pytest.approx(found.y[0], abs=1e-5)


def test_exchange_times_of_two_zone_tanks_are_covered_and_told() -> None:
    """Three readings of a pocket in the ramp, each with the noise of its own and of the tank's mean."""
    rng = np.random.default_rng(40)
    covered, told, off = [], [], []
    for _ in range(100):
        true_h = float(np.exp(rng.uniform(np.log(0.1), np.log(2.0))))
        zones = side_pocket(true_h, (0.6, 0.5, 0.0), (1.0, 1.0, 0.5))
        levels = zones.levels(np.array([2.0, 2.0]), HOURS.tolist())
        mean = zones.mean(levels)
        at = np.array([3, 6, 12])
        noise = np.exp(NOISE * rng.standard_normal(3))
        ratios = levels[at, 1] / mean[at] * noise
        found = exchange_time(ratios, 1.1 * NOISE * ratios, HOURS[at], mean[3:], HOURS[3:], rng)
        low, median, high = np.quantile(found.draws_h, (0.05, 0.5, 0.95))
        covered.append(low <= true_h <= high)
        told.append(found.told)
        off.append(np.log(median / true_h))
    assert np.mean(covered) >= 0.85
    assert np.median(told) > 0.5
    assert np.median(np.abs(off)) < np.log(2.0)


def test_one_reading_at_a_steady_level_tells_little() -> None:
    rng = np.random.default_rng(41)
    steady = np.full(HOURS.size, 20.0)
    found = exchange_time(np.array([0.98]), np.array([0.04]), HOURS[-1:], steady, HOURS, rng)
    low, high = np.quantile(found.draws_h, (0.05, 0.95))
    assert high / low > 10.0


def fields(unevenness: float, rng: np.random.Generator) -> tuple[Field, np.ndarray]:
    """A map of a tank that differs end to end, and the logarithms that were read."""
    level = 25.0 * np.exp(unevenness * (SHARES[:, 0] - 0.5) * 2.0)
    brought = survey(level, rng)
    return map_field(brought, BOX, rng, 200), brought.relative


def test_the_chance_of_more_evenness_goes_with_a_permutation_test() -> None:
    rng = np.random.default_rng(42)
    chances, values, calls = [], [], []
    for before, after in [(0.05, 0.05), (0.12, 0.04), (0.04, 0.12), (0.2, 0.02), (0.1, 0.07)] * 5:
        (first, seen_first), (then, seen_then) = fields(before, rng), fields(after, rng)
        found = change(first, then)
        chances.append(found.more_even)
        calls.append((before - after, found.verdict))
        test = permutation_test(
            (seen_first, seen_then), lambda a, b: np.std(a) - np.std(b), n_resamples=400,
            alternative="greater", rng=rng,
        )  # fmt: skip
        values.append(test.pvalue)
    assert spearmanr(chances, -np.array(values)).statistic > 0.85
    assert all(verdict >= 0 for gain, verdict in calls if gain > 0.05)
    assert all(verdict == 1 for gain, verdict in calls if gain > 0.15)
    assert all(verdict <= 0 for gain, verdict in calls if gain < -0.05)


def test_no_change_is_seldom_called_one() -> None:
    rng = np.random.default_rng(43)
    calls = [change(fields(0.06, rng)[0], fields(0.06, rng)[0]).verdict != 0 for _ in range(40)]
    assert sum(calls) <= 8  # one in ten by the threshold: 99 % of binomial draws
