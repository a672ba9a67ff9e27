"""Oxygen saturation, Schmidt numbers and diffusivities against printed tables and a public record."""

import csv

import numpy as np
import pytest
from check_tables import half_digit, table
from hypothesis import given
from hypothesis import strategies as st
from reference_data import data_file

from dawnlevel.chemistry import (
    kla_ratio_co2_to_o2,
    oxygen_saturation_garcia_gordon_1992,
    oxygen_saturation_mg_l,
    schmidt,
    schmidt_scale,
)
from dawnlevel.errors import OutOfRangeError

DIFFUSIVITIES = {
    # against the CRC table the fits are good to 1 %, oxygen's to 2.5 %; their own values to the printed digit
    "diffusivity_co2_1e9": (schmidt.diffusivity_co2_jahne_1987, 0.01),
    "diffusivity_o2_1e9": (schmidt.diffusivity_o2_han_bartels_1996, 0.18),
    "diffusivity_o2_han_bartels_1e9": (schmidt.diffusivity_o2_han_bartels_1996, 0.0),
    "diffusivity_co2_jahne_1e9": (schmidt.diffusivity_co2_jahne_1987, 0.0),
}


@pytest.mark.parametrize("row", table("schmidt"), ids=lambda r: f"{r['quantity']}-{r['temp_c']}")
def test_schmidt_numbers_and_diffusivities(row: dict[str, str]) -> None:
    t, printed = float(row["temp_c"]), float(row["printed"])
    if row["quantity"] in DIFFUSIVITIES:
        function, relative = DIFFUSIVITIES[row["quantity"]]
        assert 1e9 * function(t) == pytest.approx(
            printed, abs=half_digit(row["printed"]) + relative * printed
        )
    else:
        assert getattr(schmidt, row["quantity"])(t) == pytest.approx(printed, abs=half_digit(row["printed"]))


@pytest.mark.parametrize(("exponent", "w14"), [(1 / 2, 0.92), (2 / 3, 0.90)])
def test_ratio_of_exchange_rates_as_printed(exponent: float, w14: float) -> None:
    """Wanninkhof 2014: 0.92 and 0.90, hardly moving from 15 to 30 degC."""
    assert kla_ratio_co2_to_o2(np.linspace(15.0, 30.0, 4), exponent) == pytest.approx([w14] * 4, abs=0.0075)


@pytest.mark.parametrize(("exponent", "percent"), [(1 / 2, 10.0), (2 / 3, 14.0)])
def test_exchange_from_22_to_26_degc_as_printed(exponent: float, percent: float) -> None:
    gain = schmidt_scale(26.0, exponent) / schmidt_scale(22.0, exponent) - 1.0
    assert 100.0 * gain == pytest.approx(percent, abs=0.6)


def test_schmidt_600_is_20_degc() -> None:
    """The custom of gas-exchange work: CO2 in fresh water has Sc 600 at 20 degC."""
    assert schmidt_scale(20.0) == pytest.approx(1.0, abs=0.001)


@given(st.floats(0.0, 30.0))
def test_the_two_wanninkhof_forms_agree(temp_c: float) -> None:
    """CO2 within 2.5 % over the older form's range (0.5 % at 15 to 28 degC, printed); warmer is faster."""
    old, new = schmidt.schmidt_co2_wanninkhof_1992(temp_c), schmidt.schmidt_co2_wanninkhof_2014(temp_c)
    assert new == pytest.approx(old, rel=0.005 if 15.0 <= temp_c <= 28.0 else 0.025)
    assert schmidt.schmidt_co2(temp_c + 1.0) < new
    assert schmidt.schmidt_o2(temp_c + 1.0) < schmidt.schmidt_o2(temp_c)
    assert schmidt.schmidt_o2_stream_metabolism(temp_c + 1.0) < schmidt.schmidt_o2_stream_metabolism(temp_c)


@pytest.mark.parametrize(
    "row", table("oxygen"), ids=lambda r: f"{r['form']}-{r['temp_c']}-{r['pressure_atm']}"
)
def test_oxygen_saturation_as_printed(row: dict[str, str]) -> None:
    function = {
        "benson_krause": oxygen_saturation_mg_l,
        "garcia_gordon": oxygen_saturation_garcia_gordon_1992,
    }[row["form"]]
    found = function(float(row["temp_c"]), float(row["pressure_atm"]))
    # Boyd's table is his own: 7.54 against 7.56, 0.3 %
    tolerance = 0.03 if row["source"].startswith("Boyd") else half_digit(row["printed"])
    assert found == pytest.approx(float(row["printed"]), abs=tolerance)


def test_oxygen_saturation_and_schmidt_number_of_a_public_stream_record() -> None:
    """French Creek, Appling et al. 2018, 864 rows at 523 mmHg: six printed figures of both columns."""
    with data_file("french_creek_2012-09-18_20_5min.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    temp_c, saturation, ratio = (
        np.array([float(row[key]) for row in rows]) for key in ("temp_C", "DO_sat_mgL", "K600_to_KO2")
    )
    assert oxygen_saturation_garcia_gordon_1992(temp_c, 523.0 / 760.0) == pytest.approx(saturation, rel=2e-6)
    assert (schmidt.schmidt_o2_stream_metabolism(temp_c) / 600.0) ** -0.5 == pytest.approx(ratio, rel=2e-6)


@given(st.floats(0.0, 39.0), st.floats(0.5, 1.1))
def test_the_two_oxygen_forms_agree_and_are_monotone(temp_c: float, pressure: float) -> None:
    here = oxygen_saturation_mg_l(temp_c, pressure)
    assert oxygen_saturation_garcia_gordon_1992(temp_c, pressure) == pytest.approx(here, rel=0.002)
    assert oxygen_saturation_mg_l(temp_c + 0.5, pressure) < here
    assert oxygen_saturation_mg_l(temp_c, pressure + 0.01) > here


def test_arrays_nan_and_ranges() -> None:
    assert np.isnan(oxygen_saturation_mg_l([np.nan, 20.0])).tolist() == [True, False]
    assert schmidt_scale([[20.0], [25.0]], [0.5, 0.6, 0.7]).shape == (2, 3)
    assert isinstance(oxygen_saturation_mg_l(20), np.float64)
    for call in (
        lambda: schmidt.schmidt_co2_wanninkhof_1992(30.1),
        lambda: schmidt.schmidt_co2(41.0),
        lambda: schmidt_scale(20.0, 1.0),
        lambda: oxygen_saturation_mg_l(20.0, 760.0),
    ):
        with pytest.raises(OutOfRangeError):
            call()
