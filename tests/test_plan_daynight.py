"""Oxygen and CO2 through day and night, against an adaptive solver and figures worked out by hand."""

from dataclasses import replace

import numpy as np
import pytest
from estimate_worlds import DAY_0, gas_days, make_tank, when
from plan_worlds import told
from scipy.integrate import solve_ivp

from dawnlevel.balance.oxygen import Breath, oxygen_levels
from dawnlevel.chemistry import oxygen_saturation_mg_l
from dawnlevel.plan.daynight import (
    co2_ahead,
    covered,
    flow_for_same_level,
    moved,
    oxygen_ahead,
    script_ahead,
    waters,
)
from dawnlevel.tank import AnimalKind, Animals

TANK = make_tank(temp_c=25.0, animals=(Animals(AnimalKind.FISH, 50, 1.0),))
RECORDS = gas_days(1, ())
NOW = when(26.0)  # two in the night; gas 9:30-18:30, lights 12:00-20:00, UTC
POSTERIOR = told(TANK, RECORDS, NOW, n=32, spread=0.4, kla_per_h=0.15, uptake_mg_l_h=1.5)
SCRIPT, WINDOWS = script_ahead(TANK, RECORDS, NOW)
WATER = waters(POSTERIOR, 1.5, np.random.default_rng(3))


def test_the_script_is_timer_and_lights_from_now_on() -> None:
    assert WINDOWS == ((7.5, 16.5), (31.5, 40.5), (55.5, 60.0))
    hours = float(SCRIPT.light @ SCRIPT.dt_h), float(SCRIPT.flow @ SCRIPT.dt_h)
    assert hours == pytest.approx((18.0, 22.5), abs=1e-6)
    assert DAY_0 < NOW
    assert covered(np.array([0.0, 1.0, 2.0]), [(0.5, 1.25), (0.5, 1.25)]) == pytest.approx([1.0, 0.5])


@pytest.mark.parametrize("draw", [0, 7, 31])
def test_both_gases_meet_an_adaptive_solver(draw: int) -> None:
    """dC/dt and dO/dt solved together by scipy (Radau, 1e-8), bubbles as production that stops at the cap."""
    co2 = co2_ahead(WATER, SCRIPT)
    oxygen = oxygen_ahead(WATER, SCRIPT, co2)
    one = {
        name: float(getattr(WATER, name)[draw])
        for name in (
            "kla_per_h",
            "air_mg_l",
            "uptake_mg_l_h",
            "made_mg_l_h",
            "gas_mg_l_h",
            "fade",
            "start_mg_l",
        )
    }
    air = WATER.breath
    k, made, dark, taken, cap = (
        float(v[draw])
        for v in (air.kla_per_h, air.made_per_co2, air.dark_mg_l_h, air.taken_mg_l_h, air.cap_mg_l)
    )

    def slopes(hour: float, levels: np.ndarray) -> list[float]:
        c, o = levels
        gas = one["gas_mg_l_h"] * any(a <= hour < b for a, b in WINDOWS)
        light = float((hour + 2.0) % 24.0 >= 12.0 and (hour + 2.0) % 24.0 < 20.0)
        up = light * one["uptake_mg_l_h"] * c / (c + 5.0)
        out = one["kla_per_h"] * (c - one["air_mg_l"]) + up
        dc = gas * (1 - one["fade"] * c / 30.0) + one["made_mg_l_h"] - out
        do = k * (air.saturation_mg_l - o) + made * up - taken - dark * (1.0 - light)
        return [dc, min(do, 0.0) if o >= cap else do]

    times = SCRIPT.edges_h[:400:20]
    found = solve_ivp(slopes, (0.0, 40.0), [one["start_mg_l"], air.saturation_mg_l], t_eval=times,
                      rtol=1e-6, atol=1e-8, max_step=0.05)  # fmt: skip
    assert co2[:400:20, draw] == pytest.approx(found.y[0], abs=0.06)
    assert oxygen[:400:20, draw] == pytest.approx(found.y[1], abs=0.06)


def test_the_night_deficit_is_respiration_over_exchange() -> None:
    """R 0.5 mg/L/h: 5, 2.5, 1.2 mg/L below saturation at kLa 0.1, 0.2, 0.4 (computed by hand: R/kLa)."""
    kla = np.array([0.1, 0.2, 0.4])
    nought = np.zeros(3)
    air = Breath(kla, 8.26, np.ones(3), nought, nought + 0.5, np.full(3, 12.0))
    many = np.full(2000, 0.1)
    dark = oxygen_levels(np.full(3, 8.26), air, many, 0.0 * many, np.zeros((2000, 3)), 1.0 + 0.0 * many)
    assert 8.26 - dark[-1] == pytest.approx([5.0, 2.5, 1.25], rel=1e-3)


def test_water_without_life_comes_to_balance_with_the_air_and_never_passes_the_cap() -> None:
    nought = np.zeros(1)
    air = Breath(nought + 0.3, 8.26, nought + 0.8, nought, nought, nought + 11.0)
    many = np.full(600, 0.1)
    still = oxygen_levels(nought + 2.0, air, many, many, np.zeros((600, 1)), np.ones(600))
    assert still[-1] == pytest.approx(float(oxygen_saturation_mg_l(25.0)), abs=0.01)  # 8.26, APHA table
    lit = oxygen_levels(nought + 8.0, air, many, np.ones(600), np.full((600, 1), 5.0), np.ones(600))
    assert lit.max() == 11.0


def test_more_movement_gives_the_night_more_oxygen_and_needs_more_gas() -> None:
    nights, flows = [], []
    start = float(np.median(co2_ahead(WATER, SCRIPT)[SCRIPT.edge(34.0)]))
    for factor in (1.0, 2.0, 3.0):
        script = moved(SCRIPT, factor)
        oxygen = oxygen_ahead(WATER, script, co2_ahead(WATER, script))
        nights.append(float(np.median(oxygen[SCRIPT.edge(24.0) : SCRIPT.edge(34.0)].min(axis=0))))
        flows.append(flow_for_same_level(WATER, script, 34.0, start))
    assert nights == sorted(nights)
    assert flows[0] == pytest.approx(1.0, abs=1e-3)
    assert flows[1] > 1.2
    assert flows[2] > flows[1]


def test_the_air_of_a_new_water_change_is_mixed_in() -> None:
    replaced = SCRIPT.replaced.copy()
    replaced[10] = 0.5
    co2 = co2_ahead(WATER, replace(SCRIPT, replaced=replaced))
    before = co2_ahead(WATER, SCRIPT)
    assert co2[10] == pytest.approx(before[10])
    half = 0.5 * (before[10] + WATER.air_mg_l)
    assert co2[11] == pytest.approx(half, abs=0.2)
