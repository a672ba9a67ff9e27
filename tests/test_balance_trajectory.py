"""The chained steps of balance/trajectory.py against scipy's adaptive solver and exact identities.

The oracle is scipy.integrate.solve_ivp (DOP853, rtol 1e-10) on the plain equation
dC/dt = source - loss C - light U C/(Km + C), restarted at every edge; Km = 5 mg/L.
"""

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest
from scipy.integrate import solve_ivp

from dawnlevel.balance.trajectory import Steps, cell_levels, levels

Floats = npt.NDArray[np.float64]

KM_MG_L = 5.0
GAS_H, LIGHT_H, WATER_CHANGE_H = (7.5, 18.5), (10.0, 18.0), 12.0


def _day(edges_h: Floats, draws: int, seed: int) -> tuple[Floats, Steps, Floats]:
    """Start levels, steps and uptakes of a gas day: gas, light, a 40 % water change under light."""
    rng = np.random.default_rng(seed)
    middle = 0.5 * (edges_h[1:] + edges_h[:-1])
    gas = ((middle > GAS_H[0]) & (middle < GAS_H[1])).astype(float)[:, None]
    light = ((middle > LIGHT_H[0]) & (middle < LIGHT_H[1])).astype(float)
    replaced = np.where(np.isclose(edges_h[:-1], WATER_CHANGE_H), 0.4, 0.0)
    kla = rng.uniform(0.03, 0.8, draws)
    injected = kla * rng.uniform(10.0, 40.0, draws)  # would settle at 10 to 40 mg/L without plants
    fresh = rng.uniform(0.5, 1.5, draws)
    steps = Steps(
        dt_h=np.diff(edges_h),
        source_mg_l_h=gas * injected + kla * fresh + 0.12,
        loss_per_h=kla + gas * injected * rng.uniform(0.0, 0.01, draws),
        light=light,
        replaced=replaced,
        fresh_mg_l=fresh,
    )
    return rng.uniform(1.0, 10.0, draws), steps, rng.uniform(0.0, 5.0, draws)


def _hourly() -> Floats:
    """Edges as the estimator makes them: events, and hourly under light."""
    return np.array([0.0, 7.5, *np.arange(10.0, 18.5, 1.0), 18.5, 24.0])


def _solved(start: Floats, steps: Steps, uptake: Floats) -> Floats:
    """The same by the adaptive solver, all draws as one system, shape (S+1, B)."""
    out = [start]
    for i, dt in enumerate(steps.dt_h):
        before = out[-1] * (1.0 - steps.replaced[i]) + steps.replaced[i] * steps.fresh_mg_l

        def slope(_t: float, c: Floats, i: int = i) -> Floats:
            taken = steps.light[i] * uptake * c / (KM_MG_L + c)
            return np.asarray(steps.source_mg_l_h[i] - steps.loss_per_h[i] * c - taken)

        found = solve_ivp(slope, (0.0, dt), before, method="DOP853", rtol=1e-10, atol=1e-12)
        out.append(found.y[:, -1])
    return np.array(out)


def test_a_lit_day_with_hourly_steps_stays_within_the_stated_error() -> None:
    """0.05 mg/L, the figure of the module, for uptakes up to 5 mg/L/h (of a dense tank's prior, 94 %)."""
    start, steps, uptake = _day(_hourly(), 200, seed=1)
    exact = _solved(start, steps, uptake)
    assert exact.max() > 30.0
    assert exact.min() < 2.0
    assert np.abs(levels(start, steps, uptake, KM_MG_L) - exact).max() < 0.05


def test_halving_the_lit_steps_divides_the_error_by_four() -> None:
    """The linearised uptake is a second-order scheme; an error elsewhere would not shrink so.

    Without the water change: its step is linearised about the level before the change, a first-order
    error that stays within the stated one.
    """
    errors = []
    for step in (1.0, 0.5, 0.25):
        edges = np.array([0.0, 7.5, *np.arange(10.0, 18.0 + 1e-9, step), 18.5, 24.0])
        start, steps, uptake = _day(edges, 60, seed=2)
        steps = replace(steps, replaced=np.zeros_like(steps.replaced))
        got = levels(start, steps, uptake, KM_MG_L, passes=6)
        errors.append(np.abs(got - _solved(start, steps, uptake)).max())
    assert errors[0] / errors[1] == pytest.approx(4.0, rel=0.25)
    assert errors[1] / errors[2] == pytest.approx(4.0, rel=0.25)


def test_a_guess_at_the_answer_needs_no_further_pass() -> None:
    start, steps, uptake = _day(_hourly(), 60, seed=3)
    settled = levels(start, steps, uptake, KM_MG_L, passes=8)
    again = levels(start, steps, uptake, KM_MG_L, guess_mg_l=settled, passes=1)
    assert np.abs(again - settled).max() < 1e-6


@pytest.mark.parametrize("case", ["dark", "no uptake", "constant uptake"])
def test_the_linear_cases_are_exact(case: str) -> None:
    """Without saturating uptake one step is the exact solution, whatever its length: 1e-9 mg/L."""
    edges = np.array([0.0, 7.5, 10.0, 12.0, 18.0, 18.5, 24.0])
    start, steps, uptake = _day(edges, 40, seed=4)
    half_saturation = KM_MG_L
    if case == "dark":
        steps = replace(steps, light=np.zeros(edges.size - 1))
    elif case == "no uptake":
        uptake = np.zeros(40)
    else:
        half_saturation, uptake = 0.0, np.full(40, 0.1)
    exact = _by_formula(start, steps, uptake if case == "constant uptake" else 0.0 * uptake)
    assert np.abs(levels(start, steps, uptake, half_saturation) - exact).max() < 1e-9


def _by_formula(start: Floats, steps: Steps, constant_uptake: Floats) -> Floats:
    """C = C* + (C0 - C*) exp(-k dt), C* = s/k, step after step."""
    out = [start]
    for i, dt in enumerate(steps.dt_h):
        before = out[-1] * (1.0 - steps.replaced[i]) + steps.replaced[i] * steps.fresh_mg_l
        steady = (steps.source_mg_l_h[i] - steps.light[i] * constant_uptake) / steps.loss_per_h[i]
        out.append(steady + (before - steady) * np.exp(-steps.loss_per_h[i] * dt))
    return np.array(out)


def test_without_any_loss_the_level_rises_in_a_straight_line() -> None:
    """k -> 0: C = C0 + s t, to rounding; kept out of 0/0 by its own branch."""
    dt = np.array([0.5, 2.0, 7.0])
    for loss in (0.0, 1e-13, 1e-9):
        steps = Steps(dt, np.full((3, 2), 4.0), np.full((3, 2), loss), np.zeros(3), np.zeros(3), np.ones(2))
        got = levels(np.array([1.0, 2.0]), steps, np.zeros(2), KM_MG_L)
        line = np.array([1.0, 2.0]) + 4.0 * np.array([0.0, 0.5, 2.5, 9.5])[:, None]
        assert np.abs(got - line).max() < 1e-9 + 200.0 * loss * 9.5  # the loss itself takes 380 k t at most


def test_mass_balance_closes_over_the_day() -> None:
    """Added - lost - taken up + brought by new water = change, integrals by fine quadrature: 0.002 mg/L."""
    edges = np.unique(np.concatenate((_hourly(), np.arange(0.0, 24.0, 1.0 / 60.0))))
    start, steps, uptake = _day(edges, 30, seed=5)
    level = levels(start, steps, uptake, KM_MG_L, passes=6)
    swapped = steps.replaced[:, None] * (steps.fresh_mg_l - level[:-1])
    after = level[:-1] + swapped
    middle = 0.5 * (after + level[1:])  # curvature over a minute is negligible
    dt = steps.dt_h[:, None]
    taken = steps.light[:, None] * uptake * middle / (KM_MG_L + middle)
    flow = (steps.source_mg_l_h - steps.loss_per_h * middle - taken) * dt
    assert np.abs((flow + swapped).sum(axis=0) - (level[-1] - level[0])).max() < 2e-3


def test_a_steady_tank_stays_steady_and_more_gas_gives_more() -> None:
    start, steps, uptake = _day(_hourly(), 30, seed=6)
    base = levels(start, steps, uptake, KM_MG_L)
    more = replace(steps, source_mg_l_h=steps.source_mg_l_h * 1.1)
    assert np.all(levels(start, more, uptake, KM_MG_L)[1:] > base[1:])
    still = replace(
        steps,
        source_mg_l_h=steps.loss_per_h * start,
        light=np.zeros_like(steps.light),
        replaced=np.zeros_like(steps.light),
    )
    assert np.abs(levels(start, still, uptake, KM_MG_L) - start).max() < 1e-9


def test_the_cell_follows_a_steady_tank_exactly() -> None:
    """After a jump of the tank the cell closes in as exp(-t/lag), with its own lag either way."""
    dt = np.array([0.5, 1.0, 3.0, 2.0])
    passed = np.concatenate(([0.0], np.cumsum(dt)))[:, None]
    rise, fall = np.array([1.5, 3.0]), np.array([2.5, 6.0])
    for high, lag in ((30.0, rise), (2.0, fall)):
        # The first step carries the jump: the tank's mean over it is half-way.
        tank = np.full((5, 2), high)
        tank[0] = 10.0
        got = cell_levels(tank, dt, rise, fall)
        first = 10.0 + (0.5 * (high + 10.0) - 10.0) * -np.expm1(-dt[0] / lag)
        exact = high + (first - high) * np.exp(-(passed[1:] - dt[0]) / lag)
        assert np.abs(got[1:] - exact).max() < 1e-9


def test_the_cell_follows_a_gas_day_within_the_stated_error() -> None:
    """Hourly steps against the adaptive solver, the tank linear between edges, lag by the sign of the gap."""
    rng = np.random.default_rng(8)
    hours = np.arange(0.0, 25.0)
    knots = np.array([2.0, 2.0, 25.0, 28.0, 8.0, 4.0])
    tank = np.interp(hours, [0.0, 8.0, 11.0, 18.0, 22.0, 24.0], knots)[:, None] * rng.uniform(0.6, 1.4, 12)
    rise = rng.uniform(0.8, 6.0, 12)
    fall = rise * rng.uniform(1.0, 2.2, 12)
    got = cell_levels(tank, np.diff(hours), rise, fall)
    for b in range(12):

        def slope(t: float, y: Floats, b: int = b) -> Floats:
            gap = np.interp(t, hours, tank[:, b]) - y
            return np.asarray(gap / np.where(gap >= 0, rise[b], fall[b]))

        exact = solve_ivp(
            slope, (0.0, 24.0), [tank[0, b]], t_eval=hours, rtol=1e-9, atol=1e-9, max_step=0.25
        ).y[0]
        error = np.abs(got[:, b] - exact)
        assert error.max() < 0.02 * tank[:, b].max(), f"draw {b}: {error.max():.3f}"
