"""Steps of a probe: the Logan River's record against its technicians' book, and made-up logs."""

import csv
from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest
from reference_data import data_file

from dawnlevel.errors import BadInputError
from dawnlevel.watch.probe import ProbeStep, drift_correction, probe_steps

# Jones, Jones & Horsburgh 2022, Environ. Modelling & Software, doi 10.1016/j.envsoft.2022.105364;
# Logan River Observatory, Utah State University.


@dataclass(frozen=True)
class River:
    """The record at Main Street: hours since its start, pH as read, pH as corrected (2019)."""

    start: np.datetime64
    hours: np.ndarray
    ph: np.ndarray
    corrected: np.ndarray
    intervals: list[tuple[float, float, float]]  # from calibration to calibration [h], gap at its end [pH]

    def hour(self, text: str) -> float:
        return float((np.datetime64(text) - self.start) / np.timedelta64(1, "h"))


@cache
def river() -> River:
    with data_file("logan_mainstreet_ph_2017_2019.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    at = np.array([np.datetime64(row["datetime"]) for row in rows])
    ph, corrected = (np.array([float(row[key] or "nan") for row in rows]) for key in ("ph", "ph_cor"))
    found = River(at[0], (at - at[0]) / np.timedelta64(1, "h"), ph, corrected, [])
    with data_file("MainStreet_ph_calib_dates.csv").open(encoding="utf-8-sig") as file:
        next(file)
        for row in csv.DictReader(file):
            if row["end"] >= "2017-01-02":
                found.intervals.append((found.hour(row["start"]), found.hour(row["end"]), float(row["gap"])))
    return found


@cache
def steps() -> list[ProbeStep]:
    return probe_steps(river().hours, river().ph)


def nearest(end_h: float) -> ProbeStep:
    return min(steps(), key=lambda step: abs(step.hours - end_h))


def test_gaps_of_a_tenth_and_more_are_found_at_the_technicians_times() -> None:
    wide = [(end, gap) for _, end, gap in river().intervals if abs(gap) >= 0.1]
    assert len(wide) == 8
    for end, gap in wide:
        step = nearest(end)
        assert abs(step.hours - end) <= 1.0
        assert step.size_ph == pytest.approx(gap, abs=0.06)


def test_gaps_of_a_few_hundredths_are_missed_honestly() -> None:
    """0.01 to 0.04: as large as the river's own moves from day to day (robust sd 0.015 pH)."""
    narrow = [end for _, end, gap in river().intervals if abs(gap) <= 0.04]
    assert sum(abs(nearest(end).hours - end) <= 3.0 for end in narrow) <= 2


def test_false_alarms_are_counted() -> None:
    """docs/watching.md states 12 in 2.7 years, none of them in 2017: no visit written down within 3 h."""
    visits = np.array([moment for start, end, _ in river().intervals for moment in (start, end)])
    false = [step.hours for step in steps() if np.min(np.abs(visits - step.hours)) > 3.0]
    years = river().hours[-1] / (24.0 * 365.25)
    assert len(steps()) == 26
    assert len(false) / years < 5.0
    assert not [hours for hours in false if hours < river().hour("2018-01-01")]


def test_drift_has_the_sign_and_the_rate_of_the_technicians_corrections() -> None:
    intervals = [interval for interval in river().intervals if interval[0] > river().hour("2019-04-01")]
    rates = {end: gap / (end - start) for start, end, gap in intervals}
    per_day = [24.0 * rate for rate in rates.values()]
    assert per_day == pytest.approx([-0.0031, -0.0057, 0.0126, -0.0059], abs=2e-4)
    for start, end, gap in intervals:
        inside = (river().hours > start + 1.0) & (river().hours < end - 1.0) & np.isfinite(river().corrected)
        added = (river().corrected - river().ph)[inside]
        ours = drift_correction(river().hours[inside], [start, end], [0.0, gap])
        published = np.polyfit(river().hours[inside], added, 1)[0]
        assert np.polyfit(river().hours[inside], ours, 1)[0] == pytest.approx(published, rel=0.10)
        found = drift_correction(river().hours[inside], [start, end], [0.0, nearest(end).size_ph])
        assert np.sign(found[-1]) == np.sign(gap)
        assert np.median(np.abs(found - added)) < 0.05


def made_up(days: int, seed: int, minutes: int = 15) -> tuple[np.ndarray, np.ndarray]:
    """A tank under a gas timer: down by 1.0 pH in the light and back, noise and slow weather."""
    rng = np.random.default_rng(seed)
    hours = np.arange(0.0, days * 24.0, minutes / 60.0)
    swing = np.clip(np.abs(((hours - 3.0) % 24.0) - 12.0) - 6.0, -3.0, 3.0) / 6.0
    weather = 0.01 * np.cumsum(rng.standard_normal(days + 1))
    level = 7.0 + swing + np.interp(hours / 24.0, np.arange(days + 1), weather)
    return hours, level + 0.005 * rng.standard_normal(hours.size)


def test_a_step_is_found_under_a_gas_timer_by_the_quarter_of_an_hour_and_by_the_minute() -> None:
    for minutes in (15, 1):
        hours, ph = made_up(20, 1, minutes)
        ph[hours >= 250.0] += 0.15
        (step,) = probe_steps(hours, ph)
        assert step.hours == pytest.approx(250.0, abs=0.3)
        assert step.size_ph == pytest.approx(0.15, abs=0.03)


def test_spikes_holes_and_drift_are_no_steps() -> None:
    for seed in range(4):
        hours, ph = made_up(40, seed)
        ph[np.random.default_rng(seed).integers(0, ph.size, 12)] += 1.0
        ph[1500:1540] = np.nan
        assert probe_steps(hours, ph - 0.005 * hours / 24.0) == []


def test_short_and_empty_logs_have_no_steps_and_unsorted_ones_are_refused() -> None:
    assert probe_steps([], []) == []
    assert probe_steps(np.arange(20.0), np.full(20, 7.0)) == []
    with pytest.raises(BadInputError, match="rise"):
        probe_steps([1.0, 0.0], [7.0, 7.0])


def test_a_correction_grows_evenly_between_calibrations_and_is_unknown_outside() -> None:
    found = drift_correction([0.0, 10.0, 15.0, 20.0, 30.0, 45.0], [10.0, 20.0, 40.0], [0.3, -0.2, 0.4])
    assert found == pytest.approx([np.nan, 0.0, -0.1, 0.0, 0.2, np.nan], nan_ok=True)
