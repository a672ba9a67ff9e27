"""The practice tank's contract: members, card, determinism, rounding, and what only the truth knows."""

import copy
import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from dawnlevel.errors import BadInputError
from dawnlevel.practice import PracticeTank, easy, hard, instruments, middle
from dawnlevel.practice.cup import cup_level_mg_l
from dawnlevel.practice.draw import draw_tank
from dawnlevel.practice.levels import MIDDLE
from dawnlevel.practice.recipe import play as play_recipe
from dawnlevel.tank import BaselineMethod, CellColour, Diffuser, FishState, Planting, Surface

FACTORIES: list[Callable[[int], PracticeTank]] = [easy, middle, hard]
CARD_KEYS = {
    "volume_l", "surface_cm2", "depth_cm", "temp_c", "kh_dkh", "kh_step_dkh", "ph_step", "room_co2_ppm",
    "lights_on_h", "lights_off_h", "planting", "surface", "diffuser", "baseline_method", "baseline_hours",
    "co2_limit_mg_l", "first_rate_bps", "reads_per_ramp", "earliest_start_h", "timer_windows",
}  # fmt: skip
NOON_1 = 36.0


def on_steps(value: float, step: float) -> bool:
    return math.isclose(value / step, round(value / step), abs_tol=1e-6)


@pytest.mark.parametrize("factory", FACTORIES)
@pytest.mark.parametrize("seed", range(12))
def test_the_card_is_whole_and_within_reason(factory: Callable[[int], PracticeTank], seed: int) -> None:
    card = factory(seed).card()
    assert set(card) == CARD_KEYS
    assert 30.0 <= card["volume_l"] <= 400.0
    assert abs(card["volume_l"] * 1000.0 / card["surface_cm2"] - card["depth_cm"]) < 0.6  # read to 1 cm
    assert on_steps(card["kh_dkh"], card["kh_step_dkh"])
    assert card["kh_dkh"] > 0.0
    assert 3.0 <= card["lights_on_h"] - card["earliest_start_h"] <= 6.5
    assert 24.0 > card["lights_off_h"] > card["lights_on_h"]
    assert 30.0 <= card["co2_limit_mg_l"] <= 40.0
    assert card["timer_windows"] in {1, 2, 3, 4}
    assert 0.05 <= card["first_rate_bps"] <= 20.0
    assert card["room_co2_ppm"] is None or 400.0 <= card["room_co2_ppm"] <= 2500.0
    Planting(card["planting"]), Surface(card["surface"]), Diffuser(card["diffuser"])
    BaselineMethod(card["baseline_method"])


def test_over_many_seeds_the_draws_cover_what_keepers_have() -> None:
    cards = [draw_tank(seed, MIDDLE)[1] for seed in range(80)]
    for key, kinds in {"planting": Planting, "surface": Surface, "diffuser": Diffuser}.items():
        assert {str(card[key]) for card in cards} == {kind.value for kind in kinds}
    one_window = sum(card["timer_windows"] == 1 for card in cards) / len(cards)
    assert 0.4 < one_window < 0.8  # drawn with 0.6; 80 draws have an sd of 0.055
    assert {card["room_co2_ppm"] is None for card in cards} == {True, False}


@pytest.mark.parametrize("factory", FACTORIES)
def test_the_same_seed_gives_the_same_tank_and_another_seed_another(
    factory: Callable[[int], PracticeTank],
) -> None:
    def course(seed: int) -> list[object]:
        tank = factory(seed)
        seen: list[object] = [tank.read_degassed_ph()]
        for rate, hour in ((1.0, 30.0), (1.3, 33.0), (0.0, 41.5)):
            tank.set_gas(rate)
            tank.wait_until(hour)
            seen += [tank.read_ph(), tank.read_cell(), tank.watch_fish(), tank.truth()["co2_mg_l"]]
        return seen

    assert course(3) == course(3)
    assert course(3) != course(4)


def test_a_copy_has_the_same_future() -> None:
    tank = hard(11)
    tank.read_degassed_ph()
    tank.set_gas(0.8)
    tank.wait_until(30.1)
    twin = copy.deepcopy(tank)
    for one in (tank, twin):
        one.set_gas(1.1)
        one.wait_until(35.0)
    assert tank.truth() == twin.truth()
    assert tank.read_ph() == twin.read_ph()
    twin.wait_until(36.0)
    assert tank.clock() == 35.0


def test_looking_often_does_not_change_the_course() -> None:
    seldom, often = middle(5), middle(5)
    for tank in (seldom, often):
        tank.set_gas(1.0)
    for minute in range(0, 16 * 60 + 1, 5):
        often.wait_until(20.0 + minute / 60.0)
        often.truth()
    seldom.wait_until(NOON_1)
    assert often.truth()["co2_mg_l"] == pytest.approx(seldom.truth()["co2_mg_l"], rel=1e-9)


def test_looking_at_odd_times_hardly_changes_the_course() -> None:
    seldom, often = middle(5), middle(5)
    for tank in (seldom, often):
        tank.set_gas(1.0)
    for k in range(1, 700):
        often.wait_until(20.0 + 16.0 * k / 700.0)
    for tank in (seldom, often):
        tank.wait_until(NOON_1)
    assert often.truth()["co2_mg_l"] == pytest.approx(seldom.truth()["co2_mg_l"], rel=1e-4)


@pytest.mark.parametrize("factory", FACTORIES)
@pytest.mark.parametrize("seed", range(8))
def test_readings_are_rounded_to_the_meters_step_and_near_the_truth(
    factory: Callable[[int], PracticeTank], seed: int
) -> None:
    tank = factory(seed)
    step = float(tank.card()["ph_step"])
    tank.wait_until(25.0)
    readings = [tank.read_ph() for _ in range(40)]
    assert all(on_steps(ph, step) for ph in readings)
    assert on_steps(tank.read_degassed_ph(), step)
    assert float(np.mean(readings)) == pytest.approx(tank.truth()["ph"], abs=0.5 * step + 0.02)


def test_the_recorded_baseline_is_the_mean_of_the_cups() -> None:
    tank = hard(6)
    assert math.isnan(tank.truth()["drop"])
    cups = [tank.read_degassed_ph() for _ in range(3)]
    truth = tank.truth()
    assert truth["drop"] == pytest.approx(sum(cups) / 3.0 - truth["ph"], abs=1e-12)
    assert set(truth) == {"co2_mg_l", "ph", "drop"}


def test_the_timer_opens_again_at_the_same_setting_but_another_count_is_a_new_one() -> None:
    tank = middle(9)
    tank.set_gas(1.0)
    setting = tank._setting
    tank.set_gas(0.0)
    tank.set_gas(1.0)
    assert tank._setting == setting
    tank.set_gas(1.2)
    assert tank._setting != setting


def test_settings_scatter_by_level_and_lean_the_way_the_needle_was_turned() -> None:
    spread = {}
    for factory in (easy, hard):
        tank = factory(3)
        up, down = [], []
        for _ in range(150):
            tank.set_gas(1.2)
            up.append(tank._setting)
            tank.set_gas(0.9)
            down.append(tank._setting)
        spread[factory] = float(np.std(up))
        gas = tank._true.gas
        lean = float(np.mean(up) - np.mean(down))
        assert lean == pytest.approx(gas.hysteresis, abs=4.0 * gas.setting_sd * (2.0 / 150.0) ** 0.5)
    assert spread[hard] > spread[easy]


def test_closing_stops_the_gas_and_more_gas_makes_more_co2() -> None:
    levels = []
    for rate in (0.0, 1.0, 2.0):
        tank = middle(2)
        tank.set_gas(rate)
        tank.wait_until(30.0)
        levels.append(tank.truth()["co2_mg_l"])
        tank.set_gas(0.0)
    assert levels == sorted(levels)
    assert len(set(levels)) == 3


@pytest.mark.parametrize("hour", [19.0, math.nan, math.inf])
def test_time_does_not_run_backwards(hour: float) -> None:
    with pytest.raises(BadInputError):
        middle(1).wait_until(hour)


@pytest.mark.parametrize("rate", [-0.1, math.nan, math.inf])
def test_impossible_counts_are_refused(rate: float) -> None:
    with pytest.raises(BadInputError):
        middle(1).set_gas(rate)


def test_negative_seeds_are_refused() -> None:
    with pytest.raises(BadInputError):
        middle(-1)


def test_the_cell_lags_and_falls_more_slowly_than_it_rises() -> None:
    tank = middle(4)
    made = tank._true.instruments
    assert made.fall_h > made.rise_h
    tank.set_gas(3.0)
    tank.wait_until(25.0)
    assert tank._state.cell_mg_l < tank.truth()["co2_mg_l"]
    peak = tank._state.cell_mg_l
    tank.set_gas(0.0)
    tank.wait_until(47.0)
    assert tank.truth()["co2_mg_l"] < tank._state.cell_mg_l
    assert peak > 0.0


def test_colours_run_from_blue_to_yellow_as_the_cell_fills() -> None:
    made = replace(middle(1)._true.instruments, eye_sd_ph=0.0)
    rng = np.random.default_rng(0)
    seen = [instruments.cell_colour(made, c, 24.0, rng) for c in (3.0, 30.0, 60.0, 200.0)]
    order = list(CellColour)
    places = [order.index(colour) for colour in seen]
    assert places == sorted(places)
    assert places[0] == 0
    assert places[-1] == len(order) - 1


def test_fish_are_calm_at_rest_and_distressed_far_above_the_ceiling() -> None:
    fish = middle(1)._true.fish
    rng = np.random.default_rng(0)
    assert instruments.fish_state(fish, 3.0, 0.0, 30.0, rng) is FishState.CALM
    assert instruments.fish_state(fish, 60.0, 0.0, 30.0, rng) is FishState.DISTRESS
    slow = instruments.fish_state(replace(fish, eye_sd=0.0), 25.0, 0.0, 30.0, rng)
    fast = instruments.fish_state(replace(fish, eye_sd=0.0), 25.0, 60.0, 30.0, rng)
    assert slow is FishState.CALM
    assert fast is not FishState.CALM


def test_a_still_cup_keeps_more_than_a_stirred_one_and_time_helps() -> None:
    true = middle(8)._true

    def left(velocity_per_h: float, hours: float) -> float:
        cup = replace(true.cup, hours=hours)
        return cup_level_mg_l(
            true.water, cup, true.air, filled_mg_l=20.0, until_h=40.0, velocity_per_h=velocity_per_h
        )

    assert left(0.13, 12.0) > left(0.13, 24.0) > left(0.7, 24.0)


def test_a_cup_loses_its_excess_at_the_published_pace() -> None:
    """k = 1 cm/h, 7.5 cm: 34, 20, 4 % of the excess left after 8, 12, 24 h, in water that holds no carbonate
    to speak of (the film model's exponential)."""
    true = easy(1)._true
    air = replace(true.air, low_ppm=420.0, high_ppm=420.0)
    soft = replace(true.water)
    for hours, share in ((8.0, 0.34), (12.0, 0.20), (24.0, 0.04)):
        cup = replace(true.cup, hours=hours, temp_c=22.0)
        found = cup_level_mg_l(soft, cup, air, filled_mg_l=30.0, until_h=30.0, velocity_per_h=1.0 / 7.5)
        assert (found - 0.66) / (30.0 - 0.66) == pytest.approx(share, abs=0.02)


def test_the_recipe_plays_a_week_and_closes_the_gas_every_evening() -> None:
    tank = middle(12)
    play_recipe(tank, {"drop": [1.0, 1.2]}, 7)
    assert tank.clock() > 7 * 24.0 + float(tank.card()["lights_on_h"])
    assert not tank._open


def test_the_recipe_steers_by_kh_for_a_level() -> None:
    tank = easy(1)
    play_recipe(tank, {"co2_mg_l": [15.0, 25.0]}, 2)
    assert tank._baselines == []
