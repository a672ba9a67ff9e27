"""What is left in a cylinder: conservation, a brute-force integration, coverage, the gauge's flat line."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnlevel.errors import BadInputError
from dawnlevel.supply.cylinder import (
    CHARGE_SD,
    TARE_SD_KG,
    Contents,
    CylinderFacts,
    Gauged,
    UsePrior,
    Weighed,
    contents,
    weighted_quantiles,
)
from dawnlevel.supply.use import bubbles_counted

START = datetime(2026, 5, 4, tzinfo=UTC)
PRIOR = UsePrior(1e-7, 0.42)  # 0.10 mg a bubble, a factor 2 either way at 90 %
FACTS = CylinderFacts(2.0, 3.0, 3.0)
FIVE = (0.05, 0.25, 0.5, 0.75, 0.95)


def weighed(counts: list[float], gross: list[float], scale: float = 0.01, regulator: float = 0.0) -> Weighed:
    size = len(counts)
    return Weighed(np.array(counts), np.array(gross), np.full(size, scale), np.full(size, regulator))


def hours(value: float) -> timedelta:
    return timedelta(hours=value)


# --- counts ---


def test_bubbles_are_rate_times_open_seconds() -> None:
    switches = [(START + hours(1), True), (START + hours(3), False), (START + hours(10), True)]
    rates = [(START - hours(5), 2.0), (START + hours(2), 3.0)]
    moments = [START + hours(at) for at in (12, 0, 2, 3, 5, -4)]
    found = bubbles_counted(START, moments, switches, rates)
    assert found == pytest.approx([3600.0 * (2 + 3 + 6), 0.0, 3600.0 * 2, 3600.0 * 5, 3600.0 * 5, 0.0])


def test_what_stood_before_the_start_holds() -> None:
    found = bubbles_counted(START, [START + hours(1)], [(START - hours(9), True)], [(START - hours(7), 1.5)])
    assert found == pytest.approx([5400.0])
    assert bubbles_counted(START, [START + hours(1)], [], [(START, 1.5)]) == pytest.approx([0.0])


@settings(deadline=None, max_examples=50)
@given(st.lists(st.floats(0.0, 500.0), min_size=1, max_size=6), st.lists(st.floats(0.0, 400.0), max_size=12))
def test_counts_never_fall_and_add_up(moments: list[float], turned: list[float]) -> None:
    switches = [(START + hours(at), place % 2 == 0) for place, at in enumerate(sorted(turned))]
    at = sorted(START + hours(moment) for moment in moments)
    found = bubbles_counted(START, at, switches, [(START, 1.0)])
    assert np.all(np.diff(found) >= 0.0)
    opened = sum(
        max((min(end, at[-1]) - begin) / timedelta(seconds=1), 0.0)
        for (begin, is_open), (end, _) in zip(switches, [*switches[1:], (at[-1], False)], strict=False)
        if is_open
    )
    assert found[-1] == pytest.approx(opened, abs=1e-3)


# --- contents ---


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.floats(0.0, 8e6), min_size=0, max_size=4),
    st.floats(0.2, 5.0),
    st.none() | st.floats(0.5, 8.0),
    st.floats(0.0, 3e7),
)
def test_mass_in_the_cylinder_is_mass_injected_and_mass_left(
    counts: list[float], charge: float, tare: float | None, until: float
) -> None:
    counts = sorted(counts)
    gross = [(tare or 1.0) + charge * max(1.0 - count / 2e7, 0.0) for count in counts]
    found = contents(CylinderFacts(charge, tare), PRIOR, weighed(counts, gross, 0.05), Gauged())
    used, left = found.used_kg(until), found.left_kg(until)
    assert used + left == pytest.approx(found.charge_kg, rel=1e-12)
    assert np.all(used >= 0.0)
    assert np.all(left >= 0.0)
    assert found.weight.sum() == pytest.approx(1.0)


def brute_force(counts: list[float], gross: list[float], scale: float, until: float) -> np.ndarray:
    """Quantiles of what is left by a plain grid over charge, empty weight and gas per bubble."""
    charge = 2.0 + CHARGE_SD * 2.0 * np.linspace(-5, 5, 61)[:, None, None]
    tare = 3.0 + TARE_SD_KG * np.linspace(-5, 5, 61)[None, :, None]
    z = np.linspace(-5, 5, 2001)[None, None, :]
    use = PRIOR.median_kg * np.exp(PRIOR.log_sd * z)
    log = -0.5 * z**2 - 0.5 * ((charge - 2.0) / (0.02 * 2.0)) ** 2 - 0.5 * ((tare - 3.0) / TARE_SD_KG) ** 2
    for count, weight in zip(counts, gross, strict=True):
        log = log - 0.5 * (weight - tare - charge + use * count) ** 2 / (scale**2 / 3.0)
    left = np.broadcast_to(np.maximum(charge - use * until, 0.0), log.shape)
    weight = np.exp(log - log.max())
    return weighted_quantiles(left.ravel(), (weight / weight.sum()).ravel(), FIVE)


@pytest.mark.parametrize(
    ("counts", "gross"), [([0.0], [4.98]), ([3e6], [4.72]), ([0.0, 3e6, 6e6], [4.99, 4.66, 4.31]), ([], [])]
)
def test_against_a_brute_force_integration(counts: list[float], gross: list[float]) -> None:
    found = contents(FACTS, PRIOR, weighed(counts, gross, 0.02), Gauged())
    mine = found.quantiles(found.left_kg(7e6), FIVE)
    assert mine == pytest.approx(brute_force(counts, gross, 0.02, 7e6), abs=0.004)


def brute_force_with_regulator(gross: float, tare: float) -> np.ndarray:
    """The same for one first weighing with the regulator on: 0.8 +- 1.0 kg, cut off at nothing."""
    charge = 2.0 + CHARGE_SD * 2.0 * np.linspace(-5, 5, 1001)[:, None]
    regulator = np.linspace(0.0, 6.0, 3001)[None, :]
    variance = 0.02**2 / 3.0 + TARE_SD_KG**2
    log = -0.5 * ((charge - 2.0) / (0.02 * 2.0)) ** 2 - 0.5 * (regulator - 0.8) ** 2
    log = log - 0.5 * (gross - tare - charge - regulator) ** 2 / variance
    weight = np.exp(log - log.max()).sum(axis=1)
    return weighted_quantiles(charge.ravel(), weight / weight.sum(), FIVE)


@pytest.mark.parametrize("gross", [4.97, 5.01, 5.2, 5.9])
def test_a_regulator_never_makes_a_cylinder_lighter(gross: float) -> None:
    found = contents(FACTS, PRIOR, weighed([0.0], [gross], 0.02, 1.0), Gauged())
    mine = found.quantiles(found.left_kg(0.0), FIVE)
    assert mine == pytest.approx(brute_force_with_regulator(gross, 3.0), abs=0.006)


def test_a_cylinder_no_heavier_than_empty_is_no_full_one() -> None:
    """A 5 lb charge, 7 lb empty, 7 lb on the scale with its regulator: it was called full."""
    facts = CylinderFacts(2.268, 3.175)
    with pytest.raises(BadInputError, match="leak"):
        contents(facts, PRIOR, weighed([0.0], [3.175], 0.01, 1.0), Gauged())


def test_intervals_cover_as_stated() -> None:
    """Cylinders drawn from the prior, weighed with error: nine in ten truths lie within nine in ten."""
    rng = np.random.default_rng(7)
    counts = np.array([0.0, 1.5e6, 3e6])
    inside, ranks = 0, []
    for _ in range(300):
        charge = 2.0 * (1.0 + CHARGE_SD * rng.standard_normal())
        use = PRIOR.median_kg * np.exp(PRIOR.log_sd * rng.standard_normal())
        gross = 3.0 + TARE_SD_KG * rng.standard_normal() + charge - use * counts
        gross = gross + 0.02 / np.sqrt(3.0) * rng.standard_normal(3)
        found = contents(FACTS, PRIOR, Weighed(counts, gross, np.full(3, 0.02), np.zeros(3)), Gauged())
        low, high = found.quantiles(found.left_kg(4e6), (0.05, 0.95))
        left = max(charge - use * 4e6, 0.0)
        inside += int(low <= left <= high)
        ranks.append(float(np.sum(found.weight[found.use_kg < use])))
    assert 254 <= inside <= 285  # 270, three standard errors of a binomial
    assert np.mean(ranks) == pytest.approx(0.5, abs=3 * np.sqrt(1 / 12 / 300))


def test_weighing_teaches_the_bubble_and_weeks_teach_it_better() -> None:
    """0.15 mg a bubble, 1.5 bubbles/s for 9 h a day: 7.3 g a day; a scale off by up to 10 g."""
    a_day, true_kg = 1.5 * 3600 * 9, 0.15e-6

    def spread(days: int) -> float:
        counts = [0.0, a_day * days]
        gross = [5.8 + 2.0 - true_kg * count for count in counts]
        found = contents(CylinderFacts(2.0), PRIOR, weighed(counts, gross, 0.01, 1.0), Gauged())
        low, middle, high = found.quantiles(found.use_kg, (0.05, 0.5, 0.95))
        assert low < true_kg < high
        return float((high - low) / (3.29 * middle))

    assert 0.10 < spread(7) < 0.30  # a week's use against such a scale: 10 to 30 %
    assert spread(60) < 0.03


# --- the gauge ---

NOTHING = Weighed()


def gauged(bar: float, temp_c: float = 22.0, counts: float = 0.9 * 2.0 / 1e-7) -> Gauged:
    return Gauged(np.array([counts]), np.array([bar]), np.array([temp_c]))


@pytest.mark.parametrize(("bar", "share"), [(49.4 - 1.0, 0.20), (30.5 - 1.0, 0.10), (16.9 - 1.0, 0.05)])
def test_a_falling_gauge_tells_what_is_left(bar: float, share: float) -> None:
    """Gauge against content, computed with CoolProp at 22 degC for a charge of 0.667 kg/L."""
    counts = 1.6e7
    found = contents(FACTS, PRIOR, NOTHING, gauged(bar, counts=counts))
    low, middle, high = found.quantiles(found.left_kg(counts), (0.05, 0.5, 0.95)) / 2.0
    assert low < share < high
    assert middle == pytest.approx(share, abs=0.03)
    assert high - low < 0.2


def test_a_flat_gauge_only_says_that_a_third_or_more_is_left() -> None:
    counts = 1.6e7
    before = contents(FACTS, PRIOR, NOTHING, Gauged())
    after = contents(FACTS, PRIOR, NOTHING, gauged(59.0, counts=counts))
    assert before.quantiles(before.left_kg(counts), (0.25,))[0] < 0.2
    assert after.quantiles(after.left_kg(counts), (0.05,))[0] > 0.23 * 2.0
    full = contents(FACTS, PRIOR, NOTHING, gauged(59.0, counts=1e5))
    assert full.quantiles(full.use_kg, (0.95,)) == pytest.approx(
        before.quantiles(before.use_kg, (0.95,)), rel=0.02
    )


def test_a_gauge_nobody_read_the_temperature_of_tells_less() -> None:
    counts = 1.6e7
    known = contents(FACTS, PRIOR, NOTHING, gauged(48.0, counts=counts))
    unknown = contents(FACTS, PRIOR, NOTHING, gauged(48.0, float("nan"), counts=counts))

    def width(found: Contents) -> float:
        low, high = found.quantiles(found.left_kg(counts), (0.05, 0.95))
        return float(high - low)

    assert width(unknown) > width(known)


# --- when it runs out ---


def test_days_left() -> None:
    found = contents(FACTS, PRIOR, weighed([0.0, 5e6], [5.0, 4.5], 0.001), Gauged())
    low, middle, high = found.days_left(5e6, 1e5, (0.05, 0.5, 0.95))
    assert middle == pytest.approx(150.0, rel=0.05)  # 1.5 kg at 0.1 mg and 100 000 bubbles a day: 10 g
    assert low < 135.0
    assert high > 165.0
    assert np.all(np.isinf(found.days_left(5e6, 0.0, FIVE)))


def test_weighings_of_another_cylinder_are_refused() -> None:
    with pytest.raises(BadInputError, match="no cylinder of that charge"):
        contents(FACTS, PRIOR, weighed([0.0], [6.0], 0.001), Gauged())
    with pytest.raises(
        BadInputError, match="no cylinder of that charge"
    ):  # exchanged, but nobody wrote it down
        contents(CylinderFacts(2.0), PRIOR, weighed([0.0, 1e7, 2e7], [6.0, 5.0, 6.0], 0.01, 1.0), Gauged())
