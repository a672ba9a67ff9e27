"""The formula against whole programs of others: PHREEQC (phreeqc.dat) and PyCO2SYS."""

import itertools

import numpy as np
import numpy.typing as npt
import PyCO2SYS
import pytest
from check_tables import half_digit, table
from hypothesis import given, settings
from hypothesis import strategies as st
from phreeqc_oracle import CO2_G_MOL, co2_mg_kg, solution

from dawnlevel.chemistry import (
    air_co2_mg_l,
    co2_from_ph,
    degassed_ph,
    dic_mmol_l,
    ionic_strength_from_alkalinity,
    ionic_strength_from_conductivity,
    ionic_strength_from_hardness,
    kit_alkalinity_meq_l,
    ph_from_co2,
    short_rule_error,
)
from dawnlevel.errors import OutOfRangeError
from dawnlevel.units import dkh_to_meq_l, meq_l_to_dkh, mmol_l_to_dgh

Floats = npt.NDArray[np.float64]

# The grid of the published comparison: 288 sodium hydrogencarbonate waters.
GRID = np.array(
    list(
        itertools.product(
            (15.0, 18.0, 20.0, 22.0, 25.0, 28.0, 30.0, 32.0),
            (0.5, 1.0, 2.0, 3.0, 4.0, 6.0),
            (6.0, 6.4, 6.8, 7.2, 7.6, 8.0),
        )
    )
)
TEMP_C, ALKALINITY, PH = GRID.T


@pytest.fixture(scope="module")
def phreeqc_na() -> Floats:
    """CO2 [mg/kg] of the grid's sodium waters by PHREEQC."""
    return np.array([co2_mg_kg(temp=t, ph=ph, Alkalinity=alk, Na=alk) for t, alk, ph in GRID])


def test_the_oracle_itself_gives_the_printed_check_points() -> None:
    for method, ion in (("phreeqc_na", {"Na": 1.0}), ("phreeqc_ca", {"Ca": 0.5})):
        for row in table("check_points", method=method):
            alkalinity = float(row["alkalinity_meq_l"])
            ions = {name: share * alkalinity for name, share in ion.items()}
            found = co2_mg_kg(temp=float(row["temp_c"]), ph=float(row["ph"]), Alkalinity=alkalinity, **ions)
            assert found == pytest.approx(float(row["printed"]), abs=half_digit(row["printed"])), row


def test_co2_from_ph_on_288_sodium_waters(phreeqc_na: Floats) -> None:
    """Within 0.3 % everywhere; the median is the published +0.06 %."""
    deviation = co2_from_ph(PH, ALKALINITY, TEMP_C) / phreeqc_na - 1.0
    assert np.abs(deviation).max() < 0.003
    assert 100.0 * np.median(deviation) == pytest.approx(0.06, abs=0.005)


def test_ph_from_co2_on_288_sodium_waters(phreeqc_na: Floats) -> None:
    """The other way within what 0.3 % of CO2 is in pH at a fixed alkalinity: 0.0013."""
    assert np.abs(ph_from_co2(phreeqc_na, ALKALINITY, TEMP_C) - PH).max() < np.log10(1.003)


def test_dic_on_sodium_waters() -> None:
    for t, alk, ph in GRID[::17]:
        with solution(temp=t, pH=ph, Alkalinity=alk, Na=alk) as water:
            carbon = water.total_element("C")
        assert dic_mmol_l(ph, alk, t) == pytest.approx(carbon, rel=0.003)


@settings(max_examples=150, deadline=None)
@given(st.floats(5.5, 8.2), st.floats(0.2, 6.0), st.floats(5.0, 35.0))
def test_any_sodium_water(ph: float, alkalinity: float, temp_c: float) -> None:
    expected = co2_mg_kg(temp=temp_c, ph=ph, Alkalinity=alkalinity, Na=alkalinity)
    assert co2_from_ph(ph, alkalinity, temp_c) == pytest.approx(expected, rel=0.004)


def test_published_error_of_leaving_activity_out(phreeqc_na: Floats) -> None:
    """+5.8 % median, +2.6 to +9.4 %: what the activity correction is worth."""
    deviation = 100.0 * (co2_from_ph(PH, ALKALINITY, TEMP_C, 0.0) / phreeqc_na - 1.0)
    found = [np.median(deviation), deviation.min(), deviation.max()]
    assert found == pytest.approx([5.8, 2.6, 9.4], abs=0.06)


def test_published_error_of_the_short_rule(phreeqc_na: Floats) -> None:
    """-11.9 % median, -25.4 to +1.1 %; by temperature as printed."""
    error = short_rule_error(PH, meq_l_to_dkh(ALKALINITY), TEMP_C)
    deviation = 100.0 * ((1.0 + error) * co2_from_ph(PH, ALKALINITY, TEMP_C) / phreeqc_na - 1.0)
    found = [np.median(deviation), deviation.min(), deviation.max()]
    assert found == pytest.approx([-11.9, -25.4, 1.1], abs=0.06)
    for temp_c, median in ((15.0, -22.7), (20.0, -15.8), (25.0, -9.7), (30.0, -4.6), (32.0, -2.8)):
        assert np.median(deviation[temp_c == TEMP_C]) == pytest.approx(median, abs=0.06)


def _pyco2sys(ph: Floats) -> Floats:
    return PyCO2SYS.sys(
        par1=ph, par1_type=3, par2=1e3 * ALKALINITY, par2_type=1,
        salinity=0, temperature=TEMP_C, opt_k_carbonic=8, opt_pH_scale=3,
    )["CO2"] * (CO2_G_MOL * 1e-3)  # fmt: skip


def test_constants_through_pyco2sys() -> None:
    """Without activity the two programs differ by their constants only: 0.25 %."""
    without = co2_from_ph(PH, ALKALINITY, TEMP_C, 0.0)
    assert np.abs(_pyco2sys(PH) / without - 1.0).max() < 0.0025
    for row, ph in zip(table("check_points", method="pyco2sys"), (6.8, 6.4, 7.2, 7.6, 6.0, 8.0), strict=True):
        found = co2_from_ph(ph, float(row["alkalinity_meq_l"]), float(row["temp_c"]), 0.0)
        assert found == pytest.approx(float(row["printed"]), rel=0.003)


def _mixed(row: dict[str, str]) -> tuple[float, float]:
    """PHREEQC's CO2 [mg/kg] and ionic strength [mol/kg] of a mixed water."""
    with solution(
        temp=float(row["temp_c"]), pH=float(row["ph"]), Alkalinity=float(row["alkalinity_meq_l"]),
        Ca=float(row["calcium_mmol_l"]), Mg=float(row["magnesium_mmol_l"]), K=float(row["potassium_mmol_l"]),
        Cl="1 charge", **{"N(5)": float(row["nitrate_mmol_l"]), "S(6)": float(row["sulphate_mmol_l"])},
    ) as water:  # fmt: skip
        return CO2_G_MOL * water.molality("CO2"), water.I


@pytest.mark.parametrize("row", table("mixed_waters"), ids=lambda r: f"{r['water']}-{r['temp_c']}-{r['ph']}")
def test_mixed_waters_to_17_dkh(row: dict[str, str]) -> None:
    """With pairs, ionic strength true or by conductivity, within 1 %; printed deviations are met, too."""
    co2, ionic = _mixed(row)
    assert co2 == pytest.approx(float(row["co2_mg_kg"]), abs=0.0006)
    assert 1e3 * ionic == pytest.approx(float(row["ionic_strength_mmol_kg"]), abs=0.0051)
    ph, alkalinity, t = float(row["ph"]), float(row["alkalinity_meq_l"]), float(row["temp_c"])
    calcium, magnesium = float(row["calcium_mmol_l"]), float(row["magnesium_mmol_l"])
    hard = {"calcium_mmol_l": calcium, "magnesium_mmol_l": magnesium}
    by_conductivity = ionic_strength_from_conductivity(float(row["conductivity_us_cm"]))
    paired = co2_from_ph(ph, alkalinity, t, ionic, **hard)
    assert abs(paired / co2 - 1.0) < 0.01
    assert abs(co2_from_ph(ph, alkalinity, t, by_conductivity, **hard) / co2 - 1.0) < 0.01
    assert ph_from_co2(co2, alkalinity, t, ionic, **hard) == pytest.approx(ph, abs=np.log10(1.01))
    for found, printed in (
        (co2_from_ph(ph, alkalinity, t), row["dev_alkalinity"]),
        (co2_from_ph(ph, alkalinity, t, by_conductivity), row["dev_conductivity"]),
        (co2_from_ph(ph, alkalinity, t, ionic), row["dev_true"]),
        (paired, row["dev_pairs"]),
        (co2_from_ph(ph, alkalinity, t, 0.0), row["dev_no_activity"]),
    ):
        assert 100.0 * (found / co2 - 1.0) == pytest.approx(float(printed), abs=0.0151)


@pytest.mark.parametrize("row", table("mixed_waters"), ids=lambda r: f"{r['water']}-{r['temp_c']}-{r['ph']}")
def test_hardness_alone_gives_a_usable_ionic_strength(row: dict[str, str]) -> None:
    """With calcium and magnesium given and nothing else measured, CO2 within 1 % of PHREEQC."""
    co2, ionic = _mixed(row)
    ph, alkalinity, t = float(row["ph"]), float(row["alkalinity_meq_l"]), float(row["temp_c"])
    calcium, magnesium = float(row["calcium_mmol_l"]), float(row["magnesium_mmol_l"])
    found = co2_from_ph(ph, alkalinity, t, calcium_mmol_l=calcium, magnesium_mmol_l=magnesium)
    assert found == pytest.approx(co2, rel=0.01)
    guessed = ionic_strength_from_hardness(mmol_l_to_dgh(calcium + magnesium), meq_l_to_dkh(alkalinity))
    assert 0.6 * ionic < guessed < 1.1 * ionic


def test_ionic_strength_of_simple_waters() -> None:
    """Definition: NaHCO3 has I = its molarity, Ca(HCO3)2 three times its molarity; PHREEQC agrees."""
    assert ionic_strength_from_alkalinity(2.0) == pytest.approx(0.002)
    assert ionic_strength_from_hardness(mmol_l_to_dgh(1.0), meq_l_to_dkh(2.0)) == pytest.approx(0.003)
    with solution(temp=25.0, pH=7.0, Alkalinity=2.0, Ca=1.0) as water:
        assert pytest.approx(water.I, rel=0.02) == 0.003
    for refused in (ionic_strength_from_alkalinity, ionic_strength_from_conductivity):
        with pytest.raises(OutOfRangeError):
            refused(-0.1)


@pytest.mark.parametrize("cation", ["na", "ca"])
def test_degassed_ph_as_phreeqc_printed_it(cation: str) -> None:
    """Sodium water to 0.0015 pH; calcium water, whose pairs and activity are left out, to 0.025 pH."""
    for row in table("degassed_ph", method=f"phreeqc_{cation}"):
        found = degassed_ph(dkh_to_meq_l(float(row["kh_dkh"])), 25.0, 420.0)
        assert found == pytest.approx(float(row["printed"]), abs=0.0015 if cation == "na" else 0.025)


@pytest.mark.parametrize("temp_c", [15.0, 20.0, 25.0, 30.0])
@pytest.mark.parametrize("kh_dkh", [1.0, 4.0, 8.0])
@pytest.mark.parametrize("ppm", [420.0, 1500.0])
def test_water_at_rest_with_wet_air_in_phreeqc(temp_c: float, kh_dkh: float, ppm: float) -> None:
    """PHREEQC finds pH and CO2 from pressure and charge balance: 0.3 %, 0.003 pH (NaCO3- from pH 8.6)."""
    alkalinity = dkh_to_meq_l(kh_dkh)
    dry_atm = 1.0 - {15.0: 0.01683, 20.0: 0.02308, 25.0: 0.03128, 30.0: 0.04190}[temp_c]  # steam tables
    pressure = np.log10(ppm * 1e-6 * dry_atm)
    with solution(temp=temp_c, pH="7 charge", Na=alkalinity, **{"C(4)": f"1 CO2(g) {pressure}"}) as water:
        co2, ph = CO2_G_MOL * water.molality("CO2"), water.pH
    density = {15.0: 0.99910, 20.0: 0.99821, 25.0: 0.99705, 30.0: 0.99565}[temp_c]  # kg/L, steam tables
    assert air_co2_mg_l(temp_c, ppm) == pytest.approx(co2 * density, rel=0.003)
    assert degassed_ph(alkalinity, temp_c, ppm) == pytest.approx(ph, abs=0.003)


@pytest.mark.parametrize("phosphate_mg_l", [0.0, 5.0])
@pytest.mark.parametrize(
    ("kh_dkh", "ph", "temp_c"), [(1.0, 6.6, 25.0), (2.0, 7.6, 25.0), (4.0, 7.0, 15.0), (2.0, 7.2, 30.0)]
)
def test_a_drop_kit_played_in_phreeqc(kh_dkh: float, ph: float, temp_c: float, phosphate_mg_l: float) -> None:
    """Acid to pH 4.5, the CO2 kept: what the kit counts, to 0.5 % (PHREEQC counts the salts, too)."""
    carbonate, phosphate = dkh_to_meq_l(kh_dkh), phosphate_mg_l / 94.9714
    carbon = dic_mmol_l(ph, carbonate, temp_c)
    with solution(temp=temp_c, pH=ph, Na="1 charge", **{"C(4)": carbon, "P": phosphate}) as water:
        low, high = 0.0, 3.0 * carbonate
        for _ in range(40):
            acid = 0.5 * (low + high)
            titrated = water.copy()
            titrated.add("HCl", acid, "mmol")
            low, high = (acid, high) if titrated.pH > 4.5 else (low, acid)
            titrated.forget()
    found = kit_alkalinity_meq_l(carbonate, ph, temp_c, phosphate_mg_l=phosphate_mg_l)
    assert found == pytest.approx(acid, rel=0.005)
