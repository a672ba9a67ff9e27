"""CO2 from pH and back: printed check points, identities and properties."""

from collections.abc import Callable

import numpy as np
import pytest
from check_tables import half_digit, table
from hypothesis import assume, given
from hypothesis import strategies as st

from dawnlevel.chemistry import (
    air_co2_mg_l,
    carbonate_coefficients,
    co2_from_ph,
    co2_from_ph_fast,
    davies_gamma,
    degassed_ph,
    dic_mmol_l,
    ph_from_co2,
    ph_from_co2_fast,
    pressure_atm_at_altitude,
    short_rule_co2_mg_l,
)
from dawnlevel.errors import BadInputError, OutOfRangeError
from dawnlevel.units import dkh_to_meq_l, hpa_to_atm, meq_l_to_dkh

PH = st.floats(5.0, 9.0)
ALKALINITY = st.floats(0.1, 20.0)
TEMP = st.floats(0.0, 40.0)
CO2 = st.floats(0.01, 500.0)


@pytest.mark.parametrize(
    "row", table("cell_4_dkh"), ids=lambda r: f"{r['direction']}-{r['temp_c']}-{r['given']}"
)
def test_4_dkh_as_printed(row: dict[str, str]) -> None:
    """To the printed digit and 2e-5 pH: the printed values took 1 dKH as 0.3566 meq/L, 5e-5 less."""
    function = {"ph_from_co2": ph_from_co2, "co2_from_ph": co2_from_ph}[row["direction"]]
    found = function(float(row["given"]), dkh_to_meq_l(4.0), float(row["temp_c"]))
    assert found == pytest.approx(float(row["printed"]), abs=half_digit(row["printed"]) + 2e-5)


@pytest.mark.parametrize(
    "row",
    table("air_equilibrium"),
    ids=lambda r: f"{r['temp_c']}-{r['room_co2_ppm']}-{r['pressure_hpa']}",
)
def test_air_equilibrium_as_printed(row: dict[str, str]) -> None:
    found = air_co2_mg_l(
        float(row["temp_c"]), float(row["room_co2_ppm"]), hpa_to_atm(float(row["pressure_hpa"]))
    )
    assert found == pytest.approx(float(row["printed"]), abs=1.02 * half_digit(row["printed"]))


@pytest.mark.parametrize(
    ("temp_c", "printed"),
    [(25.0, 0.6064), (15.0, 0.8243)],
)
def test_air_equilibrium_of_another_package(temp_c: float, printed: float) -> None:
    """Documentation of a package using Weiss & Price 1980, 420 ppm (second-hand): real gas, 0.5 % apart."""
    assert air_co2_mg_l(temp_c, 420.0) == pytest.approx(printed, rel=0.005)


@pytest.mark.parametrize(
    "row",
    table("degassed_ph", method="formula") + table("degassed_ph", method="formula_no_activity"),
    ids=lambda r: f"{r['method']}-{r['kh_dkh']}-{r['temp_c']}-{r['room_co2_ppm']}",
)
def test_degassed_ph_as_printed(row: dict[str, str]) -> None:
    ionic = 0.0 if row["method"] == "formula_no_activity" else None
    alkalinity = dkh_to_meq_l(float(row["kh_dkh"]))
    found = degassed_ph(alkalinity, float(row["temp_c"]), float(row["room_co2_ppm"]), 1.0, ionic)
    assert found == pytest.approx(float(row["printed"]), abs=half_digit(row["printed"]))


@pytest.mark.parametrize("method", ["formula_na", "short_rule"])
def test_check_points_as_printed(method: str) -> None:
    for row in table("check_points", method=method):
        ph, alkalinity, temp_c = (float(row[key]) for key in ("ph", "alkalinity_meq_l", "temp_c"))
        found = (
            co2_from_ph(ph, alkalinity, temp_c)
            if method == "formula_na"
            else short_rule_co2_mg_l(ph, meq_l_to_dkh(alkalinity))
        )
        # the short rule's printed values took 1 dKH as 0.3566 meq/L, 5e-5 less
        rounded = 6e-5 * found if method == "short_rule" else 0.0
        assert found == pytest.approx(float(row["printed"]), abs=half_digit(row["printed"]) + rounded), row


def test_activity_of_bicarbonate_at_4_dkh() -> None:
    """0.9585 by Davies as printed; pyEQL 1.7.0 gives 0.9591 (another program)."""
    found = davies_gamma(1.43e-3, 25.0)
    assert found == pytest.approx(0.9585, abs=0.00005)
    assert found == pytest.approx(0.9591, abs=0.001)
    assert davies_gamma(1.43e-3, 25.0, 2) == pytest.approx(found**4, rel=1e-12)


@pytest.mark.parametrize(
    ("altitude_m", "hpa"),
    [
        (0, 1013),
        (250, 984),
        (500, 955),
        (750, 926),
        (1000, 899),
        (1500, 846),
        (2000, 795),
        (2500, 747),
        (3000, 701),
    ],
)
def test_pressure_by_altitude_as_printed(altitude_m: float, hpa: float) -> None:
    """ICAO standard atmosphere; the fluids library gives 89876 Pa at 1000 m and 79501 Pa at 2000 m."""
    assert 1013.25 * pressure_atm_at_altitude(altitude_m) == pytest.approx(hpa, abs=0.5)
    assert 101325.0 * pressure_atm_at_altitude([1000.0, 2000.0]) == pytest.approx(
        [89876.0, 79501.0], rel=1e-4
    )


@given(PH, ALKALINITY, TEMP, st.floats(0.0, 0.5))
def test_there_and_back_by_ph(ph: float, alkalinity: float, temp_c: float, ionic: float) -> None:
    assume(10.0 ** (ph - 14.0) < 0.3e-3 * alkalinity)  # hydroxide well below the alkalinity
    co2 = co2_from_ph(ph, alkalinity, temp_c, ionic)
    assume(co2 <= 2000.0)
    assert ph_from_co2(co2, alkalinity, temp_c, ionic) == pytest.approx(ph, abs=1e-9)


@given(CO2, st.floats(0.3, 20.0), TEMP, st.floats(0.0, 5.0), st.floats(0.0, 3.0))
def test_there_and_back_by_co2_in_hard_water(
    co2: float, alkalinity: float, temp_c: float, calcium: float, magnesium: float
) -> None:
    hard = {"calcium_mmol_l": calcium, "magnesium_mmol_l": magnesium}
    ph = ph_from_co2(co2, alkalinity, temp_c, **hard)
    assume(ph <= 10.0)
    assert co2_from_ph(ph, alkalinity, temp_c, **hard) == pytest.approx(co2, rel=1e-8)


@given(PH, ALKALINITY, TEMP)
def test_charge_balance_and_carbon_close(ph: float, alkalinity: float, temp_c: float) -> None:
    """The defining identities, written out: HCO3 + 2 CO3 + OH - H = Alk and CO2 + HCO3 + CO3 = DIC."""
    assume(10.0 ** (ph - 14.0) < 0.3e-3 * alkalinity)
    c = carbonate_coefficients(alkalinity, temp_c)
    a = 10.0**-ph
    co2 = co2_from_ph(ph, alkalinity, temp_c) / 44.0095
    hco3 = c.k1 * co2 / a
    co3 = c.k2 * hco3 / a
    assert hco3 + 2.0 * co3 + 1e3 * (c.kw / a - a / c.gamma1) == pytest.approx(alkalinity, rel=1e-9)
    assert dic_mmol_l(ph, alkalinity, temp_c) == pytest.approx(co2 + hco3 + co3, rel=1e-9)


@given(st.floats(5.0, 8.5), st.floats(0.2, 15.0), TEMP, st.floats(0.001, 0.5))
def test_more_alkalinity_or_less_ph_means_more_co2(
    ph: float, alkalinity: float, temp_c: float, step: float
) -> None:
    here = co2_from_ph(ph, alkalinity, temp_c)
    assert co2_from_ph(ph + step, alkalinity, temp_c) < here
    assert co2_from_ph(ph, alkalinity + step, temp_c) > here


@given(st.floats(5.0, 8.5), st.floats(0.2, 15.0), st.floats(0.0, 39.0), st.floats(0.0, 0.1))
def test_warmer_or_saltier_water_has_less_co2_at_one_ph(
    ph: float, alkalinity: float, temp_c: float, ionic: float
) -> None:
    """K1 grows with temperature to about 50 degC, activity falls with ionic strength to about 0.5 mol/L."""
    here = co2_from_ph(ph, alkalinity, temp_c, ionic)
    assert co2_from_ph(ph, alkalinity, temp_c + 1.0, ionic) < here
    assert co2_from_ph(ph, alkalinity, temp_c, ionic + 0.01) < here


@given(st.floats(0.0, 39.0), st.floats(10.0, 40000.0), st.floats(0.5, 1.1))
def test_air_equilibrium_is_monotone(temp_c: float, ppm: float, pressure: float) -> None:
    here = air_co2_mg_l(temp_c, ppm, pressure)
    assert air_co2_mg_l(temp_c + 0.5, ppm, pressure) < here
    assert air_co2_mg_l(temp_c, ppm * 1.01, pressure) > here
    assert air_co2_mg_l(temp_c, ppm, pressure + 0.01) > here


@given(CO2, ALKALINITY, TEMP, st.floats(0.001, 0.5))
def test_more_co2_or_less_alkalinity_means_less_ph(
    co2: float, alkalinity: float, temp_c: float, step: float
) -> None:
    here = ph_from_co2(co2, alkalinity, temp_c)
    assert ph_from_co2(co2 * (1.0 + step), alkalinity, temp_c) < here
    assert ph_from_co2(co2, max(alkalinity * (1.0 - step), 0.01), temp_c) < here


@given(CO2, ALKALINITY, TEMP, st.floats(0.0, 5.0))
def test_calcium_pairs_lower_the_co2_behind_a_ph(
    co2: float, alkalinity: float, temp_c: float, calcium: float
) -> None:
    ionic = 0.01
    ph = ph_from_co2(co2, alkalinity, temp_c, ionic)
    paired = ph_from_co2(co2, alkalinity, temp_c, ionic, calcium_mmol_l=calcium + 0.01)
    assert paired < ph


def test_closed_form_against_bisection() -> None:
    """The fast form within 2e-5 pH, Newton's within 1e-12, of 60 bisections over the whole checked range."""
    rng = np.random.default_rng(20)
    n = 20_000
    co2, alkalinity = 10.0 ** rng.uniform(-6.0, 3.3, n), 10.0 ** rng.uniform(-2.0, 1.3, n)
    temp_c, ionic = rng.uniform(0.0, 40.0, n), rng.uniform(0.0, 0.5, n)
    c = carbonate_coefficients(alkalinity, temp_c, ionic)
    low, high = np.zeros(n), np.full(n, 14.0)
    for _ in range(60):
        middle = 0.5 * (low + high)
        a = 10.0**-middle
        k1_co2 = c.k1 * co2 / 44009.5
        balance = k1_co2 / a + 2.0 * c.k2 * k1_co2 / a**2 + c.kw / a - a / c.gamma1 - 1e-3 * alkalinity
        low, high = np.where(balance > 0.0, low, middle), np.where(balance > 0.0, middle, high)
    assert np.abs(ph_from_co2(co2, alkalinity, temp_c, ionic) - middle).max() < 1e-12
    assert np.abs(ph_from_co2_fast(co2, alkalinity, c) - middle).max() < 2e-5
    assert co2_from_ph_fast(middle, alkalinity, c) == pytest.approx(co2, rel=1e-6)


def test_shapes_broadcast_and_scalars_stay_scalars() -> None:
    found = co2_from_ph(np.linspace(6.0, 8.0, 5), np.array([[1.0], [2.0], [4.0]]), 25.0)
    assert found.shape == (3, 5)
    assert found[1, 2] == co2_from_ph(7.0, 2.0, 25.0)
    assert isinstance(co2_from_ph(7, 2, 25), np.float64)
    assert isinstance(ph_from_co2(30, 2, 25), np.float64)
    assert isinstance(degassed_ph(2, 25, 420), np.float64)
    assert co2_from_ph(np.array([]), 2.0, 25.0).shape == (0,)
    assert ph_from_co2([10.0, 30.0], [[1.0], [2.0]], 25.0).shape == (2, 2)


def test_long_arrays_are_worked_in_blocks_with_the_same_result() -> None:
    rng = np.random.default_rng(7)
    ph, alkalinity = rng.uniform(6.0, 8.0, (3, 40_000)), rng.uniform(0.5, 6.0, (3, 1))
    temp_c, calcium = rng.uniform(15.0, 30.0, 40_000), np.array([[0.0], [1.0], [2.0]])
    found = co2_from_ph(ph, alkalinity, temp_c, calcium_mmol_l=calcium)
    assert found.shape == (3, 40_000)
    for row, column in ((0, 0), (1, 16_383), (1, 16_384), (2, 32_767), (2, 39_999)):
        alone = co2_from_ph(
            ph[row, column], alkalinity[row, 0], temp_c[column], calcium_mmol_l=calcium[row, 0]
        )
        assert found[row, column] == pytest.approx(alone, rel=1e-13)
    assert ph_from_co2(found, alkalinity, temp_c, calcium_mmol_l=calcium) == pytest.approx(ph, abs=1e-9)


def test_nan_gives_nan_there_and_only_there() -> None:
    ph, alkalinity, temp_c = (
        np.array([7.0, np.nan, 7.0, 7.0]),
        np.array([2, 2, np.nan, 2]),
        np.array([25, 25, 25, np.nan]),
    )
    assert np.isnan(co2_from_ph(ph, alkalinity, temp_c)).tolist() == [False, True, True, True]
    assert np.isnan(ph_from_co2(ph, alkalinity, temp_c)).tolist() == [False, True, True, True]
    assert np.isnan(air_co2_mg_l(np.nan, 420.0))
    assert np.isnan(co2_from_ph(7.0, 2.0, 25.0, 0.01, calcium_mmol_l=np.nan))


@pytest.mark.parametrize(
    "call",
    [
        lambda: co2_from_ph(3.9, 2.0, 25.0),
        lambda: co2_from_ph([7.0, np.nan, 10.1], 2.0, 25.0),
        lambda: co2_from_ph(7.0, 0.009, 25.0),
        lambda: co2_from_ph(7.0, 20.1, 25.0),
        lambda: co2_from_ph(7.0, 2.0, -0.1),
        lambda: co2_from_ph(7.0, 2.0, 40.1),
        lambda: co2_from_ph(7.0, 2.0, 77.0),
        lambda: co2_from_ph(7.0, 2.0, 25.0, -1e-9),
        lambda: co2_from_ph(7.0, 2.0, 25.0, 0.51),
        lambda: co2_from_ph(7.0, 2.0, 25.0, calcium_mmol_l=-0.1),
        lambda: co2_from_ph(7.0, 2.0, 25.0, magnesium_mmol_l=21.0),
        lambda: co2_from_ph(np.inf, 2.0, 25.0),
        lambda: ph_from_co2(0.0, 2.0, 25.0),
        lambda: ph_from_co2(-1.0, 2.0, 25.0),
        lambda: ph_from_co2(2001.0, 2.0, 25.0),
        lambda: air_co2_mg_l(25.0, 0.0),
        lambda: air_co2_mg_l(25.0, 420.0, 0.3),
        lambda: air_co2_mg_l(25.0, 420.0, 1013.25),
        lambda: davies_gamma(0.1, 25.0, 5),
        lambda: pressure_atm_at_altitude(9000.0),
    ],
)
def test_out_of_range_is_refused(call: Callable[[], object]) -> None:
    with pytest.raises(OutOfRangeError):
        call()


def test_the_refusal_names_the_quantity_the_value_and_the_range() -> None:
    with pytest.raises(OutOfRangeError, match=r"pH is 11.5, outside 4 to 10\."):
        co2_from_ph([7.0, np.nan, 11.5], 2.0, 25.0)


def test_a_ph_that_the_alkalinity_cannot_carry_is_refused() -> None:
    with pytest.raises(BadInputError, match="too high for so little alkalinity"):
        co2_from_ph(9.9, 0.01, 25.0)
