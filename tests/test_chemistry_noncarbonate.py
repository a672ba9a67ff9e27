"""What a KH kit counts besides carbonate, against PHREEQC's titrations (printed)."""

import numpy as np
import pytest
from check_tables import half_digit, table
from hypothesis import given
from hypothesis import strategies as st

from dawnlevel.chemistry import (
    carbonate_alkalinity_from_kit,
    co2_from_ph,
    kit_alkalinity_meq_l,
    organic_alkalinity_meq_l,
    phosphate_alkalinity_meq_l,
)
from dawnlevel.errors import OutOfRangeError
from dawnlevel.units import dkh_to_meq_l


def _over_read_percent(alkalinity: float, ph: float, addition: dict[str, float]) -> float:
    """CO2 over-read by an addition alone: by the kit's figure with it against the kit's figure without."""
    blank = kit_alkalinity_meq_l(alkalinity, ph)
    return 100.0 * (
        co2_from_ph(ph, kit_alkalinity_meq_l(alkalinity, ph, **addition), 25.0) / co2_from_ph(ph, blank, 25.0)
        - 1.0
    )


@pytest.mark.parametrize(
    "row",
    table("noncarbonate", addition="phosphate_mg_l", quantity="over_read_percent")
    + table("noncarbonate", addition="doc_mg_l"),
    ids=lambda r: f"{r['addition']}-{r['amount']}-{r['kh_dkh']}-{r['ph']}",
)
def test_co2_over_read_as_printed(row: dict[str, str]) -> None:
    """Within 4 % of the over-read and the printed digit: PHREEQC also pairs phosphate with sodium."""
    found = _over_read_percent(
        dkh_to_meq_l(float(row["kh_dkh"])), float(row["ph"]), {row["addition"]: float(row["amount"])}
    )
    printed = float(row["printed"])
    assert found == pytest.approx(printed, abs=half_digit(row["printed"]) + 0.04 * printed)


@pytest.mark.parametrize(
    "row",
    table("noncarbonate", quantity="kit_alkalinity_meq_l"),
    ids=lambda r: f"{r['amount']}-{r['kh_dkh']}-{r['ph']}",
)
def test_kit_alkalinity_as_printed(row: dict[str, str]) -> None:
    """Within 0.0005 meq/L (0.0015 dKH, far below a drop); with phosphate within 0.001."""
    addition = {} if row["addition"] == "none" else {row["addition"]: float(row["amount"])}
    found = kit_alkalinity_meq_l(dkh_to_meq_l(float(row["kh_dkh"])), float(row["ph"]), **addition)
    assert found == pytest.approx(float(row["printed"]), abs=0.001 if addition else 0.0005)


@pytest.mark.parametrize(("kh_dkh", "percent"), [(1, (6.9, 7.6)), (2, (2.4, 3.1)), (4, (0.1, 0.8))])
def test_the_end_points_share_of_co2(kh_dkh: float, percent: tuple[float, float]) -> None:
    """CO2 over-read of the blank kit at pH 6.6 and 7.6 as printed, to 0.1 (0.35 meq/L has 0.0005 more)."""
    alkalinity, ph = dkh_to_meq_l(float(kh_dkh)), np.array([6.6, 7.6])
    true, read = (co2_from_ph(ph, a, 25.0) for a in (alkalinity, kit_alkalinity_meq_l(alkalinity, ph)))
    assert 100.0 * (read / true - 1.0) == pytest.approx(percent, abs=0.15)


@pytest.mark.parametrize(("ph", "ueq"), [(6.6, 2.2), (7.6, 7.7)])
def test_microequivalents_per_mg_phosphate(ph: float, ueq: float) -> None:
    """As printed (PHREEQC, 25 degC), at the ionic strength of 1 dKH."""
    assert 1e3 * phosphate_alkalinity_meq_l(1.0, ph, 3.6e-4) == pytest.approx(ueq, abs=0.05)


@pytest.mark.parametrize(("ph", "ueq", "share"), [(6.6, 3.1, 0.31), (7.6, 4.7, 0.46)])
def test_microequivalents_per_mg_organic_carbon(ph: float, ueq: float, share: float) -> None:
    """As printed: 10.2 ueq/mg of Hruska et al. 2003 times the share titrated from the pH to 4.5."""
    found = 1e3 * organic_alkalinity_meq_l(1.0, ph)
    assert found == pytest.approx(ueq, abs=0.05)
    assert found / 10.2 == pytest.approx(share, abs=0.005)


def test_nothing_is_left_to_titrate_at_the_end_point() -> None:
    assert phosphate_alkalinity_meq_l(20.0, 4.5, 0.002) == pytest.approx(0.0, abs=1e-12)
    assert organic_alkalinity_meq_l(20.0, 4.5) == pytest.approx(0.0, abs=1e-12)


@given(
    st.floats(0.1, 10.0),
    st.floats(6.0, 8.5),
    st.floats(5.0, 35.0),
    st.floats(0.0, 20.0),
    st.floats(0.0, 20.0),
)
def test_kit_there_and_back(
    alkalinity: float, ph: float, temp_c: float, phosphate: float, doc: float
) -> None:
    held = {"phosphate_mg_l": phosphate, "doc_mg_l": doc}
    kit = kit_alkalinity_meq_l(alkalinity, ph, temp_c, **held)
    assert carbonate_alkalinity_from_kit(kit, ph, temp_c, **held) == pytest.approx(alkalinity, rel=1e-9)


@given(st.floats(0.2, 10.0), st.floats(6.0, 8.5), st.floats(0.1, 10.0))
def test_an_addition_always_raises_the_kits_reading(alkalinity: float, ph: float, amount: float) -> None:
    blank = kit_alkalinity_meq_l(alkalinity, ph)
    assert kit_alkalinity_meq_l(alkalinity, ph, phosphate_mg_l=amount) > blank
    assert kit_alkalinity_meq_l(alkalinity, ph, doc_mg_l=amount) > blank


def test_a_reading_that_the_additions_explain_leaves_no_carbonate() -> None:
    assert carbonate_alkalinity_from_kit(0.05, 7.6, doc_mg_l=50.0) == 0.01


def test_arrays_nan_and_ranges() -> None:
    found = kit_alkalinity_meq_l([[1.0], [2.0]], [7.0, np.nan, 7.5], doc_mg_l=[0.0, 1.0, 2.0])
    assert found.shape == (2, 3)
    assert np.isnan(found).tolist() == [[False, True, False]] * 2
    for call in (
        lambda: phosphate_alkalinity_meq_l(51.0, 7.0),
        lambda: organic_alkalinity_meq_l(-1.0, 7.0),
        lambda: kit_alkalinity_meq_l(1.0, 7.0, phosphate_mg_l=-1.0),
        lambda: carbonate_alkalinity_from_kit(25.0, 7.0),
    ):
        with pytest.raises(OutOfRangeError):
            call()
