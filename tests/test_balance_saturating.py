"""Saturating uptake: the implicit closed form against an adaptive solver and its own limits."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from dawnlevel.balance.saturating import steady_level_saturating, step_saturating
from dawnlevel.balance.step import exact_step
from dawnlevel.errors import OutOfRangeError

levels = st.floats(0.0, 100.0)
sources = st.one_of(st.just(0.0), st.floats(1e-6, 60.0))
losses = st.one_of(st.just(0.0), st.floats(0.0, 1e-300), st.floats(1e-9, 5.0))
uptakes = st.one_of(st.just(0.0), st.floats(1e-6, 20.0))
halves = st.floats(1e-3, 50.0)
hours = st.one_of(st.just(0.0), st.floats(0.0, 1e-300), st.floats(1e-9, 24.0))


@settings(deadline=None, max_examples=60)  # the solver takes its time where Km is small
@given(levels, sources, losses, uptakes, halves, st.floats(0.01, 24.0))
def test_against_an_adaptive_solver(
    c0: float, source: float, loss: float, uptake: float, km: float, dt: float
) -> None:
    """scipy's Radau, rtol 1e-10 (stiff where Km is small), on the plain equation."""
    solved = solve_ivp(
        lambda _t, y: source - loss * y - uptake * y / (km + y),
        (0.0, dt),
        [c0],
        method="Radau",
        rtol=1e-10,
        atol=1e-11,
        jac=lambda _t, y: [[-loss - uptake * km / (km + y[0]) ** 2]],
    )
    got = float(step_saturating(c0, source, loss, uptake, km, dt))
    # The solver's own error adds up over its steps; its tolerance is per step.
    assert got == pytest.approx(solved.y[0, -1], rel=2e-8, abs=1e-8)


@given(levels, sources, losses, uptakes, halves, hours, st.floats(0.0, 1.0))
def test_two_part_steps_make_one_step(
    c0: float, source: float, loss: float, uptake: float, km: float, dt: float, share: float
) -> None:
    once = float(step_saturating(c0, source, loss, uptake, km, dt))
    first = step_saturating(c0, source, loss, uptake, km, share * dt)
    twice = float(step_saturating(first, source, loss, uptake, km, dt - share * dt))
    assert twice == pytest.approx(once, rel=1e-9, abs=1e-9)


@given(levels, sources, st.floats(1e-9, 5.0), halves, hours)
def test_without_uptake_it_is_the_exact_linear_step(
    c0: float, source: float, loss: float, km: float, dt: float
) -> None:
    got = float(step_saturating(c0, source, loss, 0.0, km, dt))
    assert got == pytest.approx(float(exact_step(c0, source, loss, dt)), rel=1e-10, abs=1e-10)


@given(levels, sources, losses, uptakes, halves, hours, st.floats(1e-6, 10.0))
def test_monotone_and_never_below_nought(
    c0: float, source: float, loss: float, uptake: float, km: float, dt: float, more: float
) -> None:
    level = float(step_saturating(c0, source, loss, uptake, km, dt))
    assert level >= 0.0
    slack = 1e-10 * (1.0 + c0 + source * dt)
    assert float(step_saturating(c0 + more, source, loss, uptake, km, dt)) >= level - slack
    assert float(step_saturating(c0, source, loss, uptake + more, km, dt)) <= level + slack


@given(sources, st.floats(0.01, 5.0), uptakes, halves)
def test_steady_level_balances_and_stays(source: float, loss: float, uptake: float, km: float) -> None:
    steady = float(steady_level_saturating(source, loss, uptake, km))
    out = loss * steady + uptake * steady / (km + steady)
    assert out == pytest.approx(source, rel=1e-10, abs=1e-12)
    assert float(step_saturating(steady, source, loss, uptake, km, 9.0)) == pytest.approx(steady, rel=1e-12)


def test_arrays_broadcast() -> None:
    got = step_saturating(np.zeros((3, 1)), 8.0, np.array([0.1, 0.2]), 2.0, 5.0, 1.0)
    assert got.shape == (3, 2)
    assert float(got[2, 1]) == float(step_saturating(0.0, 8.0, 0.2, 2.0, 5.0, 1.0))


@pytest.mark.parametrize(
    ("arguments", "name"),
    [
        ((-1, 1, 0.1, 1, 5, 1), "level"),
        ((1, 1, 0.1, 1, 0.0, 1), "half-saturation"),
        ((1, 1, 0.1, np.nan, 5, 1), "uptake"),
    ],
)
def test_figures_no_tank_has_are_refused(arguments: tuple[float, ...], name: str) -> None:
    with pytest.raises(OutOfRangeError, match=name):
        step_saturating(*arguments)
