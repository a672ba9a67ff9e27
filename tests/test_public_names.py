"""The names that checks from outside use."""

import subprocess
import sys
from collections.abc import Callable

import numpy as np
import pytest

import dawnlevel
from dawnlevel.errors import DawnlevelError, OutOfRangeError


def test_every_public_name_is_importable() -> None:
    for name in dawnlevel.__all__:
        assert getattr(dawnlevel, name) is not None


def test_unknown_names_are_refused() -> None:
    with pytest.raises(AttributeError, match="no attribute 'nonsense'"):
        _ = dawnlevel.nonsense


def test_scalars_arrays_and_nan() -> None:
    # 25 degC, 2 meq/L, pH 6.4: 74.93 mg/kg by PHREEQC, sodium water (phreeqc.dat)
    assert float(dawnlevel.co2_from_ph(6.4, 2.0, 25.0)) == pytest.approx(74.934, rel=0.003)
    grid = dawnlevel.co2_from_ph(np.array([[6.4], [6.8]]), np.array([1.0, 2.0, 4.0]), 25.0)
    assert np.shape(grid) == (2, 3)
    assert np.isnan(dawnlevel.co2_from_ph(np.nan, 2.0, 25.0))
    assert np.isnan(dawnlevel.air_co2_mg_l(np.nan, 420.0))


def test_out_of_range_says_the_range() -> None:
    with pytest.raises(OutOfRangeError, match="outside"):
        dawnlevel.co2_from_ph(74.0, 2.0, 25.0)


def test_the_shelf_by_name() -> None:
    """Tables computed with CoolProp; NIST buffers; 1 dKH is 29.96 mg/L NaHCO3; 5 kg in 30 m3 is 8.7 %."""
    assert float(dawnlevel.saturation_pressure_bar(20.0)) == pytest.approx(57.3, abs=0.05)
    assert dawnlevel.cylinder_pressure_bar([28.0, 65.0], 0.667) == pytest.approx([69.6, 188.0], rel=0.01)
    assert dawnlevel.room_co2_fraction(5.0, np.array([30.0])) == pytest.approx([0.087], abs=0.0005)
    assert dawnlevel.room_co2_fraction(mass_kg=5.0, room_m3=30.0, temp_c=20.0) == pytest.approx(
        0.087, abs=5e-4
    )
    assert float(dawnlevel.bicarbonate_mg_per_l(4)) == pytest.approx(119.844, abs=0.001)
    assert float(dawnlevel.buffer_ph("borax", 25)) == pytest.approx(9.180)


@pytest.mark.parametrize(
    "call",
    [
        lambda: dawnlevel.saturation_pressure_bar(40.0),
        lambda: dawnlevel.cylinder_pressure_bar(20.0, 5.0),
        lambda: dawnlevel.room_co2_fraction(-1.0, 30.0),
        lambda: dawnlevel.room_co2_fraction(1.0, 0.0),
        lambda: dawnlevel.bicarbonate_mg_per_l(-4.0),
        lambda: dawnlevel.buffer_ph("vinegar", 25.0),
        lambda: dawnlevel.buffer_ph("borax", 90.0),
        lambda: dawnlevel.buffer_ph("borax", "warm"),
        lambda: dawnlevel.fish_oxygen_mg_per_h(0.0, 25.0),
        lambda: dawnlevel.fish_oxygen_mg_per_h(1.0, 60.0),
        lambda: dawnlevel.fish_oxygen_mg_per_h("small", 25.0),
    ],
)
def test_the_shelf_refuses_with_place_reason_and_cure(call: Callable[[], object]) -> None:
    with pytest.raises(DawnlevelError) as caught:
        call()
    assert isinstance(caught.value, ValueError)
    assert caught.value.where
    assert caught.value.what
    assert caught.value.cure


def test_importing_dawnlevel_loads_no_numpy() -> None:
    code = "import sys, dawnlevel; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
