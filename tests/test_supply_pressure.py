"""CO2 in a cylinder against CoolProp (Span & Wagner 1996) and the published saturation table's figures."""

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnlevel.errors import BadInputError, OutOfRangeError
from dawnlevel.supply.pressure import (
    cylinder_pressure_bar,
    gas_density_kg_m3,
    last_liquid_share,
    liquid_full_temp_c,
)
from dawnlevel.supply.saturation import liquid_density_kg_m3, saturation_pressure_bar, vapour_density_kg_m3

TEMPS_C = np.linspace(-50.0, 30.9, 60)


def reference(wanted: str, temp_c: float, other: str, value: float) -> float:
    return float(PropsSI(wanted, "T", temp_c + 273.15, other, value, "CO2"))


def test_saturation_line_against_the_reference_equation() -> None:
    pressure = [reference("P", t, "Q", 0) / 1e5 for t in TEMPS_C]
    assert saturation_pressure_bar(TEMPS_C) == pytest.approx(pressure, rel=1e-4)
    assert liquid_density_kg_m3(TEMPS_C) == pytest.approx(
        [reference("D", t, "Q", 0) for t in TEMPS_C], rel=3e-3
    )
    assert vapour_density_kg_m3(TEMPS_C) == pytest.approx(
        [reference("D", t, "Q", 1) for t in TEMPS_C], rel=1e-3
    )


def test_cylinder_pressure_within_one_percent_of_the_reference_equation() -> None:
    temps, fills = np.arange(-10.0, 65.1, 1.5), np.arange(0.05, 0.7501, 0.02)
    found = cylinder_pressure_bar(temps[:, None], fills)
    wanted = np.array([[reference("P", t, "D", 1000.0 * f) / 1e5 for f in fills] for t in temps])
    assert np.max(np.abs(found / wanted - 1.0)) < 0.007


def test_thin_gas_and_dense_liquid_too() -> None:
    for temp_c, fill in [(20.0, 1e-4), (60.0, 0.01), (-20.0, 0.03), (10.0, 0.85), (75.0, 0.85), (70.0, 0.8)]:
        wanted = reference("P", temp_c, "D", 1000.0 * fill) / 1e5
        assert float(cylinder_pressure_bar(temp_c, fill)) == pytest.approx(wanted, rel=0.01)
    assert cylinder_pressure_bar(20.0, 0.0) == 0.0


# Computed with CoolProp 8.0.0, as tabulated for gauge against content: fill 0.667 kg/L, 22 degC.
@pytest.mark.parametrize(
    ("share", "bar"), [(1.0, 60.0), (0.32, 60.0), (0.30, 59.1), (0.25, 55.2), (0.20, 49.4), (0.10, 30.5)]
)
def test_the_gauge_is_flat_until_a_third_is_left(share: float, bar: float) -> None:
    assert float(cylinder_pressure_bar(22.0, share * 0.667)) == pytest.approx(bar, abs=0.15)


@pytest.mark.parametrize(("fill", "temp_c"), [(0.60, 29.9), (0.667, 27.5), (0.68, 26.9), (0.75, 22.1)])
def test_liquid_fills_the_bottle(fill: float, temp_c: float) -> None:
    assert float(liquid_full_temp_c(fill)) == pytest.approx(temp_c, abs=0.15)


def test_last_liquid() -> None:
    assert last_liquid_share(np.array([20.0, 22.0, 25.0]), 0.667) == pytest.approx(
        [0.29, 0.32, 0.36], abs=0.006
    )
    assert last_liquid_share(25.0, 0.1) == 1.0


def test_gas_density_at_one_atmosphere() -> None:
    temps = np.array([0.0, 20.0, 22.0, 25.0, 40.0])
    wanted = [reference("D", t, "P", 101325.0) for t in temps]
    assert gas_density_kg_m3(temps) == pytest.approx(wanted, rel=2e-4)


@settings(deadline=None, max_examples=50)
@given(st.floats(-20.0, 75.0), st.floats(0.0, 0.84), st.floats(0.0, 0.01))
def test_more_gas_never_presses_less(temp_c: float, fill: float, more: float) -> None:
    less, rest = cylinder_pressure_bar(temp_c, np.array([fill, fill + more]))
    assert rest >= less * (1.0 - 0.007)  # where the two equations meet they differ by less than that


@settings(deadline=None, max_examples=50)
@given(st.floats(-20.0, 75.0), st.floats(0.5, 40.0))
def test_density_of_a_gas_gives_its_pressure_back(temp_c: float, bar: float) -> None:
    bar = min(bar, 0.98 * float(saturation_pressure_bar(min(temp_c, 30.9))))
    fill = float(gas_density_kg_m3(temp_c, bar)) / 1000.0
    assert float(cylinder_pressure_bar(temp_c, fill)) == pytest.approx(bar, rel=1e-9)


def test_above_the_critical_temperature_there_is_no_saturation() -> None:
    with pytest.raises(OutOfRangeError, match="no liquid") as caught:
        saturation_pressure_bar([20.0, 31.5])
    assert caught.value.where
    assert caught.value.cure
    assert float(saturation_pressure_bar(30.978)) == pytest.approx(73.77, abs=0.01)


@pytest.mark.parametrize(("temp_c", "fill"), [(90.0, 0.5), (20.0, 1.2), (20.0, -0.1), (np.inf, 0.5)])
def test_unfit_arguments_are_refused(temp_c: float, fill: float) -> None:
    with pytest.raises(OutOfRangeError, match="outside"):
        cylinder_pressure_bar(temp_c, fill)


def test_words_are_refused_and_gaps_pass() -> None:
    with pytest.raises(BadInputError, match="no number"):
        saturation_pressure_bar("warm")
    assert np.isnan(saturation_pressure_bar(np.nan))
    assert np.isnan(cylinder_pressure_bar([np.nan, 20.0], 0.6)).tolist() == [True, False]
    assert np.isnan(gas_density_kg_m3(np.nan))
    assert np.isnan(liquid_full_temp_c(np.nan))
