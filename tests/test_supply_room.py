"""CO2 in a room's air: published limits, an adaptive solver, and the mass that cannot vanish."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from dawnlevel.errors import BadInputError, OutOfRangeError
from dawnlevel.sources import SOURCES
from dawnlevel.supply.handling import HANDLING, RETEST_SOURCE, RETEST_YEARS, retest_due
from dawnlevel.supply.limits import LIMITS, symptoms_at
from dawnlevel.supply.room import (
    AT_ONCE_H,
    OXYGEN_ALARM_SOUNDS_AT_CO2,
    Release,
    gas_volume_m3,
    mass_for_fraction_kg,
    oxygen_fraction,
    pooled_co2_fraction,
    room_co2_fraction,
    steady_fraction,
)
from dawnlevel.tank import CylinderStandard


# Computed with CoolProp's density, 1.839 kg/m3 at 20 degC, and C = 1 - exp(-v/V).
@pytest.mark.parametrize(
    ("mass_kg", "percent"),
    [(0.5, (2.7, 1.35, 0.90, 0.54)), (2.0, (10.3, 5.3, 3.6, 2.2)), (3.0, (15.1, 7.8, 5.3, 3.2)),
     (5.0, (23.8, 12.7, 8.7, 5.3))],
)  # fmt: skip
def test_a_cylinder_dumped_into_a_room(mass_kg: float, percent: tuple[float, ...]) -> None:
    found = 100.0 * room_co2_fraction(mass_kg, np.array([10.0, 20.0, 30.0, 50.0]))
    assert found == pytest.approx(percent, abs=0.055)


def test_limit_masses_of_a_30_m3_room_and_ordinary_use() -> None:
    masses = mass_for_fraction_kg(np.array([0.005, 0.03, 0.04]), 30.0)
    assert masses == pytest.approx([0.277, 1.68, 2.25], rel=0.03)  # printed 0.27, 1.65, 2.2
    assert 1e6 * steady_fraction(0.002, 30.0, 0.5) == pytest.approx(73.0, abs=0.6)


def test_an_oxygen_alarm_does_not_warn() -> None:
    fraction = float(room_co2_fraction(5.0, 30.0))
    assert 100.0 * float(oxygen_fraction(fraction)) == pytest.approx(19.1, abs=0.05)
    assert OXYGEN_ALARM_SOUNDS_AT_CO2 > 0.04  # past NIOSH's immediately dangerous level
    assert float(oxygen_fraction(0.04)) > 0.195


def test_pooled_low_is_an_upper_bound() -> None:
    assert float(pooled_co2_fraction(2.0, 12.0)) == pytest.approx(0.18, abs=0.005)
    assert float(pooled_co2_fraction(5.0, 12.0, temp_c=25.0)) == pytest.approx(0.46, abs=0.005)
    assert pooled_co2_fraction(5.0, 0.3, 0.5) == 1.0


@settings(deadline=None, max_examples=50)
@given(st.floats(0.05, 20.0), st.floats(5.0, 100.0), st.floats(0.05, 20.0), st.floats(0.0, 6.0))
def test_the_closed_form_is_the_mass_balance(mass: float, room: float, hours: float, fresh: float) -> None:
    release = Release(mass_kg=mass, room_m3=room, hours=hours, air_changes_per_h=fresh)
    inflow = float(gas_volume_m3(mass)) / hours / room
    times = np.linspace(0.0, hours, 7)
    solved = solve_ivp(
        lambda _, c: inflow * (1.0 - c) - fresh * c, (0.0, hours), [0.0], t_eval=times, rtol=1e-9, atol=1e-12
    )
    assert release.fraction(times) == pytest.approx(solved.y[0], rel=1e-6, abs=1e-9)
    later = float(release.fraction(hours + 1.0))
    assert later == pytest.approx(release.peak_fraction * np.exp(-fresh), rel=1e-9)


@settings(deadline=None, max_examples=50)
@given(st.floats(0.0, 50.0), st.floats(1.0, 200.0), st.floats(0.0, 50.0))
def test_slow_without_ventilation_ends_where_at_once_does(mass: float, room: float, hours: float) -> None:
    slow = Release(mass_kg=mass, room_m3=room, hours=hours)
    assert slow.peak_fraction == pytest.approx(float(room_co2_fraction(mass, room)), rel=1e-9, abs=1e-15)


@settings(deadline=None, max_examples=50)
@given(st.floats(0.1, 10.0), st.floats(10.0, 60.0), st.floats(0.0, 5.0), st.floats(0.0, 4.0))
def test_hours_above_a_limit(mass: float, room: float, hours: float, fresh: float) -> None:
    release = Release(mass_kg=mass, room_m3=room, hours=hours, air_changes_per_h=fresh)
    above = release.hours_above(0.005)
    if above is None:
        assert release.peak_fraction <= 0.005
        return
    begins, ends = above
    if hours >= AT_ONCE_H:
        assert float(release.fraction(begins)) == pytest.approx(0.005, rel=1e-6)
    if np.isfinite(ends) and ends < 1e5:
        assert float(release.fraction(ends)) == pytest.approx(0.005, rel=1e-6)
    assert fresh > 0.0 or ends == np.inf


@settings(deadline=None, max_examples=50)
@given(st.floats(0.0, 200.0), st.floats(1.0, 500.0), st.floats(-20.0, 50.0))
def test_mass_gives_its_fraction_back(mass: float, room: float, temp_c: float) -> None:
    fraction = float(room_co2_fraction(mass, room, temp_c))
    if fraction < 0.99:
        assert float(mass_for_fraction_kg(fraction, room, temp_c)) == pytest.approx(mass, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize(
    ("mass", "room", "temp_c"),
    [(-1.0, 30.0, 20.0), (2.0, 0.0, 20.0), (2.0, 30.0, 200.0), (2.0, np.inf, 20.0)],
)
def test_unfit_rooms_are_refused(mass: float, room: float, temp_c: float) -> None:
    with pytest.raises(OutOfRangeError, match="outside") as caught:
        room_co2_fraction(mass, room, temp_c)
    assert caught.value.where
    with pytest.raises(OutOfRangeError):
        Release(mass_kg=mass, room_m3=room, temp_c=temp_c)
    with pytest.raises(BadInputError, match="no number"):
        room_co2_fraction("much", 30.0)


def test_every_limit_has_its_date_and_source() -> None:
    in_force = {(limit.source, limit.fraction) for limit in LIMITS if limit.in_force}
    assert {("osha_pel", 0.005), ("niosh_guide", 0.03), ("niosh_idlh", 0.04), ("uk_eh40", 0.015)} <= in_force
    for limit in LIMITS:
        assert limit.source in SOURCES
        assert any(letter.isdigit() for letter in limit.dated), limit
    assert {limit.dated[:4] for limit in LIMITS if not limit.in_force} == {"1976", "1989"}


def test_symptoms() -> None:
    assert not symptoms_at(0.002)
    assert symptoms_at(0.03).startswith("twice")
    assert "death" in symptoms_at(0.3)


def test_retest() -> None:
    assert retest_due(CylinderStandard.DOT_3AL, 2024, 5) == date(2029, 5, 1)
    assert retest_due(CylinderStandard.ADR, 2024, 12) == date(2034, 12, 1)
    assert retest_due(CylinderStandard.UNKNOWN, 2024, 5) is None
    assert set(RETEST_YEARS) == set(RETEST_SOURCE) == set(CylinderStandard) - {CylinderStandard.UNKNOWN}
    assert {rule.source for rule in HANDLING} | set(RETEST_SOURCE.values()) <= set(SOURCES)
