"""The view of oxygen: published minima, and movement bought with gas."""

from dataclasses import replace
from pathlib import Path

import pytest
from advice_world import NOW, brook, make_store

from dawnlevel.cli.render_oxygen import oxygen_page
from dawnlevel.cli.render_page import Paper
from dawnlevel.desk.animals.oxygen import LIMITS, oxygen_view
from dawnlevel.desk.animals.oxygen_views import OxygenView
from dawnlevel.store import open_store
from dawnlevel.tank import AnimalKind, Animals, OxygenReading


@pytest.fixture(scope="module")
def view(tmp_path_factory: pytest.TempPathFactory) -> OxygenView:
    place = make_store(Path(tmp_path_factory.mktemp("oxygen")) / "s.db")
    with open_store(place) as store:
        return oxygen_view(store, "Brook", NOW)


def test_the_night_is_below_what_the_air_gives_and_the_day_above_the_night(view: OxygenView) -> None:
    assert view.minimum_mg_l.low_90 < view.minimum_mg_l.median < view.saturation_mg_l
    assert view.maximum_mg_l.median > view.minimum_mg_l.median
    assert view.saturation_mg_l == pytest.approx(8.26, abs=0.01)  # 25 degC, 1 atm: APHA table
    assert view.minimum_at.hour < 13  # before the lights come on


def test_published_levels_are_the_sources_own(view: OxygenView) -> None:
    """UF/IFAS FA27: 5 for health, emergency aeration from 4, deaths below 2; Boyd: 3 mg/L."""
    assert [one.oxygen_mg_l for one in view.limits] == [5.0, 4.0, 3.0, 2.0]
    chances = [one.chance_below for one in view.limits]
    assert chances == sorted(chances, reverse=True)
    assert len(LIMITS) == len(view.limits)


def test_movement_buys_oxygen_with_gas_and_at_night_it_costs_least(view: OxygenView) -> None:
    still, *_, thrice, night = view.movements
    lows = [one.minimum_mg_l.median for one in view.movements[:-1]]
    assert lows == sorted(lows)
    assert still.gas_factor == pytest.approx(1.0, abs=0.01)
    assert still.lights_on_mg_l.median > thrice.lights_on_mg_l.median
    assert thrice.gas_factor is not None
    assert night.gas_factor is not None
    assert thrice.gas_factor > night.gas_factor
    assert night.minimum_mg_l.median > still.minimum_mg_l.median


def test_more_fish_leave_less_oxygen(tmp_path: Path, view: OxygenView) -> None:
    many = replace(brook(), animals=(Animals(AnimalKind.FISH, 150, 1.5),))
    with open_store(make_store(tmp_path / "s.db")) as store:
        store.update_tank(many, NOW)
        crowded = oxygen_view(store, "Brook", NOW)
    assert crowded.from_animals
    assert crowded.minimum_mg_l.median < view.minimum_mg_l.median - 1.0
    assert crowded.limits[0].chance_below > 0.5
    assert "below 5 mg/L" in crowded.verdict


@pytest.mark.parametrize("width", [80, 40])
def test_the_page_fits(view: OxygenView, width: int) -> None:
    text = oxygen_page(view, Paper(width, is_unicode=True, is_colour=False))
    assert max(map(len, text.splitlines())) <= width
    assert "What more movement of the surface does" in text


def test_readings_are_told_and_tighten_the_night(tmp_path: Path, view: OxygenView) -> None:
    assert "No oxygen reading of the last month" in view.told
    with open_store(make_store(tmp_path / "s.db")) as store:
        early = NOW.replace(hour=5, minute=0)
        store.add_records("Brook", [OxygenReading(at=early, saturation_percent=88.0, error_mg_l=0.2)])
        measured = oxygen_view(store, "Brook", NOW)
    (reading,) = measured.readings
    assert reading.oxygen_mg_l == pytest.approx(0.88 * 8.26, abs=0.01)  # 25 degC, 1 atm: APHA table
    assert "One reading counts" in measured.told
    before, after = view.minimum_mg_l, measured.minimum_mg_l
    assert after.high_90 - after.low_90 < before.high_90 - before.low_90
    text = oxygen_page(measured, Paper(40, is_unicode=True, is_colour=False))
    assert max(map(len, text.splitlines())) <= 40
    assert "88 % of what the air gives" in " ".join(text.split())
