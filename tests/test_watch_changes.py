"""What changed: kinds, days and sizes on logs of a one-box tank solved minute by minute."""

import numpy as np
import pytest
from scipy.optimize import curve_fit
from watch_tanks import CARD, Course, log

from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.watch.causes import CAUSES, CHECKS, judge_causes
from dawnlevel.watch.days import BIN_H, cut_days
from dawnlevel.watch.figures import Figures, daily_figures
from dawnlevel.watch.findings import Finding, find_changes
from dawnlevel.watch.fit import EXCHANGE, GAIN, KM_MG_L, UPTAKE, fit_days

CHANGE_DAY = 15
AFTER = {
    "injection_weaker": Course(gain=lambda d: 8.0 if d < CHANGE_DAY else 5.6),
    "injection_stronger": Course(gain=lambda d: 8.0 if d < CHANGE_DAY else 11.0),
    "exchange_faster": Course(exchange=lambda d: 0.22 if d < CHANGE_DAY else 0.34),
    "exchange_slower": Course(exchange=lambda d: 0.22 if d < CHANGE_DAY else 0.14),
    "uptake_higher": Course(uptake=lambda d: 1.5 if d < CHANGE_DAY else 3.0),
    "uptake_lower": Course(uptake=lambda d: 1.5 if d < CHANGE_DAY else 0.5),
    "start_late": Course(late_h=lambda d: 0.0 if d < CHANGE_DAY else 1.0),
    "start_early": Course(late_h=lambda d: 0.0 if d < CHANGE_DAY else -1.0),
    "start_missed": Course(is_dosed=lambda d: d not in {CHANGE_DAY, CHANGE_DAY + 2}),
    "stuck_open": Course(stays_open=lambda d: d in {CHANGE_DAY, CHANGE_DAY + 3}),
    "probe_drift": Course(shift_ph=lambda d: 0.02 * max(d - CHANGE_DAY, 0)),
    "unsteady": Course(gain=lambda d: 8.0 if d < CHANGE_DAY else (5.0, 11.0, 7.0)[d % 3]),
}


def found(course: Course) -> tuple[list[Finding], Figures]:
    figures = daily_figures(cut_days(*log(course), CARD), CARD)
    return find_changes(figures), figures


@pytest.mark.parametrize("kind", AFTER)
def test_the_kind_comes_first_and_its_day_within_three(kind: str) -> None:
    findings, figures = found(AFTER[kind])
    assert findings[0].kind == kind
    assert abs(findings[0].day - CHANGE_DAY) <= 3
    assert 0.0 < findings[0].probability <= 1.0
    assert judge_causes(findings[0], figures, clocks_changed=False)


@pytest.mark.parametrize("shift", [-0.15, 0.15])
def test_a_shift_of_ph_names_water_and_meter_with_their_odds(shift: float) -> None:
    findings, _ = found(Course(shift_ph=lambda d: 0.0 if d < CHANGE_DAY else shift))
    assert {one.kind for one in findings[:2]} == {"baseline_shift", "probe_step"}
    assert sum(one.probability for one in findings[:2]) <= 1.0
    assert findings[0].size == pytest.approx(shift, abs=0.05)


def test_a_cylinder_that_runs_out_is_told_from_a_timer() -> None:
    fading = {CHANGE_DAY: 6.0, CHANGE_DAY + 1: 2.0}
    findings, _ = found(Course(gain=lambda d: 8.0 if d < CHANGE_DAY else fading.get(d, 0.0)))
    assert findings[0].kind == "gas_empty"
    assert abs(findings[0].day - CHANGE_DAY) <= 2


@pytest.mark.parametrize("seed", [3, 4, 5])
def test_a_steady_tank_is_left_alone(seed: int) -> None:
    figures = daily_figures(cut_days(*log(Course(), seed), CARD), CARD)
    assert find_changes(figures) == []


def test_daily_figures_meet_the_truth() -> None:
    fits = fit_days(cut_days(*log(Course(wander=0.0)), CARD), CARD)
    middle = np.nanmedian(fits.values, axis=0)
    assert middle[EXCHANGE] == pytest.approx(0.22, rel=0.06)
    assert middle[GAIN] == pytest.approx(8.0, rel=0.05)
    assert middle[UPTAKE] == pytest.approx(1.5, rel=0.2)
    assert abs(np.nanmedian(fits.start_h)) < 0.1


def test_the_fit_is_scipys_on_the_same_model() -> None:
    """Least squares by `scipy.optimize.curve_fit` on the same half hours, moments fixed, no robust weight."""
    bins = cut_days(*log(Course(days=3)), CARD)
    wide = (np.zeros(4), np.full(4, 1e4))
    fits = fit_days(bins, CARD, *wide, timed=False)
    co2 = 0.5 * (bins.co2_mg_l[1, 1:] + bins.co2_mg_l[1, :-1])
    change = np.diff(bins.excess_mg_l[1])
    reading = bins.noise_ph**2 * bins.excess_per_ph[1] ** 2 / bins.count[1]
    sd = np.sqrt(reading[1:] + reading[:-1] + (0.01 * co2 + 0.02) ** 2)
    hour = (CARD.begin_h + 0.25 + BIN_H * np.arange(48)) % 24.0 + 1e-9
    gas = np.array([_share(one, CARD.gas_on_h, CARD.gas_off_h) for one in hour])
    lamp = np.array([_share(one, CARD.lights_on_h, CARD.lights_off_h) for one in hour])

    def model(level: np.ndarray, k: float, gain: float, uptake: float, rest: float) -> np.ndarray:
        return BIN_H * (gain * gas - k * level - uptake * lamp * level / (KM_MG_L + level) + rest)

    values, _ = curve_fit(model, co2, change, p0=(0.1, 5.0, 1.0, 0.1), sigma=sd)
    assert fits.values[1] == pytest.approx(values, rel=1e-4)


def _share(begin: float, on: float, off: float) -> float:
    """Share of the half hour that begins at `begin` between `on` and `off`."""
    return max(min(begin + BIN_H, off) - max(begin, on), 0.0) / BIN_H


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("minutes", [1000, 1440, 2000, 7200])
def test_short_logs_are_judged_without_a_word_of_alarm(minutes: int) -> None:
    hours, ph, temp = (one[:minutes] for one in log(Course(days=6)))
    assert find_changes(daily_figures(cut_days(hours, ph, temp, CARD), CARD)) == []


def test_a_log_of_single_readings_is_refused() -> None:
    hours, ph, temp = (one[::60] for one in log(Course(days=6)))
    with pytest.raises(NotEnoughRecordsError, match="gas day"):
        daily_figures(cut_days(hours, ph, temp, CARD), CARD)


def test_a_tank_that_never_has_gas_is_told_so() -> None:
    findings, figures = found(Course(days=8, is_dosed=lambda _: False))
    assert [one.kind for one in findings] == ["start_missed"]
    assert figures.missed[1:].all()


def test_every_kind_has_causes_and_one_check() -> None:
    kinds = set(AFTER) | {"baseline_shift", "probe_step", "gas_empty"}
    assert set(CAUSES) == set(CHECKS) == kinds
