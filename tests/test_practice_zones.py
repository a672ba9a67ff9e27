"""Practice tanks with zones against an adaptive solver, and what must be kept."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from dawnlevel.practice.zones import Zones, side_pocket

THREE = Zones(
    low=np.array([[0.0, 0, 0], [0.6, 0, 0], [0.0, 0.5, 0]]),
    high=np.array([[1.0, 1, 1], [1.0, 1, 1], [0.3, 1, 0.5]]),
    gas_mg_l_h=np.array([30.0, 5.0, 0.0]),
    loss_per_h=np.array([0.9, 0.4, 0.1]),
    flow_per_h=np.array([[0.0, 2.0, 0.1], [2.0, 0.0, 0.0], [0.1, 0.0, 0.0]]),
)


def test_levels_are_those_of_an_adaptive_solver() -> None:
    hours = [0.1, 0.7, 3.0, 9.0]
    start = np.array([2.0, 5.0, 1.0])
    found = solve_ivp(
        lambda _, c: THREE.rates @ c + THREE.gas_mg_l_h,
        (0.0, 9.0),
        start,
        t_eval=hours,
        rtol=1e-10,
        atol=1e-10,
    )
    assert THREE.levels(start, hours) == pytest.approx(found.y.T, abs=1e-6)


def test_exchange_alone_keeps_the_gas_and_levels_all_out() -> None:
    closed = Zones(THREE.low, THREE.high, np.zeros(3), np.full(3, 1e-9), THREE.flow_per_h)
    start = np.array([30.0, 10.0, 2.0])
    levels = closed.levels(start, [0.2, 1.0, 400.0])
    assert closed.mean(levels) == pytest.approx(np.full(3, closed.mean(start)), rel=1e-5)
    assert np.ptp(levels[-1]) < 1e-3


def test_a_pocket_lags_by_its_exchange_time() -> None:
    """A small pocket without loss behind a constant level closes 1 - 1/e of the gap in its exchange time."""
    pocket = side_pocket(0.5, (0.0, 0.0, 0.0), (0.1, 0.1, 0.1), 0.0, 0.0001)
    after = pocket.levels(np.array([20.0, 0.0]), [0.5])[0]
    assert after[1] / 20.0 == pytest.approx(1.0 - np.exp(-1.0), abs=0.01)
