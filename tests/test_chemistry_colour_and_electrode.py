"""Bromothymol blue and the pH electrode against printed tables and identities."""

import csv

import numpy as np
import pytest
from check_tables import half_digit, table
from hypothesis import assume, given
from hypothesis import strategies as st
from reference_data import data_file

from dawnlevel.chemistry import (
    Buffer,
    blue_fraction,
    bromothymol_blue_pka,
    bromothymol_blue_pka_half_width,
    buffer_ph,
    calibrate_two_point,
    calibrate_two_point_mv,
    cell_blue_fraction,
    cell_co2_from_blue_fraction,
    cell_ph,
    nernst_slope_mv_per_ph,
    ph_from_co2,
)
from dawnlevel.chemistry.electrode import drop_error_ph, phthalate_ph_hetzer_1977
from dawnlevel.errors import BadInputError, OutOfRangeError
from dawnlevel.units import dkh_to_meq_l


@pytest.mark.parametrize("row", table("dye"), ids=lambda r: f"{r['quantity']}-{r['given']}-{r['pka']}")
def test_dye_as_printed(row: dict[str, str]) -> None:
    given_value = float(row["given"])
    if row["quantity"] == "pka_shift_by_ionic_mmol_l":
        found = bromothymol_blue_pka(1e-3 * given_value) - bromothymol_blue_pka(0.0)
    else:
        found = 100.0 * blue_fraction(given_value, float(row["pka"]))
    assert found == pytest.approx(float(row["printed"]), abs=half_digit(row["printed"]))


def test_apparent_pka_in_a_4_dkh_cell() -> None:
    """7.30 - 0.055 = 7.245, with which the printed 4 dKH cell is 20 % blue at 30 mg/L and 25 degC."""
    assert bromothymol_blue_pka(1e-3 * dkh_to_meq_l(4.0), 25.0) == pytest.approx(7.245, abs=0.0006)
    assert 100.0 * cell_blue_fraction(30.0, 25.0) == pytest.approx(20.0, abs=0.5)


def test_the_pka_covers_every_published_value() -> None:
    """7.0, 7.1 (general pages), 7.26 (digitised curves), 7.30 (Kolthoff), 7.4 (Yuan & DeGrandpre, about)."""
    centre, half = bromothymol_blue_pka(2e-3), bromothymol_blue_pka_half_width(25.0)
    for published in (7.1, 7.26, 7.30, 7.4):
        assert abs(published - centre) <= half
    assert bromothymol_blue_pka_half_width(15.0) > half


def test_shape_of_the_digitised_dye_curves() -> None:
    """A public repository's plotted curves of both forms: pK 7.26, slope of one pH unit (a model plot)."""
    for name, blue in (("btb/Blu_Form.csv", True), ("btb/Yel_Form.csv", False)):
        with data_file(name).open(encoding="utf-8-sig") as file:
            rows = [(float(row[0]), float(row[1])) for row in csv.reader(file) if row[0][0].isdigit()]
        ph, share = np.array(rows).T
        found = blue_fraction(ph, 7.26)
        assert np.abs((found if blue else 1.0 - found) - share).max() < 0.02


@given(st.floats(0.5, 300.0), st.floats(5.0, 35.0), st.floats(1.0, 12.0), st.floats(6.9, 7.5))
def test_cell_there_and_back(co2: float, temp_c: float, kh_dkh: float, pka_zero: float) -> None:
    share = cell_blue_fraction(co2, temp_c, kh_dkh, pka_zero)
    assume(0.01 < share < 0.99)
    assert cell_co2_from_blue_fraction(share, temp_c, kh_dkh, pka_zero) == pytest.approx(co2, rel=1e-7)


@given(st.floats(0.5, 300.0), st.floats(5.0, 35.0), st.floats(0.01, 1.0))
def test_more_co2_is_less_blue(co2: float, temp_c: float, step: float) -> None:
    assert cell_blue_fraction(co2 * (1.0 + step), temp_c) < cell_blue_fraction(co2, temp_c)
    assert cell_ph(co2, temp_c) == ph_from_co2(co2, dkh_to_meq_l(4.0), temp_c)


def test_a_tenth_of_pka_is_a_quarter_of_co2() -> None:
    """Printed: 0.1 in the pKa moves the inferred CO2 by 26 %."""
    low, high = cell_co2_from_blue_fraction(0.25, 25.0, 4.0, [7.2, 7.3])
    assert 100.0 * (low / high - 1.0) == pytest.approx(26.0, abs=0.5)


@pytest.mark.parametrize(
    "row", table("electrode"), ids=lambda r: f"{r['quantity']}-{r['buffer']}-{r['temp_c']}"
)
def test_buffers_and_slope(row: dict[str, str]) -> None:
    """Our rows to the printed digit; the two quoted standards within 0.003 and their own digit."""
    t, slack = float(row["temp_c"]), 0.0
    if row["quantity"] == "nernst_slope_mv_per_ph":
        found, slack = nernst_slope_mv_per_ph(t), 0.0002  # 57.1751 at 15 degC stands printed as 57.17
    elif row["quantity"] == "hetzer_1977":
        found = phthalate_ph_hetzer_1977(t)
    else:
        found = buffer_ph(Buffer(row["buffer"]), t)
        slack = 0.003 if row["quantity"] in {"jis_z_8802", "hj_1147_2020"} else 0.0
    assert found == pytest.approx(float(row["printed"]), abs=half_digit(row["printed"]) + slack)


@given(st.floats(15.0, 30.0))
def test_two_works_on_phthalate_agree(temp_c: float) -> None:
    """The NIST/IUPAC row against the equation of Hetzer et al. 1977: 0.003 pH anywhere between."""
    assert buffer_ph(Buffer.PHTHALATE, temp_c) == pytest.approx(phthalate_ph_hetzer_1977(temp_c), abs=0.003)


OFFSET, SLOPE = st.floats(-0.6, 0.6), st.floats(0.6, 1.2)


@given(OFFSET, SLOPE, st.floats(4.0, 10.0))
def test_a_calibrated_meter_reads_true(offset: float, slope: float, true_ph: float) -> None:
    def shown(ph: float) -> float:
        return 7.0 + offset + slope * (ph - 7.0)

    made = calibrate_two_point(shown(4.005), 4.005, shown(6.865), 6.865)
    assert made.offset_ph == pytest.approx(offset, abs=1e-9)
    assert made.slope == pytest.approx(slope, abs=1e-9)
    assert made.correct(shown(true_ph)) == pytest.approx(true_ph, abs=1e-9)


@given(st.floats(-30.0, 30.0), st.floats(0.85, 1.05), st.floats(15.0, 30.0))
def test_calibration_by_potential(offset_mv: float, slope: float, temp_c: float) -> None:
    """An electrode by the Nernst equation: E = E0 - slope x k (pH - 7)."""
    k = nernst_slope_mv_per_ph(temp_c)
    low, high = (offset_mv - slope * k * (ph - 7.0) for ph in (4.005, 9.18))
    made = calibrate_two_point_mv(float(low), 4.005, float(high), 9.18, temp_c)
    assert made.slope == pytest.approx(slope, rel=1e-9)
    assert made.offset_ph == pytest.approx(-offset_mv / k, abs=1e-9)


def test_makers_limits() -> None:
    """Slope 85 to 105 %, offset 30 mV (half a pH unit at 25 degC)."""
    assert calibrate_two_point(4.0, 4.0, 7.0, 7.0).acceptable
    assert not calibrate_two_point(4.6, 4.0, 7.0, 7.0).acceptable
    assert not calibrate_two_point(4.55, 4.0, 7.55, 7.0).acceptable


def test_a_drop_keeps_the_slopes_error_only() -> None:
    """Printed: 5 % of slope over a 1.5 pH drop costs 0.075 pH; an offset costs nothing."""
    assert drop_error_ph(1.5, 0.95) == pytest.approx(-0.075)
    made = calibrate_two_point(4.3, 4.0, 7.3, 7.0)
    assert made.correct(8.0) - made.correct(6.5) == pytest.approx(1.5)


def test_refusals() -> None:
    with pytest.raises(BadInputError, match="too close"):
        calibrate_two_point(6.9, 6.865, 7.0, 7.0)
    with pytest.raises(BadInputError, match="too close"):
        calibrate_two_point(7.0, 7.0, 4.0, 4.0)
    for call in (
        lambda: calibrate_two_point(4.0, 4.0, 4.2, 7.0),
        lambda: calibrate_two_point(float("nan"), 4.0, 7.0, 7.0),
        lambda: calibrate_two_point_mv(900.0, 4.0, 0.0, 7.0, 25.0),
        lambda: buffer_ph(Buffer.BORAX, -1.0),
        lambda: blue_fraction(15.0, 7.0),
        lambda: bromothymol_blue_pka(0.6),
        lambda: cell_ph(30.0, 25.0, 0.0),
        lambda: cell_co2_from_blue_fraction(0.0, 25.0),
    ):
        with pytest.raises(OutOfRangeError):
            call()


def test_arrays_and_nan() -> None:
    assert cell_blue_fraction([5.0, 10.0, 30.0], [[20.0], [25.0]]).shape == (2, 3)
    assert np.isnan(cell_blue_fraction([np.nan, 30.0], 25.0)).tolist() == [True, False]
    assert np.isnan(buffer_ph(Buffer.BORAX, [np.nan, 20.0])).tolist() == [True, False]
    assert isinstance(buffer_ph(Buffer.BORAX, 20), np.float64)
    assert isinstance(blue_fraction(7, 7), np.float64)
