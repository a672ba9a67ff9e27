"""Where a day's gas goes: against an adaptive solver that adds up every flow; two sums must close."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from dawnlevel.supply.ledger import WaterLosses, gas_ledger

HALF, VOLUME_L, AIR = 5.0, 120.0, 0.7


def day(kla: float, uptake: float, made: float, gain: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Levels every quarter of an hour over a day, and what each flow added up to [mg/L]."""

    def flows(hour: float, level: float) -> tuple[float, float, float]:
        gas = gain if 8.0 <= hour < 17.0 else 0.0
        light = 1.0 if 10.0 <= hour < 19.0 else 0.0
        return gas, uptake * light * level / (level + HALF), kla * (level - AIR)

    def rates(hour: float, state: np.ndarray) -> list[float]:
        gas, taken, given_off = flows(hour, state[0])
        return [gas + made - taken - given_off, gas, taken, given_off]

    hours = np.arange(0.0, 24.01, 0.25)
    solved = solve_ivp(rates, (0, 24), [3.0, 0, 0, 0], t_eval=hours, rtol=1e-8, atol=1e-10, max_step=0.05)
    return hours, solved.y[0], solved.y[1:, -1]


@settings(max_examples=15, deadline=None)
@given(
    st.floats(0.03, 0.5), st.floats(0.1, 3.0), st.floats(0.02, 0.5), st.floats(0.5, 6.0), st.floats(0.3, 1.0)
)
def test_injected_is_dissolved_lost_and_taken_up(
    kla: float, uptake: float, made: float, gain: float, share: float
) -> None:
    hours, levels, truth = day(kla, uptake, made, gain)
    dissolved, taken_up, given_off = truth * VOLUME_L * 1e-3
    middle = 0.5 * (hours[1:] + hours[:-1])
    light = ((middle >= 10.0) & (middle < 19.0)).astype(float)
    losses = WaterLosses(np.array([kla]), np.array([AIR]), np.array([uptake]), HALF, np.array([made]))
    injected = np.array([dissolved / share])
    found = gas_ledger(hours, levels[:, None], light, losses, VOLUME_L, injected)
    slack = 0.01 * dissolved + 0.005
    assert found.taken_up_g[0] == pytest.approx(taken_up, abs=slack)
    assert found.given_off_g[0] == pytest.approx(given_off, abs=slack)
    assert found.dissolved_g[0] == pytest.approx(dissolved, abs=slack)
    assert found.dissolved_share[0] == pytest.approx(share, abs=0.02)
    out = found.bubbled_off_g + found.taken_up_g + found.given_off_g + found.kept_g
    assert out == pytest.approx(found.injected_g + found.made_g, rel=1e-9)


def test_nothing_injected_has_no_share() -> None:
    losses = WaterLosses(np.zeros(1), np.zeros(1), np.zeros(1), HALF, np.zeros(1))
    found = gas_ledger(np.array([0.0, 0.25]), np.ones((2, 1)), np.zeros(1), losses, 100.0, np.zeros(1))
    assert np.isnan(found.dissolved_share[0])
