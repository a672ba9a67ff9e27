"""The fitter against certified nonlinear regressions, and its honesty where data do not fix a fit.

Certified values and standard deviations: NIST/ITL Statistical Reference Datasets (US government), read
from the .dat files themselves. Digits are log relative errors, worst parameter.
"""

import re
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnlevel.balance.fit import FitOutcome, fit
from dawnlevel.balance.rise import fit_rise
from dawnlevel.errors import BadInputError, NotEnoughRecordsError
from tests.reference_data import data_file

Model = Callable[[np.ndarray, np.ndarray], np.ndarray]

SATURATION_22_MG_L = 8.896  # worked formula at 22 degC of the course that published the runs


def _rise(b: np.ndarray, x: np.ndarray) -> np.ndarray:
    return b[0] * (1 - np.exp(-b[1] * x))


MODELS: dict[str, Model] = {
    "BoxBOD": _rise,
    "Misra1a": _rise,
    "MGH17": lambda b, x: b[0] + b[1] * np.exp(-b[3] * x) + b[2] * np.exp(-b[4] * x),
    "Chwirut2": lambda b, x: np.exp(-b[0] * x) / (b[1] + b[2] * x),
    "Lanczos3": lambda b, x: b[0] * np.exp(-b[1] * x) + b[2] * np.exp(-b[3] * x) + b[4] * np.exp(-b[5] * x),
}
# Digits wanted of parameters and of standard deviations, as the reference page states or reaches them.
DIGITS = {
    "BoxBOD": (6, 4),
    "Misra1a": (6, 4),
    "MGH17": (6, 5),
    "Chwirut2": (7, 5),
    "Lanczos3": (4.5, 4),
}


def _problem(name: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(p, 4) of start 1, start 2, certified value and sd; x; y."""
    lines = data_file(f"nist/{name}.dat").read_text(encoding="utf-8").splitlines()
    parameters = [line.split("=")[1].split() for line in lines[40:60] if re.match(r"\s*b\d+ =", line)]
    data = np.array([line.split() for line in lines[60:] if line.strip()], dtype=float)
    return np.array(parameters, dtype=float), data[:, 1], data[:, 0]


def _digits(got: np.ndarray, certified: np.ndarray) -> float:
    return float(-np.log10(np.max(np.abs(got - certified) / np.abs(certified)) + 1e-16))


@pytest.mark.parametrize("start", [0, 1])
@pytest.mark.parametrize("name", list(MODELS))
def test_certified_fits(name: str, start: int) -> None:
    parameters, x, y = _problem(name)
    result = fit(lambda b: MODELS[name](b, x) - y, parameters[:, start])
    assert result.identified, result.reason
    wanted_values, wanted_sd = DIGITS[name]
    assert _digits(result.values, parameters[:, 2]) >= wanted_values
    assert _digits(result.sd, parameters[:, 3]) >= wanted_sd


def test_a_poor_start_is_escaped_and_owned_up_to() -> None:
    """From (1, 100) every exponential has vanished: the rate's slope is nought, RSS stays at 9771."""
    parameters, x, y = _problem("BoxBOD")

    def residuals(b: np.ndarray) -> np.ndarray:
        return _rise(b, x) - y

    stuck = fit(residuals, (1.0, 100.0), restarts=0)
    assert stuck.rss == pytest.approx(9771, abs=1)
    assert stuck.outcome is FitOutcome.NOT_IDENTIFIABLE
    escaped = fit(residuals, (1.0, 100.0))
    assert escaped.outcome is FitOutcome.RESTARTED
    assert _digits(escaped.values, parameters[:, 2]) >= 6


def test_a_parameter_without_effect_is_not_claimed() -> None:
    """Only the product of two parameters matters."""
    x = np.linspace(0.0, 1.0, 12)
    y = 3.0 * x + 0.01 * np.sin(40 * x)
    result = fit(lambda b: b[0] * b[1] * x - y, (1.0, 2.0))
    assert result.outcome is FitOutcome.NOT_IDENTIFIABLE
    assert not result.identified


def test_a_parameter_on_its_bound_is_not_claimed() -> None:
    x = np.linspace(0.0, 1.0, 12)
    result = fit(lambda b: b[0] + b[1] * x - 5.0 * x, (0.5, 1.0), low=(0.0, 0.0), high=(1.0, 2.0))
    assert result.outcome is FitOutcome.NOT_IDENTIFIABLE
    assert "bound" in result.reason


def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    """200 made-up rises, normal errors: the 95 % interval of the rate holds it 190 +/- 3 sd (9) times."""
    rng = np.random.default_rng(11)
    x = np.linspace(0.0, 8.0, 20)
    held = 0
    for _ in range(200):
        y = _rise(np.array([20.0, 0.5]), x) + rng.normal(0.0, 0.3, x.size)
        result = fit(lambda b, y=y: _rise(b, x) - y, (15.0, 0.4), restarts=0)
        held += bool(result.low_95[1] <= 0.5 <= result.high_95[1])
    assert abs(held - 190) <= 9


@settings(deadline=None, max_examples=25)  # a fit takes tens of milliseconds
@given(st.floats(1.0, 40.0), st.floats(0.1, 2.0), st.floats(0.05, 20.0))
def test_exact_data_are_recovered_in_any_unit(plateau: float, rate: float, unit: float) -> None:
    """Without errors the truth comes back; a change of unit changes nothing but the unit."""
    x = np.linspace(0.0, 10.0, 15)
    y = unit * _rise(np.array([plateau, rate]), x)
    result = fit(lambda b: _rise(b, x) - y, (1.3 * unit * plateau, 0.8 * rate), restarts=1)
    np.testing.assert_allclose(result.values, [unit * plateau, rate], rtol=1e-6)


def test_too_few_readings_and_gaps_are_refused() -> None:
    with pytest.raises(NotEnoughRecordsError, match="2 readings cannot fix 2"):
        fit(lambda b: b - 1.0, (0.5, 0.5))
    with pytest.raises(BadInputError, match="no finite residuals"):
        fit(lambda b: b[0] * np.array([1.0, np.nan, 2.0]), (0.5,))


def _reaeration(name: str) -> tuple[np.ndarray, np.ndarray]:
    """Hours and oxygen, mg/L, of one run (CEE 4530, Cornell, M. Weber-Shirk; public course data, MIT)."""
    rows = data_file(f"aeration2020/{name}.tsv").read_text(encoding="utf-8").splitlines()[1:]
    table = np.array([[float(cell) for cell in row.split("\t")[:3]] for row in rows])
    return (table[:, 0] - table[0, 0]) * 24.0, table[:, 2]


@pytest.mark.parametrize("from_mg_l", [-1.0, 2.0])
@pytest.mark.parametrize("name", ["100", "150", "450", "700", "750"])
def test_runs_that_stop_early_do_not_fix_rate_and_plateau(name: str, from_mg_l: float) -> None:
    """Whole, and from 2 mg/L on as the reference page cuts them (plateaus of 5.5 to 13.6 mg/L there)."""
    hours, oxygen = _reaeration(name)
    used = oxygen >= from_mg_l
    verdict = fit_rise(hours[used], oxygen[used])
    assert not verdict.separable
    assert "stops too early" in verdict.reason


def test_a_run_near_its_plateau_fixes_both() -> None:
    """800a: plateau 8.99 +/- 0.05 mg/L, rate .00876 +/- .00019 1/s (reference page, computed, +/- as if
    errors were independent; ours are widened for their succession).
    """
    verdict = fit_rise(*_reaeration("800a"), expected_plateau_mg_l=SATURATION_22_MG_L)
    assert verdict.separable
    assert float(verdict.fit.values[0]) == pytest.approx(8.99, abs=0.005)
    assert float(verdict.fit.values[2]) / 3600 == pytest.approx(0.00876, abs=0.000005)
    assert 0.05 < float(verdict.fit.sd[0]) < 0.10
    assert 0.00019 < float(verdict.fit.sd[2]) / 3600 < 0.00038


def test_a_repeat_with_the_wrong_plateau_is_refused_once_the_plateau_is_known() -> None:
    """800b repeats 800a but heads for 8.0 mg/L where the saturation formula gives 8.896."""
    hours, oxygen = _reaeration("800b")
    assert not fit_rise(hours, oxygen, expected_plateau_mg_l=SATURATION_22_MG_L).separable
