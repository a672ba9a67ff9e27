"""The practice tank's water tables against the checked chemistry and against PHREEQC."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from phreeqc_oracle import solution

from dawnlevel.chemistry import ph_from_co2
from dawnlevel.practice.water import KIT_END_POINT_PH, PO4_G_MOL, Water, make_water, other_alkalinity_meq_l
from dawnlevel.units import dkh_to_meq_l

KH4_MEQ_L = float(dkh_to_meq_l(4.0))


@pytest.fixture(scope="module")
def plain() -> Water:
    return make_water(KH4_MEQ_L, 3e-3, 0.0, 0.0, 25.0)


@pytest.mark.parametrize("co2_mg_l", [0.6, 3.0, 11.0, 30.0, 80.0])
@pytest.mark.parametrize("temp_c", [19.0, 25.0, 28.0])
def test_plain_water_reads_as_the_checked_chemistry_says(
    plain: Water, co2_mg_l: float, temp_c: float
) -> None:
    expected = float(ph_from_co2(co2_mg_l, KH4_MEQ_L, temp_c, 3e-3))
    # pH is taken as straight between two temperatures 9 degrees apart
    assert plain.ph(co2_mg_l, temp_c) == pytest.approx(expected, abs=0.003)


@given(st.floats(0.1, 150.0))
def test_level_and_excess_are_each_others_inverse(co2_mg_l: float) -> None:
    water = make_water(KH4_MEQ_L, 3e-3, 2.0, 3.0, 25.0)
    assert water.co2(water.excess(co2_mg_l)) == pytest.approx(co2_mg_l, rel=1e-6)


def test_excess_rises_with_the_level_and_the_level_falls_with_ph(plain: Water) -> None:
    assert np.all(np.diff(plain.excess_mg_l) > 0.0)
    assert np.all(np.diff(plain.ph_cold) < 0.0)


@pytest.mark.parametrize("ph", [6.2, 7.0, 8.1])
def test_level_at_ph_undoes_ph(plain: Water, ph: float) -> None:
    assert plain.ph(plain.level_at_ph(ph, 24.0), 24.0) == pytest.approx(ph, abs=1e-3)


def test_other_alkalinity_is_nothing_at_the_kits_end_point_and_nothing_of_nothing() -> None:
    assert float(other_alkalinity_meq_l(KIT_END_POINT_PH, 5.0, 5.0, 3e-3)) == pytest.approx(0.0, abs=1e-12)
    assert float(other_alkalinity_meq_l(8.0, 0.0, 0.0, 3e-3)) == 0.0


@pytest.mark.parametrize("ph", [6.6, 7.6])
def test_phosphates_share_agrees_with_phreeqc(ph: float) -> None:
    with solution(temp=25, pH=ph, Na=3.0, Cl="2.0 charge", P=5.0 / PO4_G_MOL) as made:
        charged = float(made.molality("HPO4-2")) + float(made.molality("NaHPO4-"))
        ionic = float(made.I)
    with solution(temp=25, pH=KIT_END_POINT_PH, Na=3.0, Cl="2.0 charge", P=5.0 / PO4_G_MOL) as made:
        charged_at_end = float(made.molality("HPO4-2")) + float(made.molality("NaHPO4-"))
    found = float(other_alkalinity_meq_l(ph, 5.0, 0.0, ionic))
    assert found == pytest.approx(charged - charged_at_end, rel=0.02)


@pytest.mark.parametrize(("phosphate", "doc"), [(5.0, 0.0), (0.0, 10.0)])
def test_what_is_no_carbonate_makes_a_formula_over_read(phosphate: float, doc: float) -> None:
    """With other alkalinity the same pH comes with less CO2 than pH and KH suggest."""
    kh2 = float(dkh_to_meq_l(2.0))
    plain = make_water(kh2, 2e-3, 0.0, 0.0, 25.0)
    mixed = make_water(kh2, 2e-3, phosphate, doc, 25.0)
    assert mixed.level_at_ph(6.6, 25.0) < plain.level_at_ph(6.6, 25.0)
