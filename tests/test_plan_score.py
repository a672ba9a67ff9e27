"""The judge of schedules, on levels made by hand: edges of the band, slack, breaches, who looks when."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnlevel.plan.future import Hours
from dawnlevel.plan.goal import BREACH_DROP, CEILING_RISK, HIT_SLACK, HOLD_SLACK, Goal
from dawnlevel.plan.score import Verdict, judge
from dawnlevel.tank import TargetKind
from tests.estimate_worlds import cup, kit, make_tank, when
from tests.plan_worlds import Floats, no_luck, told

N = 8
POSTERIOR = told(make_tank(), [cup(0.5), kit(0.5)], when(8.0), N)
HOURS = Hours(np.linspace(0.0, 10.0, 11), np.ones(10), np.zeros(10))
ON_H, CLOSE_H = 3.0, 8.0
BAND = Goal(TargetKind.CO2, math.log10(20.0), math.log10(30.0), 40.0, 0.0)


def _judged(
    levels: Floats,
    goal: Goal = BAND,
    *,
    on_h: float = ON_H,
    close_h: float = CLOSE_H,
    blind_h: tuple[float, float] = (0.0, math.inf),
) -> Verdict:
    """The verdict on one schedule whose levels at the edges are the same in every draw, or (S+1, n)."""
    drawn = levels if levels.ndim == 2 else np.repeat(levels[:, None], N, axis=1)
    return judge(
        POSTERIOR,
        goal,
        no_luck(POSTERIOR),
        HOURS,
        drawn[:, None, :],
        on_h,
        np.array([close_h]),
        (np.array([blind_h[0]]), np.array([blind_h[1]])),
    )


def _flat(level: float, **at: float) -> Floats:
    """`level` throughout but for single hours, given as h3=21."""
    levels = np.full(11, level)
    for name, value in at.items():
        levels[int(name[1:])] = value
    return levels


def _off(log_units: float, end: float) -> float:
    """A level `log_units` beyond `end` [mg/L]."""
    return float(end * 10.0**log_units)


@pytest.mark.parametrize(
    ("level", "hit"),
    [
        (25.0, 1.0),
        (20.0, 1.0),
        (30.0, 1.0),
        (_off(-0.95 * HIT_SLACK, 20.0), 1.0),
        (_off(-1.05 * HIT_SLACK, 20.0), 0.0),
        (_off(0.95 * HIT_SLACK, 30.0), 1.0),
        (_off(1.05 * HIT_SLACK, 30.0), 0.0),
    ],
)
def test_a_hit_is_the_band_at_lights_on_and_its_slack(level: float, hit: float) -> None:
    found = _judged(_flat(25.0, h3=level))
    assert found.hit[0] == hit
    assert found.held[0] == hit  # inside the wider slack for holding


@pytest.mark.parametrize(
    ("level", "held"),
    [
        (_off(-0.95 * HOLD_SLACK, 20.0), 1.0),
        (_off(-1.05 * HOLD_SLACK, 20.0), 0.0),
        (_off(0.95 * HOLD_SLACK, 30.0), 1.0),
        (_off(1.05 * HOLD_SLACK, 30.0), 0.0),
    ],
)
@pytest.mark.parametrize("hour", ["h4", "h6", "h8"])
def test_holding_is_every_hour_until_the_gas_closes(level: float, held: float, hour: str) -> None:
    found = _judged(_flat(25.0, **{hour: level}))
    assert found.hit[0] == 1.0
    assert found.held[0] == held


@pytest.mark.parametrize("hour", ["h0", "h2", "h9", "h10"])
def test_before_lights_on_and_after_the_gas_closes_nothing_is_held(hour: str) -> None:
    assert _judged(_flat(25.0, **{hour: 3.0})).held[0] == 1.0


def test_once_lights_on_is_past_only_holding_counts() -> None:
    found = _judged(_flat(25.0, h0=_off(-0.9 * HOLD_SLACK, 20.0)), on_h=-1.0)
    assert math.isnan(found.hit[0])
    assert found.held[0] == 1.0
    assert _judged(_flat(25.0, h0=15.0), on_h=-1.0).held[0] == 0.0


def test_chances_are_shares_of_the_draws() -> None:
    levels = np.full((11, N), 25.0)
    levels[3, :2] = 10.0
    levels[6, 2:5] = 10.0
    levels[9, 5:6] = 50.0
    found = _judged(levels)
    assert (found.hit[0], found.held[0], found.breach[0]) == (6 / N, 3 / N, 1 / N)


@pytest.mark.parametrize("hour", ["h0", "h3", "h9", "h10"])
def test_the_ceiling_counts_at_every_hour(hour: str) -> None:
    assert _judged(_flat(25.0, **{hour: 40.01})).breach[0] == 1.0
    assert _judged(_flat(25.0, **{hour: 39.99})).breach[0] == 0.0


def test_a_breach_after_somebody_has_looked_does_not_count() -> None:
    levels = _flat(25.0, h6=45.0)
    assert _judged(levels, blind_h=(0.0, 5.5)).breach[0] == 0.0
    assert _judged(levels, blind_h=(0.0, 6.0)).breach[0] == 1.0


def test_what_was_over_the_ceiling_before_the_day_begins_is_not_its_doing() -> None:
    levels = _flat(25.0, h0=45.0, h1=42.0)
    assert _judged(levels, blind_h=(2.0, math.inf)).breach[0] == 0.0
    assert _judged(levels, blind_h=(1.0, math.inf)).breach[0] == 1.0


def test_far_above_a_drop_band_is_a_breach_below_the_ceiling_too() -> None:
    level = np.full((1, N), 20.0)
    drop = Goal(TargetKind.DROP, 0.0, 1.0, 60.0, 7.5)
    reached = float(drop.quantity(POSTERIOR, level)[0, 0])
    for above, breach in ((0.99 * BREACH_DROP, 0.0), (1.01 * BREACH_DROP, 1.0)):
        goal = replace(drop, low=reached - above - 0.2, high=reached - above)
        assert _judged(_flat(5.0, h9=20.0), goal).breach[0] == breach


def test_a_drop_and_its_level_are_judged_alike() -> None:
    """The same levels against a drop band, and against that band in mg/L: hit and held agree."""
    drop = Goal(TargetKind.DROP, 0.9, 1.1, 60.0, 7.6)
    for level in np.linspace(5.0, 50.0, 40):
        quantity = float(drop.quantity(POSTERIOR, np.full((1, N), level))[0, 0])
        expected = drop.low - HIT_SLACK <= quantity <= drop.high + HIT_SLACK
        assert _judged(_flat(float(level)), drop).hit[0] == float(expected)


@given(st.floats(15.0, 45.0), st.floats(15.0, 45.0))
def test_held_needs_the_hit_and_chances_stay_chances(first: float, second: float) -> None:
    found = _judged(_flat(first, h5=second))
    assert found.held[0] <= found.hit[0]
    for chance in (found.hit, found.held, found.breach):
        assert 0.0 <= chance[0] <= 1.0
    assert np.isfinite(found.worth[0])


def test_worth_prefers_the_middle_and_falls_with_risk() -> None:
    in_middle, at_edge, far = (float(_judged(_flat(x)).worth[0]) for x in (math.sqrt(600.0), 20.0, 10.0))
    assert in_middle > at_edge > far
    risky = np.full((11, 100), 25.0)
    bounds = POSTERIOR.size / 100
    assert bounds < 1.0
    risky = np.full((11, N), 25.0)
    risky[9, 0] = 45.0  # one draw in eight is far above the bound
    assert 1.0 / N > CEILING_RISK
    assert float(_judged(risky).worth[0]) < float(_judged(_flat(25.0)).worth[0]) - 0.5


def test_where_every_schedule_breaches_the_lower_one_is_worth_more() -> None:
    """The level is over the ceiling now; a plan that drives it on must not win by its hold alone."""
    goal = replace(BAND, low=math.log10(45.0), high=math.log10(65.0))
    falling, rising = _flat(43.0), _flat(43.0)
    falling[1:], rising[1:] = 12.0, 76.0
    over = _judged(falling, goal), _judged(rising, goal)
    assert [float(one.breach[0]) for one in over] == [1.0, 1.0]
    assert over[0].worth[0] > over[1].worth[0]


@pytest.mark.parametrize(("level", "held"), [(25.0, 1.0), (12.0, 0.0)])
@pytest.mark.parametrize("kind", list(TargetKind))
def test_gas_that_closes_before_the_lights_is_judged_by_lights_on(
    kind: TargetKind, level: float, held: float
) -> None:
    """A night timer leaves no hour to hold: the level at lights-on counts, and all figures stay numbers."""
    goal = BAND if kind is TargetKind.CO2 else Goal(kind, -9.0, 9.0, 40.0, 0.0)
    with np.errstate(all="raise"):
        found = _judged(_flat(level), goal, close_h=1.0)
    assert np.isfinite(found.worth).all()
    assert found.held == found.hit == (held if kind is TargetKind.CO2 else 1.0)
