"""The baseline cup against a solver that follows DIC, published tails, and its limits."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from dawnlevel.balance.cup import (
    CUP_TRANSFER_VELOCITY_CM_H,
    carbonate_buffer,
    cup_co2_mg_l,
    cup_residue_fraction,
)
from dawnlevel.chemistry import air_co2_mg_l, carbonate_coefficients, dic_mmol_l, ph_from_co2
from dawnlevel.errors import OutOfRangeError
from dawnlevel.tank import BaselineMethod

MEQ_PER_DKH = 0.35665  # from molar masses: 1 dKH is 10 mg/L CaO
AIR_22 = float(air_co2_mg_l(22.0, 420.0))
HOURS = np.array([8.0, 12.0, 24.0])

# pH still missing to equilibrium after 8, 12, 24 h, from 30 mg/L, 420 ppm, 4 dKH, 22 degC, by transfer
# velocity cm/h and depth cm: the reference page of this project, computed there without activity by
# another program and printed to 0.01.
MISSING_PH = {
    (0.5, 5.0): (1.31, 1.15, 0.70),
    (0.5, 7.5): (1.42, 1.31, 0.99),
    (0.5, 10.0): (1.48, 1.39, 1.15),
    (1.0, 5.0): (0.99, 0.70, 0.18),
    (1.0, 7.5): (1.20, 0.99, 0.46),
    (1.0, 10.0): (1.31, 1.15, 0.70),
    (2.0, 5.0): (0.46, 0.18, 0.01),
    (2.0, 7.5): (0.79, 0.46, 0.07),
    (2.0, 10.0): (0.99, 0.70, 0.18),
    (5.0, 5.0): (0.03, 0.0, 0.0),
    (5.0, 7.5): (0.13, 0.03, 0.0),
    (5.0, 10.0): (0.29, 0.09, 0.0),
    (20.0, 5.0): (0.0, 0.0, 0.0),
    (20.0, 7.5): (0.0, 0.0, 0.0),
    (20.0, 10.0): (0.0, 0.0, 0.0),
}


def _missing_ph(velocity: float, depth: float, hours: object, dkh: float, ionic: float | None) -> np.ndarray:
    alkalinity = dkh * MEQ_PER_DKH
    left = cup_co2_mg_l(30.0, AIR_22, velocity, depth, np.asarray(hours), alkalinity, 22.0, ionic)
    return np.asarray(
        ph_from_co2(AIR_22, alkalinity, 22.0, ionic) - ph_from_co2(left, alkalinity, 22.0, ionic)
    )


def _dic_solver(
    start: float, air: float, velocity: float, depth: float, hours: float, alkalinity: float
) -> float:
    """CO2 left, by an adaptive solver on DIC itself and a bracketing root for CO2: no buffer factor."""

    def dic(co2: float) -> float:
        return float(dic_mmol_l(ph_from_co2(co2, alkalinity, 22.0), alkalinity, 22.0))

    low, high = 0.9 * min(start, air), 1.1 * max(start, air)

    def co2_of(total: float) -> float:
        return float(brentq(lambda co2: dic(co2) - total, low, high, xtol=1e-13))

    solved = solve_ivp(
        lambda _t, y: [-(velocity / depth) * (co2_of(y[0]) - air) / 44.0095],
        (0.0, hours),
        [dic(start)],
        method="LSODA",
        rtol=1e-9,
        atol=1e-12,
    )
    return co2_of(solved.y[0, -1])


@pytest.mark.parametrize("dkh", [0.3, 1.0, 4.0, 12.0, 20.0])
@pytest.mark.parametrize(("velocity", "hours"), [(1.0, 8.0), (1.0, 36.0), (5.0, 12.0)])
def test_a_cup_that_loses_co2_against_a_solver_on_dic(dkh: float, velocity: float, hours: float) -> None:
    alkalinity = dkh * MEQ_PER_DKH
    want = _dic_solver(30.0, AIR_22, velocity, 7.5, hours, alkalinity)
    got = float(cup_co2_mg_l(30.0, AIR_22, velocity, 7.5, hours, alkalinity, 22.0))
    assert abs(np.log10(got / want)) < 1e-5


@pytest.mark.parametrize("dkh", [0.3, 1.0, 4.0, 12.0])
def test_a_cup_that_takes_co2_up_against_a_solver_on_dic(dkh: float) -> None:
    alkalinity = dkh * MEQ_PER_DKH
    want = _dic_solver(0.3, 2.5, 1.0, 7.5, 8.0, alkalinity)
    got = float(cup_co2_mg_l(0.3, 2.5, 1.0, 7.5, 8.0, alkalinity, 22.0))
    assert abs(np.log10(got / want)) < 1e-3


@pytest.mark.parametrize(("cup", "printed"), MISSING_PH.items())
def test_table_of_ph_still_missing(cup: tuple[float, float], printed: tuple[float, ...]) -> None:
    """Half of the last printed digit (0.005) and 0.002 for the other program's constants."""
    np.testing.assert_allclose(_missing_ph(*cup, HOURS, 4.0, 0.0), printed, rtol=0, atol=0.007)


@pytest.mark.parametrize(("dkh", "printed"), [(1.0, 0.14), (4.0, 0.18), (8.0, 0.26), (12.0, 0.33)])
def test_the_tail_slows_in_hard_water(dkh: float, printed: float) -> None:
    """After 36 h at 1 cm/h and 7.5 cm; same page and tolerance as the table above."""
    assert float(_missing_ph(1.0, 7.5, 36.0, dkh, 0.0)) == pytest.approx(printed, abs=0.007)


def test_activity_hardly_changes_what_is_missing() -> None:
    """The reference page says that differences change by less than 0.02 pH."""
    for cup in MISSING_PH:
        change = _missing_ph(*cup, HOURS, 4.0, None) - _missing_ph(*cup, HOURS, 4.0, 0.0)
        assert np.max(np.abs(change)) < 0.02


def test_plain_residue_of_a_still_cup() -> None:
    """34 / 20 / 4 % at 8 / 12 / 24 h for 1 cm/h and 7.5 cm (reference page, arithmetic)."""
    np.testing.assert_allclose(cup_residue_fraction(1.0, 7.5, HOURS), [0.34, 0.20, 0.04], atol=0.005)


@pytest.mark.parametrize("co2", [0.3, 0.66, 3.0, 30.0])
@pytest.mark.parametrize("dkh", [1.0, 4.0, 12.0])
def test_buffer_is_the_slope_of_dic(co2: float, dkh: float) -> None:
    """Central difference of DIC at fixed alkalinity, in CO2 units (44.0095 g/mol)."""
    alkalinity, ionic = dkh * MEQ_PER_DKH, dkh * MEQ_PER_DKH * 1e-3

    def dic(level: float) -> float:
        return 44.0095 * float(dic_mmol_l(ph_from_co2(level, alkalinity, 22.0), alkalinity, 22.0))

    slope = (dic(co2 * 1.0001) - dic(co2 * 0.9999)) / (co2 * 0.0002)
    coefficients = carbonate_coefficients(alkalinity, 22.0, ionic)
    assert float(carbonate_buffer(co2, alkalinity, coefficients)) == pytest.approx(slope, rel=1e-3)


levels = st.floats(0.1, 100.0)
airs = st.floats(0.3, 5.0)
velocities = st.floats(0.0, 40.0)
depths = st.floats(1.0, 20.0)
times = st.one_of(st.just(0.0), st.floats(1e-3, 72.0))
alkalinities = st.floats(0.1, 8.0)


@given(levels, airs, velocities, depths, times, alkalinities)
def test_buffered_cup_lags_the_plain_one_and_both_head_for_the_air_level(
    start: float, air: float, velocity: float, depth: float, hours: float, alkalinity: float
) -> None:
    plain = float(cup_co2_mg_l(start, air, velocity, depth, hours))
    buffered = float(cup_co2_mg_l(start, air, velocity, depth, hours, alkalinity, 25.0))
    left = np.array([plain, buffered]) - air
    assert np.all(left * np.sign(start - air) >= -1e-12)
    assert abs(buffered - air) >= abs(plain - air) * (1 - 1e-9) - 1e-12
    assert abs(buffered - air) <= abs(start - air) + 1e-12


@given(levels, airs, velocities, depths, alkalinities, st.floats(0.1, 40.0), st.floats(0.1, 0.9))
def test_two_waits_make_one(
    start: float, air: float, velocity: float, depth: float, alkalinity: float, hours: float, share: float
) -> None:
    """Within the stated numerical error, for a cup that loses CO2."""
    high, low = max(start, air), min(start, air)
    once = float(cup_co2_mg_l(high, low, velocity, depth, hours, alkalinity))
    first = cup_co2_mg_l(high, low, velocity, depth, share * hours, alkalinity)
    twice = float(cup_co2_mg_l(first, low, velocity, depth, (1 - share) * hours, alkalinity))
    assert abs(np.log10(twice / once)) < 2e-4


def test_limits_and_shapes() -> None:
    for alkalinity in (None, 1.4):
        assert float(cup_co2_mg_l(30.0, 0.6, 1.0, 7.5, 0.0, alkalinity)) == pytest.approx(30.0, rel=1e-15)
        assert float(cup_co2_mg_l(30.0, 0.6, 20.0, 7.5, 240.0, alkalinity)) == pytest.approx(0.6, rel=1e-6)
        assert float(cup_co2_mg_l(0.6, 0.6, 1.0, 7.5, 12.0, alkalinity)) == pytest.approx(0.6, rel=1e-15)
    got = cup_co2_mg_l(np.full((4, 1), 30.0), 0.6, np.linspace(0.5, 2.0, 3), 7.5, 24.0, 1.4)
    assert got.shape == (4, 3)
    assert np.all(np.diff(got, axis=1) < 0)


def test_every_way_of_preparing_a_cup_has_a_prior() -> None:
    """Medians of the reference page: still 1 (0.5-2), stirred 5, aerated 20 cm/h (judgement)."""
    assert {way: CUP_TRANSFER_VELOCITY_CM_H[way].median for way in BaselineMethod} == {
        BaselineMethod.STILL_CUP: 1.0,
        BaselineMethod.STIRRED_CUP: 5.0,
        BaselineMethod.AERATED: 20.0,
    }


def test_figures_no_cup_has_are_refused() -> None:
    with pytest.raises(OutOfRangeError, match="depth of the cup"):
        cup_co2_mg_l(30.0, 0.6, 1.0, 0.0, 8.0)
    with pytest.raises(OutOfRangeError, match="hours in the cup"):
        cup_co2_mg_l(30.0, 0.6, 1.0, 7.5, -1.0)
