"""Change points: the Nile's fall of 1898, brute-force integration, other segmentations, calibration."""

import numpy as np
import pytest
import ruptures
from scipy import integrate, stats
from statsmodels.datasets import nile

from dawnlevel.errors import BadInputError, NotEnoughRecordsError, OutOfRangeError
from dawnlevel.watch.changepoint import JUMP_SD, changes, single_change
from dawnlevel.watch.segments import best_splits, series_of

NILE = nile.load().data["volume"].to_numpy(dtype=float)
FIRST_YEAR = 1871


def test_the_nile_falls_after_1898() -> None:
    """1898 is the last year at the old level (Cobb 1978, second-hand; documentation of R's strucchange)."""
    found = single_change(NILE)
    assert found.probability > 0.999
    assert FIRST_YEAR + found.index - 1 == 1898
    assert (
        FIRST_YEAR + found.low - 1 >= 1895
    )  # R's strucchange: 1895 to 1902 (95 %), from memory, not checked
    assert FIRST_YEAR + found.high - 1 <= 1902
    # 28 and 72 years: the difference of means and its standard error, by scipy
    split = stats.ttest_ind(NILE[28:], NILE[:28])
    plain = split.confidence_interval(0.90)
    assert found.size == pytest.approx(NILE[28:].mean() - NILE[:28].mean(), rel=0.05)
    assert found.size_low == pytest.approx(plain.low, rel=0.06)
    assert found.size_high == pytest.approx(plain.high, rel=0.06)


def test_the_nile_holds_one_change_only() -> None:
    """Annotators see at most this one (Turing Institute's change-point benchmark, series nile)."""
    (only,) = changes(NILE)
    assert FIRST_YEAR + only.index - 1 == 1898


def integrated_evidence(values: np.ndarray, noise: float, split: int | None) -> float:
    """Evidence by brute force: Simpson's rule over level and jump (over the level alone without a split)."""
    level = np.linspace(-8.0, 12.0, 401)[:, None]
    jump = np.linspace(-14.0, 14.0, 601) if split is not None else np.zeros(1)
    joint = np.ones((level.size, jump.size))
    for i, value in enumerate(values):
        joint *= stats.norm.pdf(
            value - level - (jump if split is not None and i >= split else 0.0), scale=noise
        )
    if split is None:
        return float(integrate.simpson(joint[:, 0], x=level[:, 0]))
    joint *= stats.norm.pdf(jump, scale=JUMP_SD * noise)
    return float(integrate.simpson(integrate.simpson(joint, x=jump), x=level[:, 0]))


def test_chances_are_those_of_brute_force_integration() -> None:
    values, noise = np.array([1.0, 0.2, 0.8, 2.9, 2.2]), 0.7
    found = single_change(values, noise_sd=noise)
    splits = [integrated_evidence(values, noise, split) for split in range(1, 5)]
    assert found.moments[1:] == pytest.approx(np.array(splits) / sum(splits), rel=1e-4)
    none = integrated_evidence(values, noise, None)
    assert found.probability == pytest.approx(np.mean(splits) / (np.mean(splits) + none), rel=1e-4)


def test_known_and_inferred_scatter_agree_where_there_is_much_to_infer_it_from() -> None:
    values = np.random.default_rng(2).standard_normal(400)
    values[250:] += 0.8
    known, inferred = single_change(values, noise_sd=1.0), single_change(values)
    assert known.index == inferred.index
    assert known.size == pytest.approx(inferred.size, abs=0.01)
    assert known.size_high - known.size_low == pytest.approx(inferred.size_high - inferred.size_low, rel=0.1)


def test_intervals_hold_what_they_promise_and_quiet_series_stay_quiet() -> None:
    """Jumps drawn as assumed beforehand: 90 % intervals hold moment and size in about 90 %."""
    rng = np.random.default_rng(3)
    runs, count = 100, 42
    moment = size = called = quiet = 0
    for _ in range(runs):
        split, jump = int(rng.integers(1, count)), JUMP_SD * rng.standard_normal()
        values = 5.0 + rng.standard_normal(count) + jump * (np.arange(count) >= split)
        found = single_change(values)
        moment += found.low <= split <= found.high
        size += found.size_low <= jump <= found.size_high
        called += bool(changes(5.0 + rng.standard_normal(count)))
        quiet += single_change(5.0 + rng.standard_normal(count)).probability > 0.95
    error = 3.0 * np.sqrt(0.09 / runs)
    assert moment / runs > 0.9 - error  # an index is discrete: its interval holds at least as much
    assert abs(size / runs - 0.9) < error
    assert quiet / runs < 0.05
    assert called / runs < 0.1


def test_segmentations_are_those_of_ruptures() -> None:
    rng = np.random.default_rng(4)
    values = rng.standard_normal(150) + 2.0 * np.repeat([0.0, 1.5, -0.5, 1.0, 0.2], 30)
    dynp = ruptures.Dynp(model="l2", min_size=2, jump=1).fit(values)
    for cuts, ours in enumerate(best_splits(series_of(values, None, None, JUMP_SD), 6)):
        if cuts:
            assert list(ours) == dynp.predict(n_bkps=cuts)[:-1]


def test_several_changes_are_found_at_their_places_and_no_more() -> None:
    exact = within = runs = 0
    for seed in range(20):
        rng = np.random.default_rng(seed)
        values = rng.standard_normal(100) + np.repeat([0.0, 3.0, 0.5, 3.5], 25)
        found = changes(values)
        exact += len(found) == 3
        for true in (25, 50, 75):
            within += any(change.low <= true <= change.high for change in found)
        runs += 1
    assert exact / runs >= 0.9
    assert within / (3 * runs) >= 0.85


def test_a_short_spell_and_its_end_are_two_changes() -> None:
    values = np.random.default_rng(8).standard_normal(90)
    values[40:50] += 4.0
    assert [change.index for change in changes(values, noise_sd=1.0)] == [40, 50]


def test_gaps_missing_figures_and_the_calendar() -> None:
    values = np.array([0.0, 0.1, np.nan, -0.1, 0.05, 9.0, np.nan, 9.1, 8.9, 9.05])
    found = single_change(values)
    assert found.index == 5
    assert found.moments[[2, 6]] == pytest.approx([0.0, 0.0])
    # nothing told by the figures: a moment is as likely as its gap is long
    days = np.array([0.0, 1.0, 2.0, 10.0, 11.0])
    vague = single_change(np.array([1.0, 2.0, 1.5, 1.2, 1.8]), days=days, noise_sd=1e6).moments[1:]
    expected = np.diff(days) / 11.0 / np.sqrt(np.array([4, 6, 6, 4]) / 5.0 + JUMP_SD**-2.0)
    assert vague == pytest.approx(expected / expected.sum(), rel=1e-6)


def test_a_series_that_never_moves_and_one_that_only_jumps() -> None:
    assert single_change(np.full(12, 7.0)).probability < 0.5
    assert changes(np.full(12, 7.0)) == []
    sharp = single_change([7.0] * 6 + [8.0] * 6)
    assert sharp.index == 6
    assert sharp.probability > 0.99


def test_what_cannot_be_asked_is_refused() -> None:
    with pytest.raises(NotEnoughRecordsError, match="At least 4"):
        single_change([1.0, 2.0, np.nan, 3.0])
    with pytest.raises(BadInputError, match="rise"):
        single_change([1.0, 2.0, 3.0, 4.0], days=[0.0, 2.0, 1.0, 3.0])
    with pytest.raises(BadInputError, match="scatter"):
        single_change([1.0, 2.0, 3.0, 4.0], noise_sd=0.0)
    with pytest.raises(OutOfRangeError, match="number of figures"):
        changes(np.zeros(5000))
