"""Conversions: exact identities by definition, the published degree, and there-and-back."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnlevel import units

PAIRS = [
    (units.dkh_to_meq_l, units.meq_l_to_dkh),
    (units.dkh_to_mg_l_caco3, units.mg_l_caco3_to_dkh),
    (units.meq_l_to_mg_l_caco3, units.mg_l_caco3_to_meq_l),
    (units.dgh_to_mmol_l, units.mmol_l_to_dgh),
    (units.fahrenheit_to_celsius, units.celsius_to_fahrenheit),
    (units.us_gallon_to_l, units.l_to_us_gallon),
    (units.inch_to_cm, units.cm_to_inch),
    (units.lb_to_kg, units.kg_to_lb),
    (units.hpa_to_atm, units.atm_to_hpa),
]


@pytest.mark.parametrize(("there", "back"), PAIRS, ids=lambda f: f.__name__)
@given(st.floats(-1e6, 1e6))
def test_there_and_back(
    there: Callable[[float], float], back: Callable[[float], float], value: float
) -> None:
    assert back(there(value)) == pytest.approx(value, rel=1e-12, abs=1e-9)


@pytest.mark.parametrize(
    ("found", "exact"),
    [
        (units.inch_to_cm(1.0), 2.54),  # international yard and pound agreement, 1959
        (units.lb_to_kg(1.0), 0.45359237),  # the same
        (units.us_gallon_to_l(1.0), 3.785411784),  # 231 cubic inches
        (units.hpa_to_atm(1013.25), 1.0),  # standard atmosphere, 10th CGPM
        (units.fahrenheit_to_celsius(32.0), 0.0),  # definition
        (units.fahrenheit_to_celsius(212.0), 100.0),  # definition
        (units.celsius_to_fahrenheit(-40.0), -40.0),  # definition
        (units.dkh_to_meq_l(56.0774), 20.0),  # 10 mg/L CaO a degree, CaO 56.0774 g/mol, 2 eq/mol
        (units.dgh_to_mmol_l(56.0774), 10.0),  # the same
    ],
)
def test_exact_by_definition(found: float, exact: float) -> None:
    assert found == pytest.approx(exact, rel=1e-15)


@pytest.mark.parametrize(
    ("found", "printed", "tolerance"),
    [
        # Chemistry lexicon: 1 dH = 17.8 mg/L CaCO3 = 0.357 meq/L = 0.1783 mmol/L (checked against its table)
        (units.dkh_to_mg_l_caco3(1.0), 17.8, 0.05),
        (units.dkh_to_meq_l(1.0), 0.357, 0.0005),
        (units.dgh_to_mmol_l(1.0), 0.1783, 0.00005),
        # from molar masses (computed independently)
        (units.dkh_to_meq_l(1.0), 0.35665, 0.000005),
        (units.dkh_to_mg_l_caco3(1.0), 17.848, 0.0005),
        (units.meq_l_to_mg_l_caco3(1.0), 50.043, 0.0005),
        (units.meq_l_to_dkh(1.0), 2.804, 0.0005),
        (units.dkh_to_meq_l(4.0), 1.4266, 0.00005),
        (units.dkh_to_mg_l_nahco3(4.0), 119.844, 0.0005),
        (units.dkh_to_mg_l_nahco3(0.1), 3.0, 0.05),
    ],
)
def test_the_german_degree_as_printed(found: float, printed: float, tolerance: float) -> None:
    assert found == pytest.approx(printed, abs=tolerance)


def test_feet_as_nist_prints_them() -> None:
    """NIST SP 811, appendix B.8: 1 ft2 is 0.09290304 m2, 1 ft3 0.02831685 m3 (from memory, not checked)."""
    assert units.square_ft_to_m2(1.0) == pytest.approx(0.09290304, abs=1e-10)
    assert units.cubic_ft_to_m3(1.0) == pytest.approx(0.02831685, abs=5e-9)


def test_psi_as_nist_prints_it() -> None:
    """NIST SP 811, appendix B.8: 1 psi is 6.894757 kPa (from memory, not checked)."""
    assert units.psi_to_bar(1.0) == pytest.approx(0.06894757, abs=5e-9)


def test_arrays_and_nan_pass_through() -> None:
    found = units.dkh_to_meq_l(np.array([[1.0, np.nan], [2.0, 4.0]]))
    assert found.shape == (2, 2)
    assert np.isnan(found[0, 1])
    assert found[1, 1] == 2.0 * found[1, 0]
