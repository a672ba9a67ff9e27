"""The posterior as a whole: the same for the same seed, whatever the order, and not moved by one slip."""

from dataclasses import replace

import numpy as np
import pytest

from dawnlevel.estimate.laplace import find_peak
from dawnlevel.estimate.model import build_model
from dawnlevel.estimate.posterior import Posterior, interval, posterior, recorded_baseline
from dawnlevel.tank import PhReading, Record
from tests.estimate_worlds import (
    Floats,
    drawn_records,
    gas_days,
    in_order,
    kit,
    make_tank,
    one_day,
    three_days,
    when,
)


def _records(seed: int = 3) -> list[Record]:
    tank, template, end = three_days()
    return drawn_records(tank, template, end, np.random.default_rng(seed), _plain(seed))[0]


def _plain(seed: int) -> Floats:
    """Unknowns well within the prior, so that the world is an ordinary one, shape (d, 1)."""
    tank, template, end = three_days()
    size = build_model(tank, template, end).size
    return 0.4 * np.random.default_rng([seed, 1]).standard_normal((size, 1))


def _estimate(records: list[Record], seed: int = 0) -> Posterior:
    tank, _, end = three_days()
    return posterior(tank, records, end, np.random.default_rng(seed))


def test_the_same_seed_gives_the_same_draws() -> None:
    records = _records()
    first, again, other = _estimate(records), _estimate(records), _estimate(records, seed=1)
    assert np.array_equal(first.levels, again.levels)
    assert np.array_equal(first.draws.z, again.draws.z)
    assert not np.array_equal(first.draws.z, other.draws.z)


def test_the_order_of_arrival_does_not_matter() -> None:
    records = _records()
    shuffled = [records[i] for i in np.random.default_rng(9).permutation(len(records))]
    assert np.array_equal(_estimate(in_order(shuffled)).draws.z, _estimate(records).draws.z)


def test_records_after_the_moment_asked_for_are_not_used() -> None:
    tank, _, end = three_days()
    records = _records()
    later = [*records, PhReading(at=when(70.0), ph=5.0)]
    with_later = posterior(tank, later, end, np.random.default_rng(0))
    assert np.array_equal(with_later.draws.z, _estimate(records).draws.z)


@pytest.mark.parametrize("seed", [3, 4, 5])
def test_a_slip_hardly_moves_the_estimate(seed: int) -> None:
    """One reading written a whole pH low (6.2 for 7.2): the median moves under a tenth of the interval."""
    records = _records(seed)
    found = [i for i, record in enumerate(records) if isinstance(record, PhReading)]
    victim = found[-2]
    slipped = list(records)
    right = records[victim]
    assert isinstance(right, PhReading)
    slipped[victim] = replace(right, ph=round(right.ph - 1.0, 2))
    without = records[:victim] + records[victim + 1 :]
    clean, bad = (interval(_large(r).levels[-1]) for r in (without, slipped))
    width = clean.high_90 - clean.low_90
    assert abs(bad.median - clean.median) < 0.1 * width
    assert (bad.high_90 - bad.low_90) / width == pytest.approx(1.0, abs=0.2)


def _large(records: list[Record]) -> Posterior:
    tank, _, end = three_days()
    return posterior(tank, records, end, np.random.default_rng(0), n=2000, proposals=4000, sweeps=20)


def test_without_records_the_estimate_is_the_prior() -> None:
    """Every unknown keeps mean 0 and sd 1 of its standard normal (4 standard errors)."""
    got = posterior(make_tank(), [], when(12.0), np.random.default_rng(0), n=4000, proposals=20000, sweeps=10)
    assert np.abs(got.draws.z.mean(axis=1)).max() < 4.0 / np.sqrt(2000)
    assert np.abs(got.draws.z.std(axis=1) - 1.0).max() < 4.0 / np.sqrt(2 * 2000)


def test_more_readings_narrow_the_answer() -> None:
    """On average over worlds, CO2 now is less spread with KH and readings than with readings alone."""
    spans = []
    for seed in range(6):
        tank, template, end = one_day()
        records = drawn_records(tank, template, end, np.random.default_rng(seed))[0]
        few = [r for r in records if not isinstance(r, PhReading)] + [
            r for r in records if isinstance(r, PhReading)
        ][:1]
        both = [posterior(tank, in_order(r), end, np.random.default_rng(0)) for r in (few, records)]
        spans.append([float(np.log(p.levels[-1]).std()) for p in both])
    wide, narrow = np.mean(spans, axis=0)
    assert narrow < 0.8 * wide


def test_the_peak_is_a_peak() -> None:
    """No neighbour a tenth of an sd away is higher by more than the climb's tolerance."""
    records = _records()
    tank, _, end = three_days()
    peak, model = find_peak(build_model(tank, records, end))
    moved = peak.mode[:, None] + 0.1 * np.hstack([peak.axes, -peak.axes])
    assert model.log_posterior(moved).max() <= float(model.log_posterior(peak.mode[:, None])[0]) + 0.01
    assert float(model.log_posterior(peak.mode[:, None])[0]) == pytest.approx(
        float(model.log_posterior(peak.mode[:, None])[0]), abs=0.01
    )


def test_the_quick_model_is_the_exact_one() -> None:
    """Solved about the mode, two passes: the log posterior of its draws differs by a constant within 0.02."""
    got = _large(_records())
    exact = replace(got.model, guess_mg_l=None)
    difference = got.model.log_posterior(got.draws.z) - exact.log_posterior(got.draws.z)
    assert np.ptp(difference) < 0.02


def test_baseline_and_intervals() -> None:
    tank, template, end = one_day()
    records, model, _ = drawn_records(tank, template, end, np.random.default_rng(0))
    assert recorded_baseline([], model.gear) is None
    assert recorded_baseline(records, model.gear) is not None
    evenly = interval(np.linspace(0.0, 1.0, 10001))
    assert (evenly.low_90, evenly.low_50, evenly.median, evenly.high_50, evenly.high_90) == pytest.approx(
        (0.05, 0.25, 0.5, 0.75, 0.95)
    )


def test_one_single_record_is_enough_to_answer() -> None:
    for record in (PhReading(at=when(1.0), ph=7.0), kit(1.0), *gas_days(0, ())):
        got = posterior(make_tank(), [record], when(1.0), np.random.default_rng(0))
        assert np.all(np.isfinite(got.levels))
        assert np.all(got.levels > 0.0)
