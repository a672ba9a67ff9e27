"""The day's schedule: steps of the needle, first acquaintance, pulses, what is out of reach."""

from dataclasses import replace

import numpy as np
import pytest

from dawnlevel.estimate.posterior import Posterior
from dawnlevel.plan.assess import assess, plan_next_day
from dawnlevel.plan.day import DayPlan, plan_day
from dawnlevel.plan.future import chances
from dawnlevel.plan.goal import CEILING_RISK, goal
from dawnlevel.plan.horizon import Horizon, horizon
from dawnlevel.plan.reach import out_of_reach
from dawnlevel.plan.schedule import open_share
from dawnlevel.tank import Diffuser, RateSetting, Surface, Tank, Target, TargetKind
from tests.estimate_worlds import cup, in_order, kit, make_tank, when
from tests.plan_worlds import told

EYE_STEP = 0.025
"""Half of the coarsest step an eye can count [bubbles/s]: rounding may pass a bound by so much."""

CO2_BAND = Target(kind=TargetKind.CO2, low=20.0, high=26.0)
NOW = when(1.0)
SET = in_order([cup(0.5), RateSetting(at=when(0.6), bubbles_per_second=1.5)])


def _planned(
    tank: Tank, known: Posterior, rate: float = 1.5, *, settled: bool = False
) -> tuple[Horizon, DayPlan]:
    ahead = horizon(tank, SET, NOW, of_today=False)
    band = goal(tank.target, known, tank.co2_limit_mg_l)
    luck = chances(known, np.random.default_rng(5))
    return ahead, plan_day(known, band, luck, ahead, rate, settled=settled)


def _known(tank: Tank, spread: float = 0.1, **values: float) -> Posterior:
    usual = {"kla_per_h": 0.2, "gain_mg_l_h_per_bps": 4.0, "uptake_mg_l_h": 1.0, "gain_fade": 0.1}
    return told(tank, SET, NOW, 96, spread, **(usual | values))


def _tank(**changes: object) -> Tank:
    return make_tank(target=CO2_BAND, co2_limit_mg_l=40.0, **changes)


@pytest.mark.parametrize("settled", [False, True])
@pytest.mark.parametrize("windows", [1, 4])
@pytest.mark.parametrize("gain", [0.4, 2.0, 4.0, 20.0])
def test_a_day_s_plan_keeps_to_the_hours_and_steps_allowed(
    gain: float, windows: int, *, settled: bool
) -> None:
    tank = _tank(timer_windows=windows)
    ahead, plan = _planned(tank, _known(tank, gain_mg_l_h_per_bps=gain), settled=settled)
    schedule = plan.schedule
    assert len(schedule.windows_h) <= windows
    flat = [edge for window in schedule.windows_h for edge in window]
    assert flat == sorted(flat)
    assert schedule.start_h >= ahead.earliest_h - 1e-6
    assert ahead.close_span_h[0] - 1e-6 <= schedule.close_h <= ahead.close_span_h[1] + 1e-6
    assert 0.75 - EYE_STEP <= schedule.rate_bps <= 3.0 + EYE_STEP
    assert schedule.is_new or schedule.rate_bps == 1.5
    for chance in (plan.hit, plan.held, plan.breach):
        assert 0.0 <= chance <= 1.0
    assert plan.held <= plan.hit


EARLY = {"earliest_start_h": 2.0}
QUICK = {"kla_per_h": 0.35, "gain_fade": 1e-3, "respiration_mg_l_h": 0.12}


def _balance_mg_l_h(known: Posterior, level: float) -> float:
    """What the gas must bring to hold `level` [mg/L]: kLa (C - Cair) + uptake C/(C + 5) - breath."""
    air = float(np.median(known.unknowns.air_co2_mg_l))
    return 0.35 * (level - air) + 1.0 * level / (level + 5.0) - 0.12


@pytest.mark.parametrize("gain", [3.4, 4.0, 7.0, 10.0])
def test_the_rate_goes_where_the_balance_asks(gain: float) -> None:
    """With hours to rise in, the rate that holds the band is the only one that both hits and holds it."""
    tank = _tank(**EARLY)
    known = _known(tank, 0.02, gain_mg_l_h_per_bps=gain, **QUICK)
    _, plan = _planned(tank, known)
    low, high = (_balance_mg_l_h(known, level) / gain for level in (20.0, 26.0))
    assert 0.95 * low <= plan.schedule.rate_bps <= 1.05 * high
    assert plan.held > 0.8


def test_the_needle_of_a_settled_tank_that_holds_is_left_alone() -> None:
    tank = _tank(**EARLY)
    gain = _balance_mg_l_h(_known(tank), 23.0) / 1.5
    _, plan = _planned(tank, _known(tank, 0.02, gain_mg_l_h_per_bps=gain, **QUICK), settled=True)
    assert plan.held > 0.9
    assert not plan.schedule.is_new


@pytest.mark.parametrize("first_bps", [0.3, 1.0, 4.0])
@pytest.mark.parametrize("volume_l", [30.0, 120.0, 400.0])
def test_a_first_acquaintance_is_bolder_but_bounded(first_bps: float, volume_l: float) -> None:
    tank = make_tank(first_rate_bps=first_bps, volume_l=volume_l, target=Target())
    records = [cup(0.5), kit(0.6)]
    found = assess(tank, records, NOW, np.random.default_rng(0))
    _, plan = plan_next_day(found, tank, records, NOW)
    assert plan.schedule.is_new
    assert (
        0.25 * first_bps - EYE_STEP <= plan.schedule.rate_bps <= 2.8 * first_bps + 0.125 + EYE_STEP
    )  # steps of 0.25 above 6


@pytest.mark.parametrize("volume_l", [30.0, 120.0, 400.0])
def test_the_first_day_is_moderate(volume_l: float) -> None:
    """Up to half way into the first ramp, before its readings, the ceiling is kept as on any other day."""
    tank = make_tank(volume_l=volume_l, first_rate_bps=volume_l / 80.0)
    records = [cup(0.5), kit(0.6)]
    found = assess(tank, records, NOW, np.random.default_rng(0))
    _, plan = plan_next_day(found, tank, records, NOW)
    assert plan.breach <= CEILING_RISK


def test_with_slow_exchange_pulses_beat_one_window_and_are_used() -> None:
    """What must rise by 20 mg/L in three hours is lost at 5 % an hour: one rate cannot do both."""
    slow = {"kla_per_h": 0.05, "uptake_mg_l_h": 0.3, "gain_mg_l_h_per_bps": 8.0}
    one, many = _tank(earliest_start_h=9.0), _tank(earliest_start_h=9.0, timer_windows=6)
    single = _planned(one, _known(one, 0.05, **slow))[1]
    ahead, pulsing = _planned(many, _known(many, 0.05, **slow))
    assert len(pulsing.schedule.windows_h) > 1
    assert pulsing.held > single.held + 0.2
    share = open_share(ahead.hours.edges_h, [pulsing.schedule])[:, 0]
    lit = ahead.hours.middle_h > ahead.lights_on_h + 1.0
    assert share[lit].mean() < 0.5 < share[(ahead.hours.middle_h < ahead.lights_on_h) & (share > 0)].mean()


def test_more_windows_never_make_a_plan_worse() -> None:
    """One window is among the choices of a timer that can switch oftener."""
    for kla in (0.05, 0.15, 0.4):
        one, many = _tank(), _tank(timer_windows=4)
        single = _planned(one, _known(one, kla_per_h=kla))[1]
        assert _planned(many, _known(many, kla_per_h=kla))[1].worth >= single.worth - 0.02


def _why(tank: Tank, rate: float = 1.5, **values: float) -> tuple[str, tuple[str, ...], DayPlan]:
    known = _known(tank, 0.05, **values)
    _, plan = _planned(tank, known, rate)
    why, helps = out_of_reach(known, goal(tank.target, known, tank.co2_limit_mg_l), plan)
    return why, helps, plan


def test_a_band_in_reach_is_not_called_out_of_reach() -> None:
    why, helps, plan = _why(_tank())
    assert (why, helps) == ("", ())
    assert plan.held >= 0.5


def test_gas_lost_as_fast_as_it_comes_is_said_with_what_helps() -> None:
    tank = _tank(surface=Surface.STRONG, diffuser=Diffuser.COARSE)
    why, helps, plan = _why(tank, kla_per_h=0.9, gain_mg_l_h_per_bps=1.0)
    assert plan.held < 0.1
    assert "0.90 per hour" in why
    assert any("surface" in one for one in helps)
    assert any("diffuser" in one for one in helps)


def test_exchange_too_slow_for_one_needle_is_said_with_what_helps() -> None:
    narrow = Target(kind=TargetKind.CO2, low=20.0, high=22.0)
    tank = replace(_tank(earliest_start_h=9.0), co2_limit_mg_l=60.0, target=narrow)
    why, helps, _ = _why(tank, 3.3, kla_per_h=0.04, uptake_mg_l_h=0.2, gain_mg_l_h_per_bps=2.0)
    assert "slow" in why
    assert any("earlier" in one for one in helps)
    assert any("windows" in one for one in helps)


def test_a_lead_too_short_for_the_gain_is_said_with_what_helps() -> None:
    tank = _tank(earliest_start_h=11.0)
    why, helps, plan = _why(tank, 1.0, kla_per_h=0.2, gain_mg_l_h_per_bps=2.0)
    assert plan.held < 0.1
    assert why
    assert any("earlier gas start" in one for one in helps)


def test_a_band_at_the_ceiling_is_said_to_be_too_near_it() -> None:
    tank = replace(_tank(), target=Target(kind=TargetKind.CO2, low=37.0, high=41.0))
    why, helps, plan = _why(tank)
    assert plan.held < 0.5
    if plan.breach > CEILING_RISK:
        assert "ceiling of 40 mg/L" in why
        assert helps
