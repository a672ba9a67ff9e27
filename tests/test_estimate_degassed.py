"""Whether a cup is degassed: calibrated on cups of known truth, sure at the ends, refusing nonsense."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from dawnlevel.chemistry import ph_from_co2
from dawnlevel.chemistry.air import air_co2_mg_l
from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.estimate.degassed import CupWater, judge_cup, usual_wait_h
from dawnlevel.tank import BaselineMethod
from dawnlevel.units import MEQ_L_PER_DKH

TEMP_C, DEPTH_CM, PPM = 24.0, 7.5, 800.0
NINETY_SPAN_CM_H = {"still_cup": (0.5, 2.0), "stirred_cup": (2.5, 10.0), "aerated": (10.0, 40.0)}


def water(kh_dkh: float | None = 5.0) -> CupWater:
    return CupWater(kh_dkh, 1.0, TEMP_C, None, 1.0)


def cup_ph(start_mg_l: float, velocity_cm_h: float, kh_dkh: float, times_h: list[float]) -> list[float]:
    """The cup's pH by an adaptive solver on total carbon, from which CO2 is found: no code of the cup's."""
    alkalinity = kh_dkh * MEQ_L_PER_DKH
    air = float(air_co2_mg_l(TEMP_C, PPM, 1.0))
    ladder = np.exp(np.linspace(np.log(0.2), np.log(80.0), 4000))
    hydrogen = 10.0 ** -np.asarray(ph_from_co2(ladder, alkalinity, TEMP_C))
    co2_mol = ladder / 44009.5
    # K2 at 24 degC: 10.34 (Plummer & Busenberg 1982) less 0.06 by Davies at 2 mmol/L, worked out by hand
    bicarbonate = alkalinity / 1000.0 / (1.0 + 2.0 * 10.0**-10.27 / hydrogen)
    carbonate = bicarbonate * 10.0**-10.27 / hydrogen
    total = co2_mol + bicarbonate + carbonate

    def level(dic: float) -> float:
        return float(np.interp(dic, total, ladder))

    def slope(_: float, dic: np.ndarray) -> list[float]:
        return [-(velocity_cm_h / DEPTH_CM) * (level(dic[0]) - air) / 44009.5]

    begin = float(np.interp(start_mg_l, ladder, total))
    found = solve_ivp(slope, (0.0, max(times_h) + 1e-9), [begin], t_eval=times_h, rtol=1e-8, atol=1e-12)
    return [float(ph_from_co2(level(dic), alkalinity, TEMP_C)) for dic in found.y[0]]


def test_the_interval_holds_the_truth_as_often_as_it_says() -> None:
    rng = np.random.default_rng(3)
    held, judged, ready = [], [], []
    for _ in range(48):
        method = rng.choice(list(NINETY_SPAN_CM_H))
        low, high = NINETY_SPAN_CM_H[method]
        velocity = np.sqrt(low * high) * np.exp(rng.standard_normal() * np.log(high / low) / 3.29)
        kh = rng.uniform(1.5, 9.0)
        start, hours = np.exp(rng.normal(np.log(12.0), 0.7)), float(rng.choice([1.0, 3.0, 8.0, 20.0]))
        truth = cup_ph(start, velocity, kh, [0.0, hours, 400.0])
        offset = rng.normal(0.0, 0.09)
        shown = [round(ph + offset + rng.normal(0.0, 0.03), 2) for ph in truth[:2]]
        count = float(np.ceil(kh + 0.05 * MEQ_L_PER_DKH))
        found = judge_cup(
            CupWater(count, 1.0, TEMP_C, PPM, 1.0),
            BaselineMethod(method),
            [(0.0, shown[0]), (hours, shown[1])],
            0.01,
            np.random.default_rng(1),
        )
        short = truth[2] - truth[1]
        held.append(found.short_ph.low_90 - 0.01 <= short <= found.short_ph.high_90 + 0.01)
        judged.append(found.chance_degassed)
        ready.append(abs(short) < 0.05)
    assert np.mean(held) >= 0.80  # 39 of 48; fewer has chance 2 % where nine in ten hold
    assert np.mean(judged) == pytest.approx(np.mean(ready), abs=0.12)


def test_a_long_aerated_cup_is_degassed_and_a_fresh_one_is_not() -> None:
    rng = np.random.default_rng(5)
    start, rest = cup_ph(25.0, 20.0, 4.5, [0.0, 24.0])
    done = judge_cup(water(), BaselineMethod.AERATED, [(0.0, start), (24.0, rest)], 0.01, rng)
    assert done.chance_degassed > 0.95
    assert done.more_h == 0.0
    fresh = judge_cup(water(), BaselineMethod.AERATED, [(0.05, start)], 0.01, rng)
    assert fresh.chance_degassed < 0.05
    assert fresh.more_h is not None
    assert fresh.more_h >= 2.0
    assert fresh.short_ph.low_50 <= rest - start <= fresh.short_ph.high_90


def test_faster_ways_and_softer_water_need_less_time() -> None:
    def wait(kh_dkh: float, method: BaselineMethod) -> float:
        return usual_wait_h(water(kh_dkh), method, np.random.default_rng(1)) or 99.0

    order = (BaselineMethod.AERATED, BaselineMethod.STIRRED_CUP, BaselineMethod.STILL_CUP)
    waits = [wait(4.0, method) for method in order]
    assert waits == sorted(set(waits))
    assert wait(2.0, BaselineMethod.AERATED) < wait(15.0, BaselineMethod.AERATED)


def test_readings_that_no_cup_gives_are_refused() -> None:
    with pytest.raises(NotEnoughRecordsError, match="do not go together"):
        judge_cup(water(), BaselineMethod.STILL_CUP, [(0.0, 7.4), (2.0, 6.4)], 0.01, np.random.default_rng(1))
