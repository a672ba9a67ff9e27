"""Faults on a tank's own draws: against an adaptive solver, by conservation, and by what each must do."""

import numpy as np
import pytest
from estimate_worlds import gas_days, make_tank, when
from hypothesis import given, settings
from hypothesis import strategies as st
from plan_worlds import told
from scipy.integrate import solve_ivp

from dawnlevel.plan.daynight import Script, co2_ahead, oxygen_ahead, script_ahead, waters
from dawnlevel.plan.faults import (
    GUARDS,
    Fault,
    FaultKind,
    Guard,
    Outcome,
    accounts,
    faulted,
    first_above,
    guarded,
    outcome,
    still_factor,
)
from dawnlevel.tank import Diffuser, Surface

TANK = make_tank(temp_c=25.0)
RECORDS = gas_days(1, ())
NOW = when(26.0)  # two in the night; gas 9:30-18:30 UTC, lights 12:00-20:00
POSTERIOR = told(TANK, RECORDS, NOW, n=24, spread=0.3, kla_per_h=0.1, gain_mg_l_h_per_bps=2.4)
SCRIPT, WINDOWS = script_ahead(TANK, RECORDS, NOW)
WATER = waters(POSTERIOR, 1.5, np.random.default_rng(3))
CLOSES = WINDOWS[0][1]
CEILING = 30.0


def seen(script: Script, begins_h: float = CLOSES) -> Outcome:
    oxygen = oxygen_ahead(WATER, SCRIPT, co2_ahead(WATER, SCRIPT))[SCRIPT.edge(24.0)]
    return outcome(WATER, script, begins_h, 29.0, CEILING, oxygen)


@pytest.mark.parametrize("draw", [0, 11])
def test_a_valve_stuck_open_meets_an_adaptive_solver(draw: int) -> None:
    script = faulted(SCRIPT, WINDOWS, Fault(FaultKind.VALVE, CLOSES), TANK)
    co2 = co2_ahead(WATER, script)[:, draw]
    gas, fade, kla, air, made, most = (
        float(values[draw])
        for values in (
            WATER.gas_mg_l_h, WATER.fade, WATER.kla_per_h, WATER.air_mg_l, WATER.made_mg_l_h,
            WATER.uptake_mg_l_h,
        )
    )  # fmt: skip

    def slope(hour: float, level: np.ndarray) -> np.ndarray:
        flows = (WINDOWS[0][0] <= hour < CLOSES + 24.0) or hour >= WINDOWS[2][0]
        light = 12.0 <= (hour + 2.0) % 24.0 < 20.0
        lost = kla * (level - air) + light * most * level / (level + 5.0)
        return np.asarray(flows * gas * (1.0 - fade * level / 30.0) + made - lost)

    times = script.edges_h[:-40:25]
    solved = solve_ivp(
        slope, (0.0, 56.0), [float(WATER.start_mg_l[draw])], t_eval=times, rtol=1e-7, atol=1e-8, max_step=0.05
    )
    assert co2[:-40:25] == pytest.approx(solved.y[0], abs=0.05)
    crossed = first_above(script.edges_h, co2[:, None], CEILING)[0]
    fine = solve_ivp(slope, (0.0, 40.0), [float(WATER.start_mg_l[draw])], rtol=1e-7, atol=1e-8, max_step=0.02)
    above = np.flatnonzero(fine.y[0] > CEILING)
    assert crossed == pytest.approx(fine.t[above[0]], abs=0.1) if above.size else crossed > 40.0


@settings(deadline=None, max_examples=20)
@given(
    st.sampled_from([k for k in FaultKind if k is not FaultKind.WATER]),
    st.floats(0.0, 30.0),
    st.floats(0.5, 4.0),
)
def test_what_is_injected_is_dissolved_lost_or_taken_up(kind: FaultKind, begins: float, by: float) -> None:
    script = faulted(SCRIPT, WINDOWS, Fault(kind, begins, by, gas_open=True, pump_runs=False), TANK)
    books = accounts(WATER, script, co2_ahead(WATER, script))
    gone = books["bubbled_off"] + books["to_air"] + books["taken_up"] + books["kept"] - books["made"]
    assert gone == pytest.approx(books["injected"], rel=2e-3, abs=0.05)


def test_a_valve_stuck_open_passes_ceiling_then_more_and_guards_hold_it_lower() -> None:
    fault = Fault(FaultKind.VALVE, CLOSES)
    stuck, usual = seen(faulted(SCRIPT, WINDOWS, fault, TANK)), seen(SCRIPT)
    assert (stuck.peak_mg_l >= usual.peak_mg_l - 1e-9).all()
    assert np.median(stuck.morning_mg_l) > np.median(usual.morning_mg_l) + 5.0
    assert (stuck.to_high_h >= stuck.to_ceiling_h).all()
    for guard in GUARDS[FaultKind.VALVE]:
        helped = seen(guarded(SCRIPT, WINDOWS, fault, guard, TANK))
        assert (helped.morning_mg_l < stuck.morning_mg_l).all()
    second = seen(guarded(SCRIPT, WINDOWS, fault, Guard.SECOND_VALVE, TANK))
    assert second.morning_mg_l == pytest.approx(usual.morning_mg_l)


def test_the_level_a_stuck_valve_tends_to_is_inflow_over_losses() -> None:
    """Without light, dC/dt = 0 at C = (gas + kLa air + made) / (kLa + gas fade / 30), by hand."""
    dark = Script(*(getattr(SCRIPT, name).copy() for name in Script.__slots__))
    dark.light[:] = 0.0
    long = Script(dark.edges_h * 20.0, *(getattr(dark, name) for name in Script.__slots__[1:]))
    long.flow[:] = 1.0
    gas, kla = WATER.gas_mg_l_h, WATER.kla_per_h
    limit = (gas + kla * WATER.air_mg_l + WATER.made_mg_l_h) / (kla + gas * WATER.fade / 30.0)
    assert co2_ahead(WATER, long)[-1] == pytest.approx(limit, rel=1e-3)


def test_a_timer_shifted_or_doubled_moves_the_same_gas_or_twice_of_it() -> None:
    def hours(fault: Fault) -> float:
        return float(faulted(SCRIPT, WINDOWS[:1], fault, TANK).flow[: SCRIPT.edge(24.0)] @ SCRIPT.dt_h[:240])

    only_first = float(SCRIPT.flow[:240] @ SCRIPT.dt_h[:240])
    assert hours(Fault(FaultKind.SHIFTED, 0.0, 3.0)) == pytest.approx(only_first)
    assert hours(Fault(FaultKind.DOUBLED, 0.0)) == pytest.approx(24.0 - WINDOWS[0][0])


def test_a_power_cut_in_each_combination() -> None:
    peaks = {}
    for gas in (True, False):
        for pump in (True, False):
            fault = Fault(FaultKind.POWER, CLOSES - 1.0, 1.0, 8.0, gas, pump, light_on=False)
            peaks[gas, pump] = seen(faulted(SCRIPT, WINDOWS, fault, TANK), CLOSES - 1.0)
    assert np.median(peaks[True, False].peak_mg_l) > np.median(peaks[True, True].peak_mg_l)
    assert np.median(peaks[True, True].peak_mg_l) > np.median(peaks[False, True].peak_mg_l)
    lacking = peaks[False, False].least_oxygen_mg_l - peaks[False, True].least_oxygen_mg_l
    assert np.median(lacking) < 0.0
    closed = Fault(FaultKind.POWER, CLOSES - 1.0, 1.0, 8.0, True, False)
    helped = guarded(SCRIPT, WINDOWS, closed, Guard.NORMALLY_CLOSED, TANK)
    assert helped.flow[SCRIPT.edge(CLOSES) : SCRIPT.edge(CLOSES + 6.0)].max() == 0.0


def test_a_stopped_pump_stills_the_surface_and_starves_a_diffuser_in_its_stream() -> None:
    gentle, inline = TANK, make_tank(diffuser=Diffuser.INLINE, surface=Surface.RIPPLED)
    assert still_factor(gentle) == pytest.approx(1.0 / 3.0)  # 1 against 3 cm/h, published lakes
    fault = Fault(FaultKind.PUMP, 5.0)
    assert faulted(SCRIPT, WINDOWS, fault, gentle).dissolving.min() == 1.0
    stopped = faulted(SCRIPT, WINDOWS, fault, inline)
    assert stopped.dissolving[SCRIPT.edge(10.0)] == 0.0
    assert stopped.movement[SCRIPT.edge(10.0)] == pytest.approx(1.0 / 7.0)


def test_first_above_on_straight_lines() -> None:
    hours, levels = (
        np.array([0.0, 1.0, 2.0]),
        np.array([[10.0, 40.0, 1.0], [20.0, 41.0, 2.0], [40.0, 42.0, 3.0]]),
    )
    assert first_above(hours, levels, 30.0) == pytest.approx([1.5, 0.0, np.inf])
