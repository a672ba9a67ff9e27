"""What animals take from the water, against the figures of the papers."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnlevel.balance.animals import fish_oxygen_mg_per_h
from dawnlevel.errors import OutOfRangeError


def test_a_fish_of_50_g_as_published() -> None:
    """ln R [mmol/h] = 15.7 - 5020/T: worked out by hand at 15 and 25 degC, 31.9988 g/mol."""
    assert float(fish_oxygen_mg_per_h(50.0, 25.0)) == pytest.approx(0.32088 * 31.9988, rel=1e-3)
    assert float(fish_oxygen_mg_per_h(50.0, 15.0)) == pytest.approx(0.17889 * 31.9988, rel=1e-3)


@pytest.mark.parametrize(
    ("mass_g", "mg_per_h", "mg_per_kg_h"),
    [(0.1, 0.071, 711), (0.3, 0.17, 571), (1.0, 0.45, 449), (5.0, 1.6, 325), (50.0, 10.3, 205)],
)
def test_small_fish_at_25_degrees(mass_g: float, mg_per_h: float, mg_per_kg_h: float) -> None:
    """Both published relations combined by hand, to the figures printed."""
    found = float(fish_oxygen_mg_per_h(mass_g, 25.0))
    assert found == pytest.approx(mg_per_h, rel=0.03)
    assert 1000.0 * found / mass_g == pytest.approx(mg_per_kg_h, rel=0.003)


def test_q10_across_species_is_the_published_one() -> None:
    """Clarke & Johnston 1999 give 1.83 across species over 0 to 30 degC."""
    temps = np.array([0.0, 30.0])
    low, high = fish_oxygen_mg_per_h(50.0, temps)
    assert (high / low) ** (1.0 / 3.0) == pytest.approx(1.83, abs=0.02)


def test_the_pooled_relation_meets_it_within_the_species_temperatures() -> None:
    """ln R = 0.80 ln M - 5.43 over all 69 species, polar to tropical: the same uptake near 6 degC."""
    pooled = 31.9988 * np.exp(0.80 * np.log(50.0) - 5.43)
    temps = np.linspace(0.0, 30.0, 301)
    meets = temps[np.argmin(np.abs(fish_oxygen_mg_per_h(50.0, temps) - pooled))]
    assert 2.0 < meets < 12.0


@settings(deadline=None, max_examples=50)
@given(st.floats(0.01, 1000.0), st.floats(0.0, 39.0))
def test_more_mass_takes_more_but_less_for_its_mass_and_warmth_takes_more(mass: float, temp: float) -> None:
    one, double = fish_oxygen_mg_per_h(np.array([mass, 2.0 * mass]), temp)
    assert one < double < 2.0 * one
    assert fish_oxygen_mg_per_h(mass, temp + 1.0) > one


def test_shapes_broadcast_and_gaps_stay_gaps() -> None:
    assert fish_oxygen_mg_per_h([[1.0], [2.0]], [20.0, 25.0, 30.0]).shape == (2, 3)
    assert np.isnan(fish_oxygen_mg_per_h(np.nan, 25.0))
    with pytest.raises(OutOfRangeError, match="mass of the fish"):
        fish_oxygen_mg_per_h(-1.0, 25.0)
