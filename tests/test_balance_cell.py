"""The indicator cell against an adaptive solver, at resonance, and with unequal rise and fall."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from dawnlevel.balance.cell import CELL_LAG_H, cell_step, cell_step_rise_fall

levels = st.floats(0.0, 100.0)
losses = st.one_of(st.just(0.0), st.floats(0.0, 1e-300), st.floats(1e-6, 5.0))
lags = st.floats(0.05, 10.0)
hours = st.one_of(st.just(0.0), st.floats(0.0, 1e-300), st.floats(1e-6, 48.0))


def _solve(x0: float, c0: float, c_inf: float, loss: float, rise: float, fall: float, dt: float) -> float:
    """Adaptive, with an event where cell and tank meet so that the kink is not stepped over."""

    def tank(t: float) -> float:
        return c_inf + (c0 - c_inf) * float(np.exp(-loss * t))

    def meet(t: float, y: np.ndarray) -> float:
        return float(y[0]) - tank(t)

    def slope(t: float, y: np.ndarray) -> list[float]:
        gap = tank(t) - float(y[0])
        return [gap / (rise if gap > 0 else fall)]

    return float(
        solve_ivp(slope, (0.0, dt), [x0], events=meet, rtol=1e-10, atol=1e-11, max_step=dt / 50).y[0, -1]
    )


@settings(deadline=None, max_examples=40)  # the solver takes small steps round the kink
@given(levels, levels, levels, losses, lags, lags, st.floats(0.01, 12.0))
def test_rise_and_fall_against_an_adaptive_solver(
    x0: float, c0: float, c_inf: float, loss: float, rise: float, fall: float, dt: float
) -> None:
    got = float(cell_step_rise_fall(x0, c0, c_inf, loss, rise, fall, dt))
    assert got == pytest.approx(_solve(x0, c0, c_inf, loss, rise, fall, dt), rel=1e-6, abs=1e-6)


def test_the_meeting_is_found_in_a_case_made_for_it() -> None:
    """The cell starts at 20 above a tank at 5 that climbs to 30: it falls slowly, meets, then rises fast."""
    got = float(cell_step_rise_fall(20.0, 5.0, 30.0, 0.6, 0.3, 6.0, 4.0))
    assert got == pytest.approx(_solve(20.0, 5.0, 30.0, 0.6, 0.3, 6.0, 4.0), rel=1e-8)
    assert abs(got - float(cell_step(20.0, 5.0, 30.0, 0.6, 6.0, 4.0))) > 1.0


@pytest.mark.parametrize("detune", [0.0, 1e-15, 1e-9, 1e-4, -1e-4, 0.3])
def test_resonance(detune: float) -> None:
    """Loss equal to 1/tau: the limit c_inf + (x0 - c_inf + (c0 - c_inf) k t) e^(-k t)."""
    loss, dt = 0.5, 3.0
    got = float(cell_step(2.0, 30.0, 1.0, loss, 1.0 / (loss * (1.0 + detune)), dt))
    limit = 1.0 + (1.0 + 29.0 * loss * dt) * np.exp(-loss * dt)
    if abs(detune) < 1e-8:
        assert got == pytest.approx(limit, rel=1e-8)
    other = _solve(2.0, 30.0, 1.0, loss, *(2 * [1.0 / (loss * (1.0 + detune))]), dt)
    assert got == pytest.approx(other, rel=1e-8)


@given(levels, levels, levels, losses, lags, hours, st.floats(0.0, 1.0))
def test_two_part_steps_make_one_step(
    x0: float, c0: float, c_inf: float, loss: float, tau: float, dt: float, share: float
) -> None:
    once = float(cell_step(x0, c0, c_inf, loss, tau, dt))
    first = cell_step(x0, c0, c_inf, loss, tau, share * dt)
    tank = c_inf + (c0 - c_inf) * np.exp(-loss * share * dt)
    twice = float(cell_step(first, tank, c_inf, loss, tau, dt - share * dt))
    assert twice == pytest.approx(once, rel=1e-11, abs=1e-11)


@given(levels, levels, levels, losses, lags, lags, hours, st.floats(0.0, 1.0))
def test_two_part_steps_make_one_step_with_unequal_lags(
    x0: float, c0: float, c_inf: float, loss: float, rise: float, fall: float, dt: float, share: float
) -> None:
    once = float(cell_step_rise_fall(x0, c0, c_inf, loss, rise, fall, dt))
    first = cell_step_rise_fall(x0, c0, c_inf, loss, rise, fall, share * dt)
    tank = c_inf + (c0 - c_inf) * np.exp(-loss * share * dt)
    twice = float(cell_step_rise_fall(first, tank, c_inf, loss, rise, fall, dt - share * dt))
    assert twice == pytest.approx(once, rel=1e-8, abs=1e-8)


@given(levels, levels, levels, losses, lags, lags, hours)
def test_the_cell_stays_between_what_it_saw(
    x0: float, c0: float, c_inf: float, loss: float, rise: float, fall: float, dt: float
) -> None:
    got = float(cell_step_rise_fall(x0, c0, c_inf, loss, rise, fall, dt))
    assert min(x0, c0, c_inf) - 1e-9 <= got <= max(x0, c0, c_inf) + 1e-9
    assert float(cell_step_rise_fall(x0, c0, c_inf, loss, rise, fall, 0.0)) == pytest.approx(x0, rel=1e-13)
    if rise == fall:
        assert got == pytest.approx(float(cell_step(x0, c0, c_inf, loss, rise, dt)), rel=1e-9, abs=1e-9)


@given(levels, levels, lags)
def test_equal_lags_and_steady_tank_are_a_plain_lag(x0: float, tank: float, tau: float) -> None:
    """One lag: 1 - 1/e of the way."""
    got = float(cell_step_rise_fall(x0, tank, tank, 0.3, tau, tau, tau))
    assert got == pytest.approx(tank + (x0 - tank) / np.e, rel=1e-12, abs=1e-12)


def _lags_to_within_a_tenth_ph(start: float, end: float) -> float:
    """Lags until the cell is within 0.1 pH, that is a factor 10^0.1, of the tank's new level."""
    lags_h = np.linspace(0.0, 6.0, 6001)
    off = np.abs(np.log10(cell_step(start, end, end, 0.0, 1.0, lags_h) / end))
    return float(lags_h[np.argmax(off <= 0.1)])


def test_colour_follows_the_logarithm() -> None:
    """Reference page: 30 to 3 mg/L takes 3.5 lags, upward 1.6 (from the air's level; 1.5 from 3 mg/L)."""
    assert _lags_to_within_a_tenth_ph(30.0, 3.0) == pytest.approx(3.5, abs=0.06)
    assert _lags_to_within_a_tenth_ph(0.66, 30.0) == pytest.approx(1.6, abs=0.06)


def test_arrays_broadcast_and_the_prior_is_the_stated_one() -> None:
    got = cell_step_rise_fall(np.zeros((3, 1)), 1.0, 20.0, np.array([0.1, 0.2]), 2.0, 3.0, 1.0)
    assert got.shape == (3, 2)
    assert (CELL_LAG_H.low, CELL_LAG_H.median, CELL_LAG_H.high) == (0.8, 2.0, 6.0)
