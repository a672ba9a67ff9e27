"""Likelihoods of the instruments: proper over everything an instrument can show, and robust to a slip."""

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from dawnlevel.estimate.evidence import cup_level
from dawnlevel.estimate.model import build_model
from dawnlevel.estimate.observations import SLIP_SHARE, SLIP_WIDTH_PH, MeterReadings
from dawnlevel.estimate.priors import CELL_EDGES_PH
from dawnlevel.tank import CellColour, CellSighting, KhTitration
from tests.estimate_worlds import kit, look, make_tank, shares, when

Floats = npt.NDArray[np.float64]


def _all_readings(step: float, sd: float, predicted: float) -> Floats:
    """Probability of every reading on the meter's scale within two pH of the prediction, shape (n,)."""
    centre = step * np.round(predicted / step)
    scale = centre + step * np.arange(-round(2.0 / step), round(2.0 / step))
    meter = MeterReadings(scale[:, None], np.full((1, 1), step), sd)
    return np.asarray(np.exp(meter.log_likelihood(np.array([[predicted]])))[:, 0] * step)


@given(st.sampled_from([0.01, 0.02, 0.05, 0.1]), st.floats(0.01, 0.1), st.floats(6.0, 8.0))
def test_readings_on_a_coarse_or_fine_meter_add_up_to_one(step: float, sd: float, predicted: float) -> None:
    """The slips' share is spread over four pH, which is as far as the sum goes."""
    assert _all_readings(step, sd, predicted).sum() == pytest.approx(1.0, abs=2e-3)


@pytest.mark.parametrize("step", [0.01, 0.1])
def test_a_reading_is_as_likely_as_rounding_makes_it(step: float) -> None:
    """Against the normal's probability of the rounding interval (scipy), plus the slips' floor."""
    sd, predicted = 0.02, 6.537
    scale = step * np.round(predicted / step) + step * np.arange(-5, 6)
    meter = MeterReadings(scale[:, None], np.full((1, 1), step), sd)
    got = np.exp(meter.log_likelihood(np.array([[predicted]])))[:, 0] * step
    inside = norm.cdf(scale + step / 2, predicted, sd) - norm.cdf(scale - step / 2, predicted, sd)
    expected = (1 - SLIP_SHARE) * inside + SLIP_SHARE * step / SLIP_WIDTH_PH
    assert np.abs(got - expected).max() < 0.003  # Sheppard's correction stands in for fine rounding


def test_a_far_reading_pulls_at_nothing() -> None:
    """One pH off, the log likelihood is flat: a slip says nothing of the tank."""
    meter = MeterReadings(np.array([[6.2]]), np.full((1, 1), 0.01), 0.02)
    near, far = (meter.log_likelihood(np.array([[p, p + 0.01]]))[0] for p in (6.23, 7.2))
    assert abs(near[1] - near[0]) > 0.3
    assert abs(far[1] - far[0]) < 1e-9
    assert far[0] == pytest.approx(np.log(SLIP_SHARE / SLIP_WIDTH_PH))


def test_colours_add_up_to_one_and_change_at_their_edges() -> None:
    model = build_model(make_tank(), [look(1.0)], when(1.0))
    every = [CellSighting(at=when(1.0), colour=colour) for colour in CellColour]
    inside = np.linspace(5.5, 8.0, 101)[None, :]
    found = shares(every, model, inside)
    assert np.abs(found.sum(axis=0) - 1.0).max() < 1e-9
    colours = list(CellColour)
    for (darker, lighter), edge in CELL_EDGES_PH.items():
        # A hair short of even where the next colour's far edge takes its part.
        at_edge = shares(every, model, np.array([[edge]]))[:, 0]
        assert at_edge[colours.index(darker)] == pytest.approx(at_edge[colours.index(lighter)], abs=2e-3)
    low, high = found[:, 0], found[:, -1]
    assert colours[int(low.argmax())] is CellColour.YELLOW
    assert colours[int(high.argmax())] is CellColour.BLUE


@pytest.mark.parametrize("step", [0.25, 0.5, 1.0])
def test_counts_weigh_every_titre_alike(step: float) -> None:
    """At any titre the likelihoods of all counts add up to the same number, else some titres are favoured."""
    model = build_model(make_tank(kh_step_dkh=step), [kit(1.0)], when(1.0))
    every = [KhTitration(at=when(1.0), kh_dkh=step * count) for count in range(int(30 / step))]
    total = shares(every, model, np.linspace(4.0 * step, 20.0, 301)[None, :]).sum(axis=0)
    assert np.ptp(total) / total.mean() < 0.02


def test_a_count_is_likeliest_within_its_drop() -> None:
    model = build_model(make_tank(), [kit(1.0)], when(1.0))
    titres = np.array([[2.0, 3.3, 3.6, 4.4, 5.5]])
    of_four = shares([KhTitration(at=when(1.0), kh_dkh=4.0)], model, titres)[0]
    assert of_four[1] > 0.7
    assert of_four[2] > 0.99
    assert of_four[0] < 1e-3
    assert of_four[4] < 1e-3


@given(st.floats(0.5, 40.0), st.floats(0.3, 5.0), st.floats(0.05, 5.0))
def test_the_cup_never_passes_the_air_and_keeps_losing(start: float, air: float, rate: float) -> None:
    water = build_model(make_tank(), [], when(1.0)).water(np.array([1.4]))
    hours = np.array([[0.0], [1.0], [6.0], [24.0]])
    left = cup_level(
        np.full((4, 1), start), np.full((4, 1), air), np.full((4, 1), rate), hours, np.array([1.4]), water
    )
    assert left[0, 0] == pytest.approx(start)
    gap = np.abs(left[:, 0] - air)
    assert np.all(np.diff(gap) <= 1e-12)
    assert np.all((left[:, 0] - air) * (start - air) >= 0.0)
