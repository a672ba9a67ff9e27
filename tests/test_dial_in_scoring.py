"""The dial-in scorer on a tank whose course is written down: every edge of the contract."""

import math
from collections.abc import Callable
from itertools import pairwise

import pytest

from benchmarks._goal import Goal
from benchmarks._scoring import end_of_play, score
from benchmarks._summary import summarise, whole_report
from benchmarks._watched import Watched
from dawnlevel.errors import BadInputError

DROP = Goal("drop", 1.0, 1.2)
LEVEL = Goal("co2_mg_l", 20.0, 30.0)
ON, OFF = 10.0, 18.0
Course = Callable[[float], float]


class ScriptedTank:
    """A tank on which nothing one does has any effect: drop and level are functions of the hour."""

    def __init__(self, drop: Course, co2_mg_l: Course = lambda _: 20.0, **card: object) -> None:
        self._drop, self._co2, self._now = drop, co2_mg_l, 20.0
        self._card = {"lights_on_h": ON, "lights_off_h": OFF, "co2_limit_mg_l": 30.0} | card

    def card(self) -> dict[str, object]:
        return dict(self._card)

    def clock(self) -> float:
        return self._now

    def wait_until(self, hour: float) -> None:
        assert hour >= self._now - 1e-9
        self._now = hour

    def set_gas(self, bubbles_per_second: float) -> None:
        assert bubbles_per_second >= 0.0

    def read_ph(self) -> float:
        return 6.5

    def read_degassed_ph(self) -> float:
        return 7.6

    def read_cell(self) -> str:
        return "green"

    def watch_fish(self) -> str:
        return "calm"

    def truth(self) -> dict[str, float]:
        drop = self._drop(self._now)
        return {"co2_mg_l": self._co2(self._now), "ph": 7.6 - drop, "drop": drop}


def gas_day(watched: Watched, opens: float = ON - 2.0, closes: float = OFF - 1.0, day: int = 1) -> None:
    watched.wait_until(24.0 * day + opens)
    watched.set_gas(1.0)
    watched.wait_until(24.0 * day + closes)
    watched.set_gas(0.0)


def played(tank: ScriptedTank, goal: Goal = DROP, days: int = 1, **hours: float) -> tuple[bool, bool, bool]:
    """Hit, dialled in and breach of day 1, after one gas day."""
    watched = Watched(tank)
    gas_day(watched, **hours)
    watched.wait_until(end_of_play(tank.card(), days))
    result = score(watched, goal, days)
    return result.hit[0], result.dialled_in[0], result.breach


def step_at(hour: float, before: float, after: float) -> Course:
    return lambda now: after if now >= hour else before


@pytest.mark.parametrize(
    ("drop", "hit"), [(0.979, False), (0.981, True), (1.1, True), (1.219, True), (1.221, False)]
)
def test_a_hit_is_the_band_widened_by_a_fiftieth(drop: float, hit: bool) -> None:
    assert played(ScriptedTank(lambda _: drop))[0] is hit


@pytest.mark.parametrize(
    ("co2", "hit"), [(19.1, False), (19.3, True), (25.0, True), (31.1, True), (31.3, False)]
)
def test_a_hit_by_level_is_the_band_widened_by_four_percent(co2: float, hit: bool) -> None:
    assert played(ScriptedTank(lambda _: math.nan, lambda _: co2), LEVEL)[0] is hit


@pytest.mark.parametrize(("drop", "held"), [(0.949, False), (0.951, True), (1.249, True), (1.251, False)])
def test_held_is_the_band_widened_by_a_twentieth(drop: float, held: bool) -> None:
    tank = ScriptedTank(step_at(24.0 + ON + 0.3, 1.1, drop))
    assert played(tank) == (True, held, False)


@pytest.mark.parametrize(("co2", "held"), [(17.5, False), (17.7, True), (33.5, True), (33.7, False)])
def test_held_by_level_is_the_band_widened_by_an_eighth_or_so(co2: float, held: bool) -> None:
    tank = ScriptedTank(lambda _: math.nan, step_at(24.0 + ON + 0.3, 25.0, co2), co2_limit_mg_l=40.0)
    assert played(tank, LEVEL) == (True, held, False)


def test_what_happens_after_the_gas_has_closed_does_not_count_for_the_hold() -> None:
    tank = ScriptedTank(step_at(24.0 + OFF - 0.9, 1.1, 0.5))
    assert played(tank) == (True, True, False)


def test_a_miss_at_lights_on_is_not_dialled_in_however_well_it_is_held() -> None:
    tank = ScriptedTank(step_at(24.0 + ON + 0.01, 0.96, 1.1))
    assert played(tank) == (False, False, False)


@pytest.mark.parametrize(
    ("closes", "held"),
    [(OFF - 2.6, False), (OFF - 2.5, True), (OFF - 0.5, True), (OFF - 0.4, False), (OFF + 1.0, False)],
)
def test_the_gas_must_close_between_half_an_hour_and_two_and_a_half_before_the_light(
    closes: float, held: bool
) -> None:
    assert played(ScriptedTank(lambda _: 1.1), closes=closes)[1] is held


def test_gas_that_never_opened_or_closed_before_the_light_is_no_hold() -> None:
    watched = Watched(ScriptedTank(lambda _: 1.1))
    watched.wait_until(48.0)
    assert score(watched, DROP, 1).dialled_in == [False]
    assert played(ScriptedTank(lambda _: 1.1), closes=ON - 0.5)[1] is False


def test_with_windows_the_last_closing_counts() -> None:
    watched = Watched(ScriptedTank(lambda _: 1.1, timer_windows=2))
    gas_day(watched, closes=ON + 1.0)
    gas_day(watched, opens=ON + 3.0, closes=OFF - 1.0)
    watched.wait_until(48.0)
    result = score(watched, DROP, 1)
    assert result.dialled_in == [True]
    assert result.rate_changes == [1]


def test_windows_beyond_the_timers_are_hand_work() -> None:
    watched = Watched(ScriptedTank(lambda _: 1.1, timer_windows=2))
    for k in range(4):
        gas_day(watched, opens=ON + 2.0 * k - 1.0, closes=ON + 2.0 * k)
    watched.wait_until(72.0)
    assert score(watched, DROP, 2).rate_changes == [3, 0]  # the first count, and two windows too many


def test_only_a_new_count_is_a_rate_change() -> None:
    watched = Watched(ScriptedTank(lambda _: 1.1))
    for day, rates in ((1, (1.0, 1.0, 1.2)), (2, (1.2,)), (3, (1.0, 1.2))):
        for k, rate in enumerate(rates):
            watched.wait_until(24.0 * day + ON + k)
            watched.set_gas(rate)
        watched.wait_until(24.0 * day + OFF - 1.0)
        watched.set_gas(0.0)
    watched.wait_until(96.0)
    assert score(watched, DROP, 3).rate_changes == [2, 0, 2]


@pytest.mark.parametrize(
    ("drop", "co2", "breach"), [(1.34, 29.9, False), (1.36, 29.9, True), (1.1, 30.1, True)]
)
def test_a_breach_is_the_ceiling_or_a_drop_beyond_the_band(drop: float, co2: float, breach: bool) -> None:
    peak = 24.0 + 3.0  # at night, for one sample

    def once(normal: float, worst: float) -> Course:
        return lambda now: worst if abs(now - peak) < 0.01 else normal

    assert played(ScriptedTank(once(1.1, drop), once(20.0, co2)))[2] is breach


def test_a_drop_is_no_breach_of_a_goal_in_mg_l() -> None:
    assert played(ScriptedTank(lambda _: 1.9, lambda _: 25.0), LEVEL)[2] is False


def test_without_a_baseline_nothing_is_hit() -> None:
    assert played(ScriptedTank(lambda _: math.nan)) == (False, False, False)


def test_a_policy_cannot_skip_a_sample() -> None:
    watched = Watched(ScriptedTank(lambda _: 1.1, lights_on_h=10.03))
    watched.wait_until(30.0)
    watched.wait_until(30.01)
    watched.wait_until(72.0)
    hours = [s.hour for s in watched.samples]
    assert hours == sorted(set(hours))
    assert len(hours) == 52 * 12 + 1 + 2  # every five minutes, both ends, and two lights-on off the marks
    assert max(b - a for a, b in pairwise(hours)) <= 1.0 / 12.0 + 1e-9


def test_the_truth_is_not_for_policies() -> None:
    with pytest.raises(BadInputError):
        Watched(ScriptedTank(lambda _: 1.1)).truth()


def test_readings_are_counted_by_day_and_looks_at_the_fish_are_not() -> None:
    watched = Watched(ScriptedTank(lambda _: 1.1))
    watched.read_degassed_ph()
    watched.wait_until(30.0)
    watched.read_ph()
    watched.read_cell()
    watched.watch_fish()
    watched.wait_until(72.0)
    result = score(watched, DROP, 2)
    assert (result.readings_before, result.readings) == (1, [2, 0])
    assert summarise([result], 2)["readings_per_day"] == 1.5


def test_the_last_interval_of_a_day_is_held_against_the_ph_at_lights_on() -> None:
    watched = Watched(ScriptedTank(step_at(24.0 + ON, 0.5, 1.1)))
    watched.report(1, 6.9, 7.2)
    watched.report(1, 6.4, 6.6)
    watched.report(2, 6.55, 6.6)
    watched.report(9, 6.4, 6.6)
    watched.wait_until(96.0)
    assert score(watched, DROP, 3).forecasts_held == [True, False]


def test_light_over_midnight_belongs_to_the_day_it_begins() -> None:
    tank = ScriptedTank(lambda _: 1.1, lights_on_h=16.0, lights_off_h=1.0)
    assert end_of_play(tank.card(), 1) == 49.0
    assert played(tank, opens=14.0, closes=24.0) == (True, True, False)


def test_a_whole_week_in_figures() -> None:
    watched = Watched(ScriptedTank(step_at(24.0 * 3, 0.5, 1.1)))
    for day in range(1, 8):
        gas_day(watched, day=day)
    watched.wait_until(24.0 * 8)
    report = whole_report([{"a": score(watched, DROP, 7)}], ["a"], 7, 5)
    assert (report["tanks"], report["days"], report["seed"]) == (1, 7, 5)
    figures = report["policies"]["a"]
    assert figures["dialled_in_by_day"] == [0.0, 0.0, 1.0, 1.0, 1.0, 1.0, 1.0]
    assert figures["lights_on_hit_by_day"] == [0.0, 0.0, 1.0, 1.0, 1.0, 1.0, 1.0]
    assert figures["quiet"] == {
        "dialled_in_share": 1.0,
        "readings_per_day": 0.0,
        "rate_changes_per_day": 0.0,
    }
    assert figures["rate_changes_per_day_after_3"] == 0.0
    assert figures["interval_coverage_90"] is None


def test_short_runs_have_no_quiet_days() -> None:
    watched = Watched(ScriptedTank(lambda _: 1.1))
    watched.wait_until(24.0 * 7)
    figures = summarise([score(watched, DROP, 3)], 3)
    assert figures["quiet"] is None
    assert figures["rate_changes_per_day_after_3"] is None


@pytest.mark.parametrize(
    ("text", "goal"), [("drop:1.0-1.2", DROP), ("co2:20-30", LEVEL), ("drop:0.9-1.1", Goal("drop", 0.9, 1.1))]
)
def test_targets_are_read(text: str, goal: Goal) -> None:
    assert Goal.parse(text) == goal


@pytest.mark.parametrize("text", ["", "drop", "drop:1.2", "drop:1.2-1.0", "ph:6-7", "co2:a-b", "co2:0-3"])
def test_targets_that_make_no_sense_are_refused(text: str) -> None:
    with pytest.raises(BadInputError):
        Goal.parse(text)
