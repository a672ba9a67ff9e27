"""The hours ahead against an adaptive solver, and what luck may and may not touch."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from dawnlevel.estimate.posterior import Posterior
from dawnlevel.estimate.priors import HALF_SATURATION_MG_L
from dawnlevel.plan.day import levels_ahead
from dawnlevel.plan.future import Chances, Gas, Hours, chances, simulate
from dawnlevel.plan.horizon import Horizon, horizon
from dawnlevel.plan.schedule import Schedule
from dawnlevel.tank import RateSetting
from tests.estimate_worlds import cup, gas_days, in_order, make_tank, when
from tests.plan_worlds import Floats, no_luck, told

TANK = make_tank()
RECORDS = in_order([cup(0.5), RateSetting(at=when(0.6), bubbles_per_second=1.5)])
NOW = when(8.0)

SOLVER_MG_L = 0.05
"""Linearised uptake in steps of a quarter hour against the solver: the bound the balance states for its steps
of an hour (docstring of balance.trajectory)."""


def _known(n: int = 1, spread: float = 0.0, **values: float) -> Posterior:
    usual = {"kla_per_h": 0.12, "gain_mg_l_h_per_bps": 4.0, "uptake_mg_l_h": 2.0, "gain_fade": 0.15}
    return told(TANK, RECORDS, NOW, n, spread, **(usual | values))


def _ahead() -> Horizon:
    return horizon(TANK, RECORDS, NOW, of_today=True)


def _luck(later: float = 0.0, drift: float = 0.0, new: float = 0.0) -> Chances:
    return Chances(np.array([new]), np.array([later]), np.array([drift]), np.zeros(1), np.zeros(1))


def _solved(posterior: Posterior, hours: Hours, rate_at: list[tuple[float, float, float]]) -> Floats:
    """Levels at the edges by an adaptive solver; `rate_at`: (from, to, injected gain times rate)."""
    unknowns = posterior.unknowns
    kla, air, fade, uptake, breath = (
        float(value[0])
        for value in (
            unknowns["kla_per_h"],
            unknowns.air_co2_mg_l,
            unknowns["gain_fade"],
            unknowns["uptake_mg_l_h"],
            unknowns["respiration_mg_l_h"],
        )
    )

    def slope(_hour: float, level: Floats, gas: float, light: float) -> Floats:
        taken = light * uptake * level / (level + HALF_SATURATION_MG_L)
        return gas * (1.0 - fade * level / 30.0) + kla * (air - level) + breath - taken

    out = [float(posterior.levels[-1, 0])]
    for left, right, light in zip(hours.edges_h, hours.edges_h[1:], hours.light, strict=False):
        middle = 0.5 * (left + right)
        gas = sum(value for begin, end, value in rate_at if begin <= middle < end)
        run = solve_ivp(slope, (left, right), [out[-1]], args=(gas, light), rtol=1e-9, atol=1e-9)
        out.append(float(run.y[0, -1]))
    return np.array(out)


def test_one_schedule_agrees_with_an_adaptive_solver() -> None:
    known, ahead = _known(), _ahead()
    schedule = Schedule(((1.0, 3.5), (5.0, 11.0)), 2.0, is_new=True)
    found = levels_ahead(known, no_luck(known), ahead, [schedule])[:, 0, 0]
    gain = float(known.unknowns["gain_mg_l_h_per_bps"][0]) * 2.0
    expected = _solved(known, ahead.hours, [(1.0, 3.5, gain), (5.0, 11.0, gain)])
    assert expected.max() > 15.0
    np.testing.assert_allclose(found, expected, atol=SOLVER_MG_L)


def test_a_second_setting_of_the_needle_takes_over_at_its_hour_with_its_own_error() -> None:
    known, ahead = _known(), _ahead()
    schedule = Schedule(((1.0, 11.0),), 2.4, is_new=True, later=(4.0, 1.4))
    luck = _luck(later=-0.2, new=0.1)
    found = levels_ahead(known, luck, ahead, [schedule])[:, 0, 0]
    gain = float(known.unknowns["gain_mg_l_h_per_bps"][0])
    expected = _solved(
        known,
        ahead.hours,
        [(1.0, 4.0, gain * 2.4 * np.exp(0.1)), (4.0, 11.0, gain * 1.4 * np.exp(-0.2))],
    )
    np.testing.assert_allclose(found, expected, atol=SOLVER_MG_L)


def test_schedules_do_not_touch_each_other() -> None:
    known, ahead = _known(8, 0.3), _ahead()
    luck = chances(known, np.random.default_rng(3))
    schedules = [
        Schedule(((1.0, 10.0),), 1.5, is_new=False),
        Schedule(((2.0, 10.0),), 2.0, is_new=True, later=(4.0, 1.0)),
        Schedule(((0.5, 3.0), (6.0, 9.0)), 3.0, is_new=True),
    ]
    together = levels_ahead(known, luck, ahead, schedules)
    for position, schedule in enumerate(schedules):
        alone = levels_ahead(known, luck, ahead, [schedule])[:, 0]
        np.testing.assert_allclose(together[:, position], alone, rtol=1e-12)


def test_drift_into_the_next_day_touches_no_step_of_this_one() -> None:
    known = _known()
    edges = np.linspace(0.0, 8.0, 33)
    hours = Hours(edges, np.zeros(32), (edges[1:] > 4.0).astype(np.float64))
    gas = Gas(np.ones((32, 1)), np.array([1.5]), np.array([False]), np.zeros(1), None)
    plain, drifted = (simulate(known, _luck(drift=d), hours, gas)[:, 0, 0] for d in (0.0, 0.3))
    np.testing.assert_array_equal(plain[:17], drifted[:17])
    gain = float(known.unknowns["gain_mg_l_h_per_bps"][0]) * 1.5
    expected = _solved(known, hours, [(0.0, 4.0, gain), (4.0, 9.0, gain * np.exp(0.3))])
    np.testing.assert_allclose(drifted, expected, rtol=1e-5)  # plans are worked out in single precision


def test_with_no_gas_and_no_light_the_level_goes_to_where_the_air_and_breath_hold_it() -> None:
    known = _known(16, 0.5, start_mg_l=25.0)
    hours = Hours(np.linspace(0.0, 400.0, 101), np.zeros(100), np.zeros(100))
    shut = Gas(np.zeros((100, 1)), np.array([3.0]), np.array([False]), np.zeros(1), None)
    found = simulate(known, no_luck(known), hours, shut)[-1, 0]
    unknowns = known.unknowns
    balance = unknowns.air_co2_mg_l + unknowns["respiration_mg_l_h"] / unknowns["kla_per_h"]
    np.testing.assert_allclose(found, balance, rtol=1e-3)


def test_no_rate_is_no_gas() -> None:
    known, ahead = _known(4, 0.3), _ahead()
    nought = Schedule(((1.0, 11.0),), 0.0, is_new=False)
    never = Schedule(((0.0, 0.0),), 2.0, is_new=False)
    both = levels_ahead(known, no_luck(known), ahead, [nought, never])
    np.testing.assert_array_equal(both[:, 0], both[:, 1])


@pytest.mark.parametrize("size", [1, 7])
def test_gas_of_the_day_before_flows_until_its_timer_closes_it(size: int) -> None:
    """Planned at 14:00 or at 18:30, the day after begins from the same level: nothing new is known."""
    records = in_order([cup(0.5), *gas_days(1, ())])
    schedule_opens, found = when(33.5), []
    for hour in (14.0, 18.5):
        known = told(
            TANK, records, when(hour), size, 0.3 if size > 1 else 0.0, kla_per_h=0.08, gain_mg_l_h_per_bps=4.0
        )
        ahead = horizon(TANK, records, when(hour), of_today=False)
        opens = (schedule_opens - when(hour)).total_seconds() / 3600.0
        level = levels_ahead(
            known, no_luck(known), ahead, [Schedule(((opens, opens + 8.0),), 1.5, is_new=False)]
        )
        found.append(level[int(np.argmin(np.abs(ahead.hours.edges_h - opens))), 0])
    np.testing.assert_allclose(found[0], found[1], atol=SOLVER_MG_L)


def test_a_needle_set_this_very_moment_has_an_error_of_its_own() -> None:
    """Its flow is as unsure as any new setting's, although no step of the past has seen it."""
    before = told(TANK, RECORDS, NOW, 400, 1.0)
    just = told(TANK, [*RECORDS, RateSetting(at=NOW, bubbles_per_second=2.5)], NOW, 400, 1.0)
    assert just.unknowns.setting_log.shape[0] == before.unknowns.setting_log.shape[0] + 1


def test_the_same_luck_for_fewer_draws() -> None:
    known = _known(12, 0.2)
    luck = chances(known, np.random.default_rng(0))
    few = luck.subset(slice(0, 12, 3))
    np.testing.assert_array_equal(few.new_setting_log, luck.new_setting_log[::3])
    np.testing.assert_array_equal(few.ahead_ph, luck.ahead_ph[::3])
