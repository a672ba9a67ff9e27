"""The practice tank's integrator: against scipy's solver, the carbon balance and closed forms."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from dawnlevel.chemistry import air_co2_mg_l
from dawnlevel.chemistry.schmidt import schmidt_co2
from dawnlevel.practice import dynamics
from dawnlevel.practice.draw import draw_tank
from dawnlevel.practice.levels import EASY, HARD, MIDDLE, Level
from dawnlevel.practice.truth import TrueTank, Wander

STILL = Wander(12.0, (1.0, 1.0))


def run(tank: TrueTank, state: dynamics.State, until_h: float, aim_bps: float) -> None:
    """Step along the grid."""
    first = round(state.hour * dynamics.GRID_PER_H)
    for node in range(first + 1, round(until_h * dynamics.GRID_PER_H) + 1):
        dynamics.advance(tank, state, node / dynamics.GRID_PER_H, aim_bps)


def at_rest(tank: TrueTank, hour: float, co2_mg_l: float) -> dynamics.State:
    """Both zones and the cell at one level, no flow."""
    excess = tank.water.excess(co2_mg_l)
    return dynamics.State(hour, excess, excess, 0.0, co2_mg_l)


@pytest.mark.parametrize("level", [EASY, MIDDLE, HARD])
@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_a_gas_day_agrees_with_an_adaptive_solver(seed: int, level: Level) -> None:
    tank, _ = draw_tank(seed, level)
    opens, closes = 24.0 + tank.light.on_h - 2.0, 24.0 + tank.light.off_h - 1.0
    rate = dynamics.steady_rate_bps(tank, 12.0)
    state = at_rest(tank, opens, 2.0)
    begin = [state.open_mg_l, state.slow_mg_l]

    def right_side(hour: float, y: np.ndarray) -> tuple[float, float]:
        flow = rate * (1.0 - np.exp(-(hour - opens) / tank.gas.opening_h))
        return dynamics.slopes(tank, hour, float(y[0]), float(y[1]), float(flow))

    looks = np.arange(np.ceil(opens + 0.1), closes)
    exact = solve_ivp(
        right_side, (opens, closes), begin, "DOP853", t_eval=looks, rtol=1e-9, atol=1e-9, max_step=0.02
    )
    for hour, expected in zip(looks, exact.y.T, strict=True):
        run(tank, state, float(hour), rate)
        assert [state.open_mg_l, state.slow_mg_l] == pytest.approx(expected, abs=2e-3)


@pytest.mark.parametrize("seed", range(6))
def test_mixing_between_zones_conserves_carbon(seed: int) -> None:
    drawn, _ = draw_tank(seed, HARD)
    closed = replace(
        drawn,
        air=replace(drawn.air, kla_per_h=0.0),
        life=replace(drawn.life, uptake_mg_l_h=0.0, respiration_mg_l_h=0.0),
    )
    state = at_rest(closed, 24.0, 5.0)
    state.open_mg_l = closed.water.excess(25.0)
    slow = closed.zones.slow_share

    def whole() -> float:
        return (1.0 - slow) * state.open_mg_l + slow * state.slow_mg_l

    before = whole()
    run(closed, state, 40.0, 0.0)
    assert whole() == pytest.approx(before, rel=1e-12)
    assert state.open_mg_l == pytest.approx(state.slow_mg_l, abs=1e-3)


def test_what_comes_in_is_what_is_there_more() -> None:
    """Gas, uptake and respiration, integrated on their own, account for the change of carbon."""
    drawn, _ = draw_tank(5, MIDDLE)
    tank = replace(drawn, air=replace(drawn.air, kla_per_h=0.0), gas=replace(drawn.gas, opening_h=1e-6))
    state = at_rest(tank, 24.0 + tank.light.on_h - 2.0, 4.0)
    slow, km = tank.zones.slow_share, tank.life.half_saturation_mg_l
    plants = tank.zones.slow_plant_share
    state.flow_bps = 0.5  # the gas has been open for a while
    start, begins = (1.0 - slow) * state.open_mg_l + slow * state.slow_mg_l, state.hour
    rates, hours = [], []

    def net() -> float:
        open_c, slow_c = tank.water.co2(state.open_mg_l), tank.water.co2(state.slow_mg_l)
        eaten = (1.0 - plants) * open_c / (open_c + km) + plants * slow_c / (slow_c + km)
        light = tank.life.uptake_mg_l_h * tank.life.vigour.at(state.hour) * tank.light.share(state.hour)
        return dynamics.gas_mg_l_h(tank, 0.5, open_c) + tank.life.respiration_mg_l_h - light * eaten

    while state.hour < begins + 1.99:  # before the lamp: every rate is smooth
        hours.append(state.hour)
        rates.append(net())
        dynamics.advance(tank, state, state.hour + 1.0 / 48.0, 0.5)
    hours.append(state.hour)
    rates.append(net())
    gained = (1.0 - slow) * state.open_mg_l + slow * state.slow_mg_l - start
    assert gained == pytest.approx(float(np.trapezoid(rates, hours)), rel=1e-4)


def test_an_empty_tank_loses_its_gas_exponentially() -> None:
    """Well above equilibrium in soft water carbon moves as CO2 does, so the level decays as exp(-kLa t)."""
    drawn, _ = draw_tank(2, EASY)
    bare = replace(
        drawn,
        life=replace(drawn.life, uptake_mg_l_h=0.0, respiration_mg_l_h=0.0),
        air=replace(drawn.air, swing_c=0.0, surface=STILL, kla_per_h=0.2),
        zones=replace(drawn.zones, slow_share=0.01, slow_surface_share=0.01, slow_plant_share=0.0),
    )
    state = at_rest(bare, 24.0, 60.0)
    air = dynamics.air_level_mg_l(bare.air, 26.0, bare.air.mean_c)
    run(bare, state, 28.0, 0.0)
    expected = air + (60.0 - air) * np.exp(-0.2 * 4.0)
    assert bare.water.co2(state.open_mg_l) == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize("seed", range(5))
def test_warm_water_exchanges_faster_as_the_schmidt_number_says(seed: int) -> None:
    tank, _ = draw_tank(seed, HARD)
    air = tank.air
    ratio = float(schmidt_co2(air.mean_c + 2.0)) / float(schmidt_co2(air.mean_c))
    factor = np.exp(2.0 * air.kla_per_k)
    assert ratio**-0.5 - 0.01 <= factor <= ratio**-0.67 + 0.01


@pytest.mark.parametrize("seed", range(5))
def test_air_equilibrium_follows_temperature_and_room(seed: int) -> None:
    air = draw_tank(seed, HARD)[0].air
    for at_c in (air.mean_c - 1.0, air.mean_c + 1.0):
        expected = float(air_co2_mg_l(at_c, air.high_ppm))
        assert dynamics.air_level_mg_l(air, air.high_at_h, at_c) == pytest.approx(expected, rel=2e-3)
    hours = np.arange(0.0, 24.0, 0.25)
    ppm = [dynamics.room_ppm(air, float(h)) for h in hours]
    assert min(ppm) >= air.low_ppm - 1e-9
    assert max(ppm) <= air.high_ppm + 1e-9


@pytest.mark.parametrize("seed", range(5))
def test_temperature_comes_back_after_a_day_and_swings_no_more_than_the_lamp_heats(seed: int) -> None:
    tank, _ = draw_tank(seed, HARD)
    day = [dynamics.temp_c(tank, 24.0 + h / 4.0) for h in range(96)]
    again = [dynamics.temp_c(tank, 48.0 + h / 4.0) for h in range(96)]
    assert day == pytest.approx(again, abs=1e-9)
    assert 0.0 < max(day) - min(day) <= tank.air.swing_c
    assert np.abs(np.diff(day)).max() < tank.air.swing_c / 4.0


@pytest.mark.parametrize("co2_mg_l", [8.0, 20.0])
def test_the_steady_rate_holds_the_level_at_noon(co2_mg_l: float) -> None:
    drawn, _ = draw_tank(7, EASY)
    tank = replace(
        drawn,
        air=replace(drawn.air, swing_c=0.0, surface=STILL),
        life=replace(drawn.life, vigour=STILL),
        zones=replace(drawn.zones, slow_share=0.01, slow_surface_share=0.01, slow_plant_share=0.01),
    )
    rate = dynamics.steady_rate_bps(tank, co2_mg_l)
    excess = tank.water.excess(co2_mg_l)
    noon = 24.0 + 0.5 * (tank.light.on_h + tank.light.off_h)
    open_slope, slow_slope = dynamics.slopes(tank, noon, excess, excess, rate)
    assert 0.99 * open_slope + 0.01 * slow_slope == pytest.approx(0.0, abs=1e-9)
