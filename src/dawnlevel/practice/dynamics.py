"""How a practice tank moves: two zones, fourth-order Runge-Kutta on a fixed grid of 2.5 minutes.

Steps always end on the grid, whatever the player asks for in between, so the course of a tank hardly
depends on how often it is looked at, and the lamp's kinks (on quarter hours) fall on the grid's nodes.
"""

from dataclasses import dataclass
from math import cos, exp, log, pi

from dawnlevel.practice.truth import Air, TrueTank

GRID_PER_H = 24
"""Nodes an hour; the fastest exchange (about 12 an hour) then moves half its way in a step."""


@dataclass(slots=True)
class State:
    """What moves: hour [h], carbon excess of both zones [mg/L as CO2], flow [1/s], the cell's CO2 [mg/L]."""

    hour: float
    open_mg_l: float
    slow_mg_l: float
    flow_bps: float
    cell_mg_l: float


def temp_c(tank: TrueTank, hour: float) -> float:
    """Water temperature [degC] at `hour` [h]: the lamp's heat through a first-order lag, day after day."""
    air, light = tank.air, tank.light
    length = light.off_h - light.on_h
    rate = 1.0 / air.warming_h
    warmest = (1.0 - exp(-rate * length)) / (1.0 - exp(-24.0 * rate))
    since_on = (hour - light.on_h) % 24.0
    if since_on < length:
        coolest = warmest * exp(-rate * (24.0 - length))
        share = 1.0 - (1.0 - coolest) * exp(-rate * since_on)
    else:
        share = warmest * exp(-rate * (since_on - length))
    return air.mean_c + air.swing_c * (share - 0.5)


def room_ppm(air: Air, hour: float) -> float:
    """CO2 in the room [ppm] at `hour` [h], a smooth hump once a day."""
    hump: float = 0.5 + 0.5 * cos(2.0 * pi * (hour - air.high_at_h) / 24.0)
    return air.low_ppm + (air.high_ppm - air.low_ppm) * hump * hump


def air_level_mg_l(air: Air, hour: float, at_c: float) -> float:
    """CO2 [mg/L] in equilibrium with the room at `hour` [h] and `at_c` [degC]."""
    return air.air_mg_l_per_ppm * room_ppm(air, hour) * exp(air.air_per_k * (at_c - air.mean_c))


def gas_mg_l_h(tank: TrueTank, flow_bps: float, co2_mg_l: float) -> float:
    """What dissolves of `flow_bps` [1/s] into water of `co2_mg_l` [mg/L], over the whole tank [mg/L/h]."""
    gas = tank.gas
    if flow_bps < 1e-6:
        return 0.0
    crowded: float = (flow_bps / gas.usual_bps) ** -gas.crowding
    return gas.gain_mg_l_h_per_bps * flow_bps * crowded / (1.0 + gas.fade * co2_mg_l / 30.0)


def slopes(
    tank: TrueTank, hour: float, open_mg_l: float, slow_mg_l: float, flow_bps: float
) -> tuple[float, float]:
    """Change of the carbon excess of the open and the slow zone [mg/L/h] at `hour` [h].

    Args: carbon excess of both zones [mg/L as CO2], flow through the diffuser [1/s].
    """
    zones, life, air = tank.zones, tank.life, tank.air
    open_c, slow_c = tank.water.co2(open_mg_l), tank.water.co2(slow_mg_l)
    warm = temp_c(tank, hour)
    level = air_level_mg_l(air, hour, warm)
    kla = air.kla_per_h * air.surface.at(hour) * exp(air.kla_per_k * (warm - air.mean_c))
    eaten = life.uptake_mg_l_h * life.vigour.at(hour) * tank.light.share(hour)
    slow, wide = zones.slow_share, 1.0 - zones.slow_share
    passed = zones.renewal_per_h * (open_mg_l - slow_mg_l)
    into_open = (
        (1.0 - zones.slow_surface_share) * kla * (level - open_c)
        - (1.0 - zones.slow_plant_share) * eaten * open_c / (open_c + life.half_saturation_mg_l)
        + gas_mg_l_h(tank, flow_bps, open_c)
        - slow * passed
    )
    into_slow = zones.slow_surface_share * kla * (
        level - slow_c
    ) - zones.slow_plant_share * eaten * slow_c / (slow_c + life.half_saturation_mg_l)
    return (
        into_open / wide + life.respiration_mg_l_h,
        into_slow / slow + passed + life.respiration_mg_l_h,
    )


def advance(tank: TrueTank, state: State, until_h: float, aim_bps: float) -> None:
    """Move `state` on by one step to `until_h` [h], while the needle lets `aim_bps` [1/s] through."""
    h, t = until_h - state.hour, state.hour
    gone = exp(-0.5 * h / tank.gas.opening_h)
    begin = state.flow_bps
    middle = aim_bps + (begin - aim_bps) * gone
    end = aim_bps + (middle - aim_bps) * gone
    x, y = state.open_mg_l, state.slow_mg_l
    a1, b1 = slopes(tank, t, x, y, begin)
    a2, b2 = slopes(tank, t + 0.5 * h, x + 0.5 * h * a1, y + 0.5 * h * b1, middle)
    a3, b3 = slopes(tank, t + 0.5 * h, x + 0.5 * h * a2, y + 0.5 * h * b2, middle)
    a4, b4 = slopes(tank, until_h, x + h * a3, y + h * b3, end)
    before = tank.water.co2(x)
    state.open_mg_l = x + h * (a1 + 2.0 * a2 + 2.0 * a3 + a4) / 6.0
    state.slow_mg_l = y + h * (b1 + 2.0 * b2 + 2.0 * b3 + b4) / 6.0
    state.flow_bps, state.hour = end, until_h
    _follow(tank, state, 0.5 * (before + tank.water.co2(state.open_mg_l)), h)


def _follow(tank: TrueTank, state: State, water_mg_l: float, h: float) -> None:
    """Let the indicator cell run after `water_mg_l` [mg/L] for `h` [h], slower down than up."""
    made = tank.instruments
    lag = made.rise_h if water_mg_l > state.cell_mg_l else made.fall_h
    state.cell_mg_l = water_mg_l + (state.cell_mg_l - water_mg_l) * exp(-h / lag)


def steady_rate_bps(tank: TrueTank, co2_mg_l: float) -> float:
    """The count [1/s] that holds `co2_mg_l` [mg/L] at noon of an average day, zones and drift left out."""
    air, life, gas = tank.air, tank.life, tank.gas
    noon = 0.5 * (tank.light.on_h + tank.light.off_h)
    lost = air.kla_per_h * (co2_mg_l - air_level_mg_l(air, noon, air.mean_c))
    eaten = life.uptake_mg_l_h * co2_mg_l / (co2_mg_l + life.half_saturation_mg_l)
    wanted = max(lost + eaten - life.respiration_mg_l_h, 0.05)
    per_bps = gas.gain_mg_l_h_per_bps / (1.0 + gas.fade * co2_mg_l / 30.0)
    rate = exp(log(wanted / (per_bps * gas.usual_bps**gas.crowding)) / (1.0 - gas.crowding))
    return float(rate)
