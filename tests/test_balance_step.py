"""Exact steps against an adaptive solver, and the identities every solution of the balance has."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from dawnlevel.balance.phi import exp_difference_ratio, phi1, phi2
from dawnlevel.balance.step import exact_step, exact_step_mean, simulate_linear
from dawnlevel.errors import BadInputError

levels = st.floats(0.0, 100.0)
sources = st.floats(-5.0, 60.0)
losses = st.one_of(st.just(0.0), st.floats(0.0, 1e-300), st.floats(1e-12, 5.0))
hours = st.one_of(st.just(0.0), st.floats(0.0, 1e-300), st.floats(1e-9, 48.0))


@given(st.floats(-3.0, 700.0))
def test_phi_functions_meet_their_recurrence(x: float) -> None:
    """phi2 x = 1 - phi1 and phi1 x = 1 - e^-x, the definitions."""
    assert float(phi1(x)) * x == pytest.approx(-np.expm1(-x), rel=1e-14, abs=1e-300)
    assert float(phi2(x)) * x == pytest.approx(1.0 - float(phi1(x)), rel=1e-12, abs=3e-16)


def test_phi_functions_at_nought_and_near_it() -> None:
    """phi1 = 1 - x/2 + x^2/6, phi2 = 1/2 - x/6 + x^2/24: Taylor series."""
    x = np.array([0.0, 5e-324, 1e-300, 1e-12, 1e-5])
    np.testing.assert_allclose(phi1(x), 1 - x / 2 + x**2 / 6, rtol=1e-15)
    np.testing.assert_allclose(phi2(x), 0.5 - x / 6 + x**2 / 24, rtol=1e-15)
    np.testing.assert_allclose(exp_difference_ratio(0.7, 0.7), np.exp(-0.7), rtol=1e-15)
    a, b = 0.7, 0.7 + 1e-9
    np.testing.assert_allclose(exp_difference_ratio(a, b), np.exp(-a) * (1 - 0.5e-9), rtol=1e-15)


@pytest.mark.parametrize(
    ("c0", "source", "loss", "dt"),
    [(3.0, 12.0, 0.5, 5.0), (30.0, 0.3, 0.4, 12.0), (0.6, 8.0, 0.0, 2.0), (30.0, -2.0, 1e-9, 3.0)],
)
def test_step_and_mean_against_an_adaptive_solver(c0: float, source: float, loss: float, dt: float) -> None:
    """scipy's DOP853, rtol 1e-12, an integrator that shares nothing with the closed form."""
    solved = solve_ivp(
        lambda _t, y: [source - loss * y[0], y[0]],
        (0.0, dt),
        [c0, 0.0],
        method="DOP853",
        rtol=1e-12,
        atol=1e-12,
    )
    assert float(exact_step(c0, source, loss, dt)) == pytest.approx(solved.y[0, -1], rel=1e-10)
    assert float(exact_step_mean(c0, source, loss, dt)) == pytest.approx(solved.y[1, -1] / dt, rel=1e-10)


@given(levels, sources, losses, hours, st.floats(0.0, 1.0))
def test_two_part_steps_make_one_step(c0: float, source: float, loss: float, dt: float, share: float) -> None:
    once = float(exact_step(c0, source, loss, dt))
    first = exact_step(c0, source, loss, share * dt)
    twice = float(exact_step(first, source, loss, dt - share * dt))
    assert twice == pytest.approx(once, rel=1e-12, abs=1e-12 * (c0 + abs(source) * dt))


@given(levels, sources, losses, hours)
def test_mass_is_balanced(c0: float, source: float, loss: float, dt: float) -> None:
    """What came minus what the mean level lost is what stayed."""
    gained = float(exact_step(c0, source, loss, dt)) - c0
    lost = loss * float(exact_step_mean(c0, source, loss, dt)) * dt
    assert gained == pytest.approx(source * dt - lost, rel=1e-11, abs=1e-11 * (c0 + abs(source) * dt))


@given(levels, st.floats(0.0, 60.0), losses, hours, st.floats(1e-6, 10.0))
def test_more_gas_or_less_loss_never_lowers_the_level(
    c0: float, source: float, loss: float, dt: float, more: float
) -> None:
    level = float(exact_step(c0, source, loss, dt))
    slack = 1e-13 * (c0 + source * dt)
    assert float(exact_step(c0, source + more, loss, dt)) >= level - slack
    assert float(exact_step(c0 + more, source, loss, dt)) >= level - slack
    assert float(exact_step(c0, source, loss + more, dt)) <= level + slack


@given(levels, sources, st.floats(0.01, 5.0))
def test_limits(c0: float, source: float, loss: float) -> None:
    """No time: the start. Endless time: source over loss. No loss: the straight line."""
    assert float(exact_step(c0, source, loss, 0.0)) == c0
    assert float(exact_step_mean(c0, source, loss, 0.0)) == c0
    assert float(exact_step(c0, source, loss, 1e5)) == pytest.approx(source / loss, rel=1e-14, abs=1e-12)
    assert float(exact_step(c0, source, 0.0, 7.0)) == c0 + 7.0 * source
    assert float(exact_step(c0, source, 1e-310, 7.0)) == c0 + 7.0 * source


def test_simulation_against_an_adaptive_solver_restarted_at_every_switch() -> None:
    """Three draws, gas on 2-9 h with a second kLa at night; shapes broadcast over draws."""
    edges = np.array([0.0, 2.0, 9.0, 12.5, 30.0])
    gas = np.array([[4.0], [8.0], [12.0]]) * np.array([0.0, 1.0, 0.0, 0.0])
    kla = np.array([[0.05], [0.2], [0.4]]) * np.array([1.0, 1.0, 1.0, 3.0])
    source = gas + 0.6 * kla
    times = np.array([0.0, 1.0, 2.0, 5.5, 9.0, 10.0, 20.0, 30.0])
    got = simulate_linear(0.6, edges, source, kla, times)
    assert got.shape == (3, 8)
    for draw in range(3):
        level, want = 0.6, {0.0: 0.6}
        for span in range(4):
            inside = times[(times > edges[span]) & (times <= edges[span + 1])]
            solved = solve_ivp(
                lambda _t, y, s=source[draw, span], k=kla[draw, span]: s - k * y,
                (edges[span], edges[span + 1]),
                [level],
                t_eval=np.union1d(inside, edges[span + 1]),
                rtol=1e-11,
                atol=1e-12,
            )
            want.update(zip(solved.t, solved.y[0], strict=True))
            level = solved.y[0, -1]
        np.testing.assert_allclose(got[draw], [want[t] for t in times], rtol=1e-8)


@given(st.lists(st.floats(0.1, 29.9), min_size=1, max_size=6))
def test_edges_where_nothing_changes_change_nothing(cuts: list[float]) -> None:
    edges = np.array([0.0, *sorted(cuts), 30.0])
    times = np.linspace(0.0, 30.0, 13)
    got = simulate_linear(5.0, edges, 4.0, 0.3, times)
    np.testing.assert_allclose(got, exact_step(5.0, 4.0, 0.3, times), rtol=1e-12)


def test_switching_times_may_differ_by_draw() -> None:
    starts = np.array([1.0, 2.0, 3.5])
    edges = np.stack([np.zeros(3), starts, np.full(3, 10.0)], axis=-1)
    got = simulate_linear(1.0, edges, [0.5, 9.0], 0.2, [4.0, 8.0])
    for row, start in enumerate(starts):
        alone = simulate_linear(1.0, [0.0, start, 10.0], [0.5, 9.0], 0.2, [4.0, 8.0])
        np.testing.assert_array_equal(got[row], alone)


def test_a_water_change_dilutes_at_once() -> None:
    """30 % of 20 mg/L replaced by water at 1 mg/L: 0.7 x 20 + 0.3 x 1 = 14.3, without exchange."""
    got = simulate_linear(
        20.0, [0, 4, 8], 0.0, 0.0, [3.999, 4.0, 8.0], kept_share=[1.0, 0.7], added_mg_l=[0.0, 0.3]
    )
    np.testing.assert_allclose(got, [20.0, 14.3, 14.3], rtol=1e-14)


def test_badly_built_timetables_are_refused() -> None:
    with pytest.raises(BadInputError, match="do not rise"):
        simulate_linear(1.0, [0.0, 5.0, 3.0], 1.0, 0.1, [1.0])
    with pytest.raises(BadInputError, match="3 values for 2 spans"):
        simulate_linear(1.0, [0.0, 3.0, 5.0], [1.0, 2.0, 3.0], 0.1, [1.0])
