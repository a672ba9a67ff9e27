"""Exchange and injection: published transfer velocities, Schmidt scaling, the arithmetic of the priors."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnlevel.balance.exchange import (
    PRIOR_TEMP_C,
    TRANSFER_VELOCITY_CM_H,
    kla_o2_per_h,
    kla_per_h,
    kla_ratio_co2_o2_wanninkhof_1992,
    kla_ratio_sd_co2_o2_wanninkhof_1992,
)
from dawnlevel.balance.injection import (
    BUBBLE_MG,
    DISSOLVED_SHARE,
    UPTAKE_MG_L_H,
    injected_mg_l_h,
    injected_mg_l_h_per_bps,
)
from dawnlevel.balance.prior import Z_90, Prior, SharePrior
from dawnlevel.chemistry.schmidt import (
    kla_ratio_co2_to_o2,
    schmidt_co2_wanninkhof_1992,
    schmidt_o2_wanninkhof_1992,
)
from dawnlevel.errors import BadInputError
from dawnlevel.tank import Diffuser, Planting, Surface

# kLa in 1/h at 30, 40, 50 cm by surface, printed to 2-3 digits on the project's reference page.
PRINTED_KLA = {
    Surface.STILL: (0.033, 0.025, 0.020),
    Surface.GENTLE: (0.10, 0.075, 0.060),
    Surface.RIPPLED: (0.23, 0.18, 0.14),
    Surface.STRONG: (0.50, 0.38, 0.30),
}


@pytest.mark.parametrize("surface", list(Surface))
def test_median_kla_by_surface_and_depth(surface: Surface) -> None:
    got = kla_per_h(TRANSFER_VELOCITY_CM_H[surface].median, np.array([30.0, 40.0, 50.0]))
    printed = np.array(PRINTED_KLA[surface])
    half_digit = np.where(printed < 0.1, 0.0005, 0.005)
    assert np.all(np.abs(got - printed) <= half_digit * (1 + 1e-9))


@pytest.mark.parametrize(("exponent", "gain"), [(0.5, 1.10), (2 / 3, 1.14)])
def test_four_degrees_warmer(exponent: float, gain: float) -> None:
    """+10 % (n = 1/2) to +14 % (n = 2/3) from 22 to 26 degC: reference page, computed from Wanninkhof."""
    ratio = float(kla_per_h(3.0, 40.0, 26.0, exponent=exponent) / kla_per_h(3.0, 40.0, exponent=exponent))
    assert ratio == pytest.approx(gain, abs=0.005)


def test_film_theory_lies_inside_the_span_of_calm_surfaces() -> None:
    """k = D/film at 22 degC, 0.2 to 1 mm: 3.2 to 0.64 cm/h (D 1.77e-9 m2/s between CRC Handbook's rows)."""
    k_cm_h = 1.77e-9 / (np.array([1.0, 0.5, 0.3, 0.2]) * 1e-3) * 3.6e5
    low, high = TRANSFER_VELOCITY_CM_H[Surface.STILL].low, TRANSFER_VELOCITY_CM_H[Surface.GENTLE].high
    assert np.all((k_cm_h > low) & (k_cm_h < high))


def test_published_lake_values_lie_inside_the_spans() -> None:
    """Emerson 1975: 0.8 +/- 0.4 cm/h; Cole et al. 2010: 1.5-3.1; Heiskanen et al. 2014: about 7."""
    still, gentle, rippled = (
        TRANSFER_VELOCITY_CM_H[s] for s in (Surface.STILL, Surface.GENTLE, Surface.RIPPLED)
    )
    assert still.low <= 0.4
    assert still.low < 0.8 < still.high
    assert gentle.low <= 1.5
    assert gentle.high > 3.1
    assert rippled.low < 7.0 < rippled.high


@given(st.floats(15.0, 30.0), st.sampled_from([0.5, 2 / 3]))
def test_ratio_of_co2_to_o2_holds_wherever_a_tank_is_kept(temp_c: float, exponent: float) -> None:
    """0.92 +/- 0.03 covers both published sets of Schmidt numbers, both exponents, 15-30 degC."""
    first = float(schmidt_co2_wanninkhof_1992(temp_c) / schmidt_o2_wanninkhof_1992(temp_c)) ** -exponent
    second = float(kla_ratio_co2_to_o2(temp_c, exponent))
    for ratio in (first, second):
        assert abs(ratio - kla_ratio_co2_o2_wanninkhof_1992) <= kla_ratio_sd_co2_o2_wanninkhof_1992
    assert float(kla_o2_per_h(0.184)) == pytest.approx(0.2)


@given(st.floats(0.1, 40.0), st.floats(3.0, 300.0), st.floats(5.0, 40.0), st.floats(5.0, 40.0))
def test_scaling_goes_there_and_back(velocity: float, depth: float, temp: float, reference: float) -> None:
    there = kla_per_h(velocity, 1.0, temp, reference)
    assert float(kla_per_h(there, depth, reference, temp)) == pytest.approx(velocity / depth, rel=1e-12)
    assert float(kla_per_h(velocity, depth, temp, temp)) == pytest.approx(velocity / depth, rel=1e-15)


def test_one_bubble_a_second_is_six_milligrams_a_minute() -> None:
    """0.10 mg a bubble, 6 (3-12) mg/min; 100 L at 8.2 mg/min dissolved and 70 % is about 2 bubbles/s."""
    per_minute = np.array([BUBBLE_MG.low, BUBBLE_MG.median, BUBBLE_MG.high]) * 60
    np.testing.assert_allclose(per_minute, [3, 6, 12])
    gain = injected_mg_l_h_per_bps(100.0, Diffuser.FINE)
    assert gain.median == pytest.approx(
        6 * 60 / 100 * 0.6, rel=0.05
    )  # the product's median lies a little lower
    assert 4.9 / (gain.median * 0.7 / 0.6) == pytest.approx(2.0, abs=0.06)
    assert float(injected_mg_l_h(2.0, gain.median)) == pytest.approx(2 * gain.median)


@pytest.mark.parametrize("diffuser", list(Diffuser))
def test_span_of_the_gain_against_drawing_both_parts(diffuser: Diffuser) -> None:
    """The combined 90 % span against 200 000 draws of bubble and share; 1.5 % is 4 errors of quantiles."""
    rng = np.random.default_rng(20240517)
    drawn = BUBBLE_MG.draw(rng, 200_000) * DISSOLVED_SHARE[diffuser].from_normal(rng.standard_normal(200_000))
    low, median, high = np.quantile(drawn * 3600 / 80.0, [0.05, 0.5, 0.95])
    gain = injected_mg_l_h_per_bps(80.0, diffuser)
    np.testing.assert_allclose([gain.low, gain.median, gain.high], [low, median, high], rtol=0.015)


def test_uptake_medians() -> None:
    """Dense 2 (0.7-5), medium 0.8 (0.3-2), sparse 0.2 mg/L/h: the reference page's judgement."""
    assert [UPTAKE_MG_L_H[p].median for p in (Planting.SPARSE, Planting.MEDIUM, Planting.DENSE)] == [
        0.2,
        0.8,
        2,
    ]
    sparse, medium = UPTAKE_MG_L_H[Planting.SPARSE], UPTAKE_MG_L_H[Planting.MEDIUM]
    assert sparse.factor_90 == pytest.approx(medium.factor_90, rel=0.01)


def test_every_choice_has_a_prior_with_a_source() -> None:
    assert set(TRANSFER_VELOCITY_CM_H) == set(Surface)
    assert set(DISSOLVED_SHARE) == set(Diffuser)
    assert set(UPTAKE_MG_L_H) == set(Planting)
    every = [*TRANSFER_VELOCITY_CM_H.values(), *DISSOLVED_SHARE.values(), *UPTAKE_MG_L_H.values(), BUBBLE_MG]
    assert all(prior.source for prior in every)
    assert 21.9 < PRIOR_TEMP_C < 22.1


def test_a_prior_holds_90_percent_in_its_span() -> None:
    prior = Prior(3.0, 1.5, 6.0, "cm/h", "made up")
    np.testing.assert_allclose(prior.from_normal([-Z_90, 0.0, Z_90]), [1.5, 3.0, 6.0])
    share = SharePrior(0.5, 0.2, 0.8, "made up")
    np.testing.assert_allclose(share.from_normal([-Z_90, 0.0, Z_90]), [0.2, 0.5, 0.8])
    drawn = prior.draw(np.random.default_rng(7), 100_000)
    assert np.mean((drawn > 1.5) & (drawn < 6.0)) == pytest.approx(0.9, abs=0.004)  # 4 sd of the count
    with pytest.raises(BadInputError):
        Prior(1.0, 1.5, 6.0, "cm/h", "made up")
    with pytest.raises(BadInputError):
        SharePrior(0.9, 0.5, 1.0, "made up")
