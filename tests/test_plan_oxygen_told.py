"""Oxygen readings in the forecast: tanks of known truth, their nights integrated apart, must lie inside."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from estimate_worlds import Floats, gas_days, in_order, make_tank, when
from plan_worlds import told
from scipy.integrate import solve_ivp

from dawnlevel.chemistry import oxygen_saturation_mg_l
from dawnlevel.plan.daynight import DAY_H, Waters, co2_ahead, oxygen_ahead, script_ahead, waters
from dawnlevel.plan.oxygen_told import oxygen_told, read_mg_l
from dawnlevel.tank import AnimalKind, Animals, OxygenReading, Record

TANK = make_tank(temp_c=25.0, animals=(Animals(AnimalKind.FISH, 50, 1.0),))
PLAIN: list[Record] = gas_days(4, ())
NOW = when(4 * 24.0 + 2.0)
POSTERIOR = told(TANK, PLAIN, NOW, n=128, spread=0.5, kla_per_h=0.2, uptake_mg_l_h=1.5)
SCRIPT, _ = script_ahead(TANK, PLAIN, NOW)
DAY = slice(SCRIPT.edge(DAY_H), SCRIPT.edge(2 * DAY_H) + 1)


def lowest(water: Waters) -> Floats:
    return np.asarray(oxygen_ahead(water, SCRIPT, co2_ahead(water, SCRIPT))[DAY].min(axis=0))


def true_nights(draw: int, seed: int) -> tuple[Floats, float]:
    """One possible tank lived apart: its oxygen at 05:00 and 11:30 of each day, and the least of the day.

    The exchange, plants and animals of a draw that the estimate never sees, integrated by scipy (LSODA) over
    four days from saturation.
    """
    water = waters(POSTERIOR, 1.5, np.random.default_rng(seed))
    air = water.breath
    k, made, dark, taken, cap = (
        float(one[draw])
        for one in (air.kla_per_h, air.made_per_co2, air.dark_mg_l_h, air.taken_mg_l_h, air.cap_mg_l)
    )
    kc, up, own, gas, fade, balance = (
        float(one[draw])
        for one in (
            *(water.kla_per_h, water.uptake_mg_l_h, water.made_mg_l_h),
            *(water.gas_mg_l_h, water.fade, water.air_mg_l),
        )
    )

    def slopes(hour: float, state: Floats) -> list[float]:
        c, o = state
        clock = hour % 24.0
        light, is_open = float(12.0 <= clock < 20.0), float(9.5 <= clock < 18.5)
        taken_up = light * up * c / (c + 5.0)
        dc = is_open * gas * (1.0 - fade * c / 30.0) + own - kc * (c - balance) - taken_up
        do = k * (air.saturation_mg_l - o) + made * taken_up - taken - dark * (1.0 - light)
        return [dc, min(do, 0.0) if o >= cap else do]

    hours = np.arange(0.0, 96.0, 0.25)
    found = solve_ivp(slopes, (0.0, 96.0), [3.0, air.saturation_mg_l], t_eval=hours, max_step=0.25)
    oxygen = found.y[1]
    looks = [oxygen[np.argmin(np.abs(hours - hour))] for hour in (72.0 + 5.0, 72.0 + 11.5)]
    return np.array(looks), float(oxygen[hours >= 72.0].min())


def reading(hour_h: float, mg_l: float, error_mg_l: float = 0.3) -> OxygenReading:
    return OxygenReading(at=when(hour_h), oxygen_mg_l=max(float(mg_l), 0.0), error_mg_l=error_mg_l)


def test_the_night_minimum_is_tightened_and_holds_the_truth() -> None:
    """40 tanks, two readings each, off by 0.3 mg/L: nine in ten inside, the error and the spread shrink."""
    rng = np.random.default_rng(21)
    bare = lowest(waters(POSTERIOR, 1.5, np.random.default_rng(1)))
    inside, off, spread = 0, [], []
    for number in range(40):
        looks, truth = true_nights(int(rng.integers(POSTERIOR.size)), 700 + number)
        shown = looks + 0.3 * rng.standard_normal(2)
        records = in_order([*PLAIN, reading(77.0, shown[0]), reading(83.5, shown[1])])
        told_ = oxygen_told(POSTERIOR, records, 1.5, np.random.default_rng(2))
        found = lowest(told_.water)
        low, high = np.quantile(found, (0.05, 0.95))
        inside += low <= truth <= high
        off.append((bare.mean() - truth, found.mean() - truth))
        spread.append(found.std())
    errors = np.sqrt(np.mean(np.square(off), axis=0))
    assert inside >= 32  # 36 expected; fewer than 32 in 1 of 25 honest runs
    assert errors[1] < 0.6 * errors[0]
    assert abs(np.mean(off, axis=0)[1]) < 3.0 * errors[1] / 40**0.5 + 0.1
    assert np.mean(spread) < 0.7 * bare.std()


def test_without_readings_nothing_changes() -> None:
    found = oxygen_told(POSTERIOR, PLAIN, 1.5, np.random.default_rng(4))
    assert lowest(found.water) == pytest.approx(lowest(waters(POSTERIOR, 1.5, np.random.default_rng(4))))
    assert not found.counted


def test_an_old_reading_counts_less_and_then_no_more() -> None:
    def spread(days: float) -> float:
        first = reading(5.0, 6.0)
        past = replace(first, at=NOW - timedelta(days=days) + timedelta(hours=3.0))
        return float(lowest(oxygen_told(POSTERIOR, [past], 1.5, np.random.default_rng(5)).water).std())

    fresh, old, gone = spread(1.0), spread(25.0), spread(35.0)
    assert fresh < old < gone
    assert gone == pytest.approx(lowest(waters(POSTERIOR, 1.5, np.random.default_rng(5))).std())


def test_percent_count_from_what_the_air_gives() -> None:
    """APHA table: 8.26 mg/L at 25 degC and 1 atm, 7.41 at 0.90 atm; 9.09 at 20 degC."""
    half = OxygenReading(at=NOW, saturation_percent=50.0)
    assert read_mg_l(half, TANK, 1.0) == pytest.approx(4.13, abs=0.01)
    assert read_mg_l(half, TANK, 0.9) == pytest.approx(3.705, abs=0.01)
    assert read_mg_l(replace(half, pressure_hpa=0.9 * 1013.25), TANK, 1.0) == pytest.approx(3.705, abs=0.01)
    assert read_mg_l(replace(half, temp_c=20.0), TANK, 1.0) == pytest.approx(4.545, abs=0.01)
    assert read_mg_l(replace(half, oxygen_mg_l=7.0), TANK, 1.0) == 7.0  # shown in both: mg/L needs no table
    assert float(oxygen_saturation_mg_l(25.0)) == pytest.approx(8.26, abs=0.01)


def test_a_slip_does_not_take_over() -> None:
    """Four readings agree, a fifth says 0.5: the night stays near the four."""
    right = [reading(hour, 6.8) for hour in (53.0, 59.5, 77.0, 83.5)]
    without = lowest(oxygen_told(POSTERIOR, right, 1.5, np.random.default_rng(6)).water)
    slipped = in_order([*right, reading(80.0, 0.5)])
    found = lowest(oxygen_told(POSTERIOR, slipped, 1.5, np.random.default_rng(6)).water)
    assert np.median(found) == pytest.approx(np.median(without), abs=0.4)
