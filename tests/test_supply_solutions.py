"""Reference solutions, colours, meters, kits and thermometers: published values, Nernst, and identities."""

from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnlevel.chemistry import (
    blue_fraction,
    bromothymol_blue_pka,
    cell_blue_fraction,
    nernst_slope_mv_per_ph,
)
from dawnlevel.errors import BadInputError, OutOfRangeError
from dawnlevel.supply.colours import cell_colours, misread_percent, phosphate_buffer_as_co2_mg_l
from dawnlevel.supply.kh_kit import end_point_bias_dkh, kit_plans
from dawnlevel.supply.ph_meter import Verdict, buffer_ph, calibration_due, drift_ph_per_week, judge
from dawnlevel.supply.solutions import Route, bicarbonate_mg_per_l, dilution_ml, direct_recipe, recipe
from dawnlevel.supply.thermometer import one_degree
from dawnlevel.tank import Buffer, BufferCheck

AT = datetime(2026, 5, 4, 7, 30, tzinfo=UTC)


# --- solutions ---


def test_four_degrees_as_printed() -> None:
    """0.1198 g of NaHCO3 in a litre is 4 dKH; 0.1 dKH is 3.0 mg/L (exact from molar masses)."""
    assert float(bicarbonate_mg_per_l(4.0)) == pytest.approx(119.844, abs=0.001)
    assert bicarbonate_mg_per_l(np.array([0.1, 40.0])) == pytest.approx([3.0, 1198.4], rel=0.002)
    assert np.isnan(bicarbonate_mg_per_l(np.nan))
    with pytest.raises(OutOfRangeError, match="KH"):
        bicarbonate_mg_per_l(-1.0)
    with pytest.raises(BadInputError, match="no number"):
        bicarbonate_mg_per_l("four")


def test_a_kitchen_scale_cannot_weigh_it_and_dilutes() -> None:
    assert direct_recipe(4.0, 1.0, 1.0) is None
    found = recipe(4.0, 1.0, 1.0)
    assert found.route is Route.TWO_STAGE
    assert found.mass_g >= 20.0
    assert found.error_percent < 3.5


def test_a_finer_balance_takes_a_shorter_route() -> None:
    assert recipe(4.0, 1.0, 0.001).route is Route.DIRECT
    assert recipe(4.0, 1.0, 0.01).route is Route.STOCK
    assert recipe(4.0, 5.0, 0.01).route is Route.DIRECT


@settings(deadline=None, max_examples=50)
@given(st.floats(0.5, 20.0), st.floats(0.1, 5.0), st.sampled_from([0.001, 0.01, 0.1, 1.0]))
def test_a_recipe_holds_the_bicarbonate_it_claims(kh: float, volume: float, step: float) -> None:
    found = recipe(kh, volume, step)
    grams, volumes = found.mass_g, (found.stock_ml, *found.filled_ml)
    for taken, stood in zip(found.taken_ml, volumes, strict=False):
        assert taken <= stood
        grams *= taken / stood
    assert volumes[-1] == pytest.approx(1000.0 * volume)
    made_mg_l = 1000.0 * grams / volume
    assert made_mg_l == pytest.approx(float(bicarbonate_mg_per_l(found.kh_dkh)), rel=1e-9)
    assert found.kh_dkh == pytest.approx(kh, rel=0.03)
    digits = found.mass_g / step
    assert digits == pytest.approx(round(digits), abs=1e-4)


def test_the_error_is_what_shaky_hands_would_give() -> None:
    """The same recipe made 20 000 times with random errors of scale, soda and measures."""
    found = recipe(4.0, 1.0, 0.01)
    rng = np.random.default_rng(3)

    def measured(volume: float) -> Any:
        return volume * (1.0 + np.hypot(0.01, 0.1 / volume) * rng.standard_normal(20_000))

    grams = (found.mass_g + rng.uniform(-0.01, 0.01, 20_000)) * (1.0 + 0.005 * rng.standard_normal(20_000))
    strength = grams / measured(found.stock_ml)
    for taken, filled in zip(found.taken_ml, found.filled_ml, strict=True):
        strength = strength * measured(taken) / measured(filled)
    assert 100.0 * strength.std() / strength.mean() == pytest.approx(found.error_percent, rel=0.03)


def test_dilution() -> None:
    assert dilution_ml(40.0, 4.0, 1.0) == pytest.approx(100.0)  # printed: stock 40 dKH, dilute 1:10
    with pytest.raises(BadInputError, match="cannot be diluted"):
        dilution_ml(4.0, 4.0, 1.0)
    with pytest.raises(OutOfRangeError):
        recipe(4.0, 1.0, 50.0)
    with pytest.raises(BadInputError, match="cannot make"):
        recipe(0.1, 0.05, 5.0)


# --- colours ---


def test_ph_in_the_cell_as_phreeqc_has_it() -> None:
    """4 dKH NaHCO3 water with 10 and 30 mg/L CO2 added, 25 degC: 7.129 and 6.654 (PHREEQC, phreeqc.dat)."""
    found = cell_colours([10.0, 30.0])
    assert found.ph == pytest.approx([7.129, 6.654], abs=0.003)
    assert found.blue[1] == pytest.approx(0.20, abs=0.01)  # printed for pKa' 7.245
    assert np.all(found.blue_low < found.blue)
    assert np.all(found.blue < found.blue_high)


@settings(deadline=None, max_examples=50)
@given(st.floats(2.0, 80.0), st.floats(15.0, 30.0), st.floats(7.0, 7.5))
def test_a_standard_looks_like_the_cell_whatever_the_dyes_constant(
    co2: float, temp_c: float, pka: float
) -> None:
    """Cell and standard share the dye, so its uncertain constant cancels."""
    found = cell_colours([co2], temp_c)
    standard = blue_fraction(found.standard_ph[0], bromothymol_blue_pka(0.02, temp_c, pka))
    assert float(standard) == pytest.approx(float(cell_blue_fraction(co2, temp_c, 4.0, pka)), rel=1e-9)


def test_a_shop_buffer_is_no_standard_for_its_own_ph() -> None:
    """0.1 mol/L lowers the dye's constant by 0.322, a 4 dKH cell by 0.055: 6.865 looks like 7.13."""
    looks_like = phosphate_buffer_as_co2_mg_l()
    assert looks_like == pytest.approx(13.5 * 10 ** (7.0 - 6.865 - 0.322 + 0.055), rel=0.01)  # pH 7.0: 13.5


def test_a_phosphate_standard_starts_near_its_ph() -> None:
    """Equal parts at 0.1 mol/L would give the NIST buffer, 6.865."""
    found = cell_colours(np.geomspace(2.0, 60.0, 60), standard_mol_l=0.1)
    equal = float(np.interp(0.0, np.log(found.standard_ratio[::-1]), found.standard_ph[::-1]))
    assert equal == pytest.approx(6.865, abs=0.03)


def test_a_solution_off_by_a_share_misreads_co2_by_that_share() -> None:
    """But for activity: 10 % more salt lowers the activity factor of HCO3- by 0.2 %."""
    assert misread_percent(4.0, 4.4) == pytest.approx(10.0 - 0.2, abs=0.05)
    assert misread_percent(4.4, 4.0) == pytest.approx(100.0 * (1.0 / 1.098 - 1.0), abs=0.05)
    assert misread_percent(4.0, 4.0) == 0.0


# --- the meter ---


def check(
    low_ph: float, high_ph: float, temp_c: float = 25.0, high: Buffer = Buffer.PHOSPHATE
) -> BufferCheck:
    return BufferCheck(at=AT, low_ph=low_ph, high_ph=high_ph, temp_c=temp_c, high=high)


# NIST/IUPAC values at 15, 20, 25 and 30 degC.
@pytest.mark.parametrize(
    ("kind", "values"),
    [
        ("phthalate", (3.998, 4.000, 4.005, 4.011)),
        ("phosphate", (6.900, 6.881, 6.865, 6.853)),
        ("borax", (9.276, 9.225, 9.180, 9.139)),
    ],
)
def test_buffers_by_name(kind: str, values: tuple[float, ...]) -> None:
    assert buffer_ph(kind, [15.0, 20.0, 25.0, 30.0]) == pytest.approx(values, abs=1e-9)


def test_other_buffers_and_temperatures_are_refused() -> None:
    with pytest.raises(BadInputError, match="none of"):
        buffer_ph("citrate", 25.0)
    with pytest.raises(OutOfRangeError) as caught:
        buffer_ph("borax", 80.0)
    assert caught.value.where == "buffer"
    assert np.isnan(buffer_ph("borax", np.nan))


def test_a_perfect_meter_and_a_worn_one() -> None:
    perfect = judge(check(4.005, 6.865))
    assert perfect.slope_percent == pytest.approx(100.0)
    assert perfect.verdict is Verdict.GOOD
    worn = judge(check(4.20, 6.70))  # 2.50 shown over 2.86: 87 %
    assert worn.slope_percent == pytest.approx(100.0 * 2.5 / 2.86, abs=0.01)
    assert worn.verdict is Verdict.WORN
    assert judge(check(4.3, 6.5)).verdict is Verdict.UNFIT
    assert judge(check(4.4, 7.3)).verdict is Verdict.WORN  # 26 mV off


@settings(deadline=None, max_examples=50)
@given(st.floats(0.8, 1.2), st.floats(-0.4, 0.4), st.floats(10.0, 35.0))
def test_slope_and_offset_by_nernst(slope: float, offset: float, temp_c: float) -> None:
    low, high = (float(buffer_ph(kind, temp_c)) for kind in ("phthalate", "borax"))
    shown = [7.0 + offset + slope * (true - 7.0) for true in (low, high)]
    found = judge(check(shown[0], shown[1], temp_c, Buffer.BORAX))
    assert found.slope_percent == pytest.approx(100.0 * slope)
    assert found.offset_mv == pytest.approx(offset * float(nernst_slope_mv_per_ph(temp_c)), abs=1e-6)
    assert found.reading_error_ph(shown[0]) == pytest.approx(shown[0] - low, abs=1e-9)


def test_what_a_bad_slope_does_to_a_drop() -> None:
    """Printed: 5 % of slope over a drop of 1.5 is 0.075 pH, 19 % of CO2; an offset cancels."""
    low, high = (7.0 + 0.95 * (true - 7.0) + 0.2 for true in (4.005, 6.865))
    found = judge(check(low, high))
    assert found.drop_factor(1.5) == pytest.approx(10.0**-0.075, rel=1e-6)
    assert 1.0 / found.drop_factor(1.5) - 1.0 == pytest.approx(0.19, abs=0.003)


def test_drift_and_due_dates() -> None:
    first = check(4.005, 6.865)
    later = BufferCheck(at=AT + timedelta(weeks=2), low_ph=4.105, high_ph=6.965)
    assert drift_ph_per_week(first, later) == pytest.approx(0.05)
    assert drift_ph_per_week(first, check(4.1, 6.9)) is None
    assert calibration_due(AT) == AT + timedelta(weeks=4)


# --- the KH kit ---


def test_larger_samples_give_finer_steps() -> None:
    """Printed: double and quadruple samples give 0.5 and 0.25 dKH a drop; half a drop at 4 dKH is 12.5 %."""
    usual, double, four = kit_plans(4.0, 1.0)
    assert (usual.step_dkh, double.step_dkh, four.step_dkh) == (1.0, 0.5, 0.25)
    assert (usual.drops, double.drops, four.drops) == (4, 8, 16)
    assert usual.counting_percent == pytest.approx(12.5 / np.sqrt(3.0))  # half a drop either way, as an sd
    assert four.counting_percent == pytest.approx(usual.counting_percent / 4.0)
    assert four.with_bias_percent > 7.0  # no sample is large enough against a kit's bias


@pytest.mark.parametrize(
    ("dkh", "ph", "kit_meq_l"),
    [(1.0, 6.6, 0.3809), (1.0, 7.6, 0.3840), (2.0, 6.6, 0.7299), (4.0, 7.6, 1.4382)],
)
def test_end_point_bias_as_phreeqc_has_it(dkh: float, ph: float, kit_meq_l: float) -> None:
    """Kit alkalinity of carbonate water by PHREEQC, end point pH 4.5, total carbon kept."""
    assert end_point_bias_dkh(dkh, ph) == pytest.approx(kit_meq_l / 0.35665 - dkh, abs=0.006)


# --- the thermometer ---


def test_one_degree() -> None:
    """Printed: 2.9 % a degree on the level in air, 1.4 bar on the gauge."""
    found = one_degree(22.0)
    assert found.air_co2_percent == pytest.approx(-2.9, abs=0.15)
    assert found.gauge_bar == pytest.approx(1.4, abs=0.03)
    assert found.co2_percent == pytest.approx(-100.0 * np.log(10) * 0.0062, abs=0.15)  # dpK1/dt of 20 to 25
    with pytest.raises(OutOfRangeError):
        one_degree(35.0)
