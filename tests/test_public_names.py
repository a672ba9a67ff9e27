"""The names that checks from outside use."""

import subprocess
import sys

import numpy as np
import pytest

import dawnlevel
from dawnlevel.errors import OutOfRangeError


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


def test_importing_dawnlevel_loads_no_numpy() -> None:
    code = "import sys, dawnlevel; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
