"""Targets as bands: a drop and its level in mg/L are two names of one thing."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnlevel.chemistry import ph_from_co2
from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.plan.goal import Goal, goal, translate
from dawnlevel.tank import Target, TargetKind
from tests.estimate_worlds import cup, kit, make_tank, when
from tests.plan_worlds import told

RECORDS = [cup(0.5), kit(0.6)]
SURE = told(make_tank(), RECORDS, when(8.0), 4)
UNSURE = told(make_tank(), RECORDS, when(8.0), 64, 1.0)

_lows = st.floats(0.3, 0.9)


def _drop(low: float, high: float) -> Goal:
    return goal(Target(kind=TargetKind.DROP, low=low, high=high), SURE, 30.0)


@given(_lows, st.floats(0.05, 0.3))
def test_a_drop_band_goes_to_mg_l_and_back(low: float, width: float) -> None:
    ends = translate(_drop(low, low + width), SURE)
    level = goal(Target(kind=TargetKind.CO2, low=ends.low_end.median, high=ends.high_end.median), SURE, 30.0)
    back = translate(level, SURE)
    # half a thousandth of a pH: the fast chemistry solves to about 1e-4
    assert back.low_end.median == pytest.approx(low, abs=5e-4)
    assert back.high_end.median == pytest.approx(low + width, abs=5e-4)


@given(_lows)
def test_the_translation_is_the_chemistry_seen_through_the_meter(drop: float) -> None:
    ends = translate(_drop(drop, drop + 0.1), SURE)
    unknowns = SURE.unknowns
    true_ph = ph_from_co2(ends.low_end.median, float(unknowns["alkalinity_meq_l"][0]), SURE.model.tank.temp_c)
    slope, offset = (float(unknowns[name][0]) for name in ("meter_slope_log", "meter_offset_ph"))
    shown = 7.0 + offset + math.exp(slope) * (float(true_ph) - 7.0)
    assert SURE.baseline_ph is not None
    # the ionic strength follows alkalinity in both; 0.005 pH is what the two ways of stating it may differ
    assert SURE.baseline_ph - shown == pytest.approx(drop, abs=0.005)


def test_a_wider_drop_is_more_gas_in_every_draw() -> None:
    found = goal(Target(low=1.0, high=1.2), UNSURE, 30.0)
    levels = np.linspace(0.5, 60.0, 50)[:, None] * np.ones(UNSURE.size)
    assert np.all(np.diff(found.quantity(UNSURE, levels), axis=0) > 0.0)
    ends = translate(found, UNSURE)
    for end in (ends.low_end, ends.high_end):
        assert end.low_90 <= end.low_50 <= end.median <= end.high_50 <= end.high_90
    assert ends.low_end.median < ends.high_end.median


def test_a_tenfold_level_is_a_drop_of_about_one() -> None:
    """At a fixed alkalinity pH falls by one for each factor of ten in CO2 (Henderson-Hasselbalch)."""
    true = SURE.true_ph(np.array([[3.0] * SURE.size, [30.0] * SURE.size]))
    np.testing.assert_allclose(true[0] - true[1], 1.0, atol=0.02)


def test_a_level_needs_no_baseline() -> None:
    bare = told(make_tank(), [kit(0.5)], when(8.0), 8)
    found = goal(Target(kind=TargetKind.CO2, low=20.0, high=30.0), bare, 35.0)
    assert found.shown(found.low) == pytest.approx(20.0)
    assert found.shown(found.high) == pytest.approx(30.0)
    assert found.shown(found.middle) == pytest.approx(math.sqrt(600.0))
    np.testing.assert_allclose(found.quantity(bare, np.full((2, 8), 25.0)), math.log10(25.0))


def test_a_drop_without_a_baseline_says_which_record_is_missing() -> None:
    bare = told(make_tank(), [kit(0.5)], when(8.0), 8)
    with pytest.raises(NotEnoughRecordsError, match=r"test: .*baseline.* dawnlevel cup PH --method aerated"):
        goal(Target(), bare, 30.0)
