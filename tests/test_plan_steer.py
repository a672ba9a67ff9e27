"""Raise, hold or lower: what the ramp's advice does on tanks whose future is known."""

import numpy as np
import pytest

from dawnlevel.estimate.posterior import Posterior
from dawnlevel.plan.assess import assess, present_rate
from dawnlevel.plan.future import chances
from dawnlevel.plan.goal import CEILING_RISK, goal
from dawnlevel.plan.horizon import horizon
from dawnlevel.plan.schedule import Schedule
from dawnlevel.plan.steer import Action, Steering, lights_on_forecast, steer
from dawnlevel.tank import GasSwitch, RateSetting, Record, Tank, Target, TargetKind
from tests.estimate_worlds import cup, drawn_records, gas_days, in_order, kit, make_tank, when
from tests.plan_worlds import told

BAND = Target(kind=TargetKind.CO2, low=20.0, high=26.0)
TANK = make_tank(target=BAND, co2_limit_mg_l=40.0)
RATE = 1.5
RECORDS = in_order([cup(0.5), *gas_days(1, (), RATE)])
NOW = when(11.0)
QUICK = {"kla_per_h": 0.6, "uptake_mg_l_h": 0.5, "gain_fade": 1e-3, "respiration_mg_l_h": 0.1}


def _known(level: float, spread: float = 0.02, now_h: float = 11.0) -> Posterior:
    """A tank whose level at lights-on and after would be near `level` at the present count.

    Exchange is quick (0.6 per hour), so after 2.5 h of ramp the level is most of the way there.
    """
    balance = 0.6 * (level - 1.0) + 0.5 * level / (level + 5.0) - 0.1
    return told(TANK, RECORDS, when(now_h), 128, spread, gain_mg_l_h_per_bps=balance / RATE, **QUICK)


def _steered(
    known: Posterior,
    *,
    tank: Tank = TANK,
    records: list[Record] = RECORDS,
    now_h: float = 11.0,
    settled: bool = False,
) -> Steering | None:
    ahead = horizon(tank, records, when(now_h), of_today=True)
    band = goal(tank.target, known, tank.co2_limit_mg_l)
    return steer(known, band, chances(known, np.random.default_rng(2)), ahead, RATE, settled=settled)


@pytest.mark.parametrize("settled", [False, True])
@pytest.mark.parametrize(
    ("level", "action"),
    [(15.0, Action.RAISE), (18.0, Action.RAISE), (34.0, Action.LOWER), (50.0, Action.LOWER)],
)
def test_a_level_that_will_miss_is_steered_towards_the_band(
    level: float, action: Action, *, settled: bool
) -> None:
    found = _steered(_known(level, now_h=10.5), now_h=10.5, settled=settled)
    assert found is not None
    assert found.action is action
    assert found.held > found.held_if_left + 0.08
    assert 0.1 * RATE <= found.schedule.rate_bps <= 2.0 * RATE + 0.025


@pytest.mark.parametrize("settled", [False, True])
@pytest.mark.parametrize("now_h", [13.0, 15.0])
def test_a_level_that_holds_is_left_alone(now_h: float, *, settled: bool) -> None:
    found = _steered(_known(23.0, now_h=now_h), now_h=now_h, settled=settled)
    assert found is not None
    assert found.action is Action.HOLD
    assert found.schedule.rate_bps == RATE
    assert not found.schedule.is_new
    assert found.held > 0.9


def test_lowering_takes_the_breach_away() -> None:
    found = _steered(_known(50.0))
    assert found is not None
    assert found.breach_if_left > 0.9
    assert found.breach <= CEILING_RISK


def test_a_settled_hand_moves_only_for_more() -> None:
    """Whatever moves a settled hand moves an unsettled one too, not the other way round."""
    moved = []
    for level in np.linspace(15.0, 32.0, 18):
        one, other = (_steered(_known(float(level), 0.3), settled=settled) for settled in (True, False))
        assert one is not None
        assert other is not None
        moved.append((one.action is not Action.HOLD, other.schedule.is_new or other.schedule.later))
        assert not moved[-1][0] or moved[-1][1]
    assert sum(a for a, _ in moved) < sum(bool(b) for _, b in moved)


def test_only_while_tuned_and_before_the_lights_two_changes_are_asked_for() -> None:
    slow = told(TANK, RECORDS, NOW, 128, 0.02, kla_per_h=0.06, gain_mg_l_h_per_bps=4.0, uptake_mg_l_h=0.5)
    tuned, settled = _steered(slow), _steered(slow, settled=True)
    assert tuned is not None
    assert settled is not None
    assert tuned.schedule.later is not None
    at, then = tuned.schedule.later
    assert at == pytest.approx(1.0)  # lights-on
    assert then < tuned.schedule.rate_bps
    assert settled.schedule.later is None
    lit = told(TANK, RECORDS, when(13.0), 128, 0.02, kla_per_h=0.06, gain_mg_l_h_per_bps=4.0)
    after = _steered(lit, now_h=13.0)
    assert after is not None
    assert after.schedule.later is None


def test_without_gas_to_come_there_is_nothing_to_steer() -> None:
    known = _known(23.0)
    assert _steered(known, records=[]) is None
    closed = [*RECORDS, GasSwitch(at=when(15.0), is_open=False)]
    assert _steered(_known(23.0, now_h=16.0), records=in_order(closed), now_h=16.0) is None


def test_the_gas_closes_within_the_allowed_hours_or_as_the_timer_has_it() -> None:
    for level in (10.0, 23.0, 50.0):
        found = _steered(_known(level))
        assert found is not None
        assert found.closes_moved == (abs(found.schedule.close_h - 7.5) > 1e-6)
        assert 6.5 - 1e-6 <= found.schedule.close_h <= 8.5 + 1e-6  # 17:30 to 19:30


def test_the_forecast_of_lights_on_is_the_level_the_balance_has_by_then() -> None:
    known = _known(23.0, spread=0.0)
    ahead = horizon(TANK, RECORDS, NOW, of_today=True)
    luck = chances(known, np.random.default_rng(2)).subset(slice(0, 128))
    band = goal(TANK.target, known, 40.0)
    found = lights_on_forecast(known, band, luck, ahead, Schedule(ahead.standing, RATE, is_new=False))
    assert found is not None
    later = told(TANK, RECORDS, when(12.0), 128, 0.0, gain_mg_l_h_per_bps=_gain(known), **QUICK)
    assert found.co2_mg_l.median == pytest.approx(float(later.levels[-1, 0]), abs=0.05)
    # the quantity also carries what a mixed balance misses ahead: sd 0.012 over 128 draws
    assert found.quantity.median == pytest.approx(np.log10(found.co2_mg_l.median), abs=0.004)
    past = horizon(TANK, RECORDS, when(12.5), of_today=True)
    schedule = Schedule(past.standing, RATE, is_new=False)
    assert lights_on_forecast(known, band, luck, past, schedule) is None


def _gain(known: Posterior) -> float:
    return float(known.unknowns["gain_mg_l_h_per_bps"][0])


@pytest.mark.parametrize("seed", range(4))
def test_from_records_alone_the_advice_goes_the_way_the_truth_lies(seed: int) -> None:
    """Four readings in the ramp; the true level at lights-on, untouched, is far from the band."""
    tank = make_tank(target=BAND, co2_limit_mg_l=40.0, kh_step_dkh=0.25)
    template = in_order([kit(0.5), cup(0.5), *gas_days(2, (10.0, 10.6, 11.2, 11.6), RATE)])
    template = [r for r in template if r.at <= when(24.0 + 11.6)]
    for gain, action in ((1.2, Action.RAISE), (30.0, Action.LOWER)):
        truth = told(tank, template, when(24.0 + 11.6), 1, 0.0, gain_mg_l_h_per_bps=gain, kla_per_h=0.2)
        rng = np.random.default_rng(seed)
        records, _, _ = drawn_records(tank, template, when(24.0 + 11.6), rng, truth.draws.z)
        found = assess(tank, records, when(24.0 + 11.6), np.random.default_rng(0))
        assert found.steering is not None
        assert found.steering.action is action


def test_the_present_count_is_the_last_one_that_flowed() -> None:
    counts: list[Record] = [
        RateSetting(at=when(hour), bubbles_per_second=count) for hour, count in ((1.0, 1.2), (2.0, 0.0))
    ]
    assert present_rate(TANK, []) == TANK.first_rate_bps
    assert present_rate(TANK, counts) == 1.2
