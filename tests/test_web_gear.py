"""The gear's page: what is known and due, and a form for each thing; bad input beside its field and kept."""

import re
from html import unescape
from pathlib import Path

import pytest
from web_world import BROOK, World, make_world, tokens

from dawnlevel.desk.phrases import day_text
from dawnlevel.desk.shelf.cylinder import cylinder_view
from dawnlevel.desk.shelf.meter import meter_view
from dawnlevel.tank import (
    BufferCheck,
    CylinderExchange,
    CylinderWeighing,
    GasSwitch,
    GaugeReading,
    KhTitration,
    OxygenReading,
    Record,
    SolutionPrepared,
    TimerSetting,
    WaterChange,
)

GEAR = f"{BROOK}/gear"
GIVEN: list[tuple[str, dict[str, str], type[Record], dict[str, object]]] = [
    ("cylinder", {"value": "2 kg", "tare": "3.1 kg", "tested": "2024-05"}, CylinderExchange, {"gas_kg": 2.0}),
    ("weight", {"value": "5.32kg", "scale": "20 g"}, CylinderWeighing, {"gross_kg": 5.32, "scale_kg": 0.02}),
    ("gauge", {"value": "58 bar", "temp": "72F"}, GaugeReading, {"gauge_bar": 58.0}),
    ("buffers", {"value": "4.06; 6.91"}, BufferCheck, {"low_ph": 4.06, "high_ph": 6.91}),
    ("kh", {"value": "4", "step": "0.5"}, KhTitration, {"kh_dkh": 4.0, "step_dkh": 0.5}),
    ("solution", {"value": "4 dKH", "error": "3%"}, SolutionPrepared, {"kh_dkh": 4.0, "error_percent": 3.0}),
    ("water_change", {"value": "30%"}, WaterChange, {"fraction": 0.3}),
    ("oxygen", {"value": "82 %", "pressure": "960"}, OxygenReading, {"saturation_percent": 82.0}),
    ("timer", {"value": "10:30-19:00"}, TimerSetting, {"windows_h": ((10.5, 19.0),)}),
    ("gas", {"value": "closed"}, GasSwitch, {"is_open": False}),
]


@pytest.fixture
def world(tmp_path: Path) -> World:
    return make_world(tmp_path)


def words(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page)))


def send(world: World, kind: str, **given: str) -> tuple[int, str]:
    browser = world.local()
    form = {**tokens(browser.get(GEAR).text), "kind": kind, **given}
    answer = browser.post(GEAR, data=form)
    return answer.status_code, answer.headers.get("location") or answer.text


@pytest.mark.parametrize(("kind", "given", "made", "fields"), GIVEN, ids=[one[0] for one in GIVEN])
def test_each_thing_is_recorded_as_typed(
    world: World, kind: str, given: dict[str, str], made: type[Record], fields: dict[str, object]
) -> None:
    status, place = send(world, kind, **given)
    assert status == 303, place
    found = [one for one in world.records() if type(one) is made and one.at == world.clock.now]
    assert len(found) == 1
    for name, value in fields.items():
        told = getattr(found[0], name)
        assert told == (pytest.approx(value) if isinstance(value, float) else value)


def test_bad_input_is_told_beside_the_field_and_kept(world: World) -> None:
    before = world.records()
    for kind, given, said in (
        ("weight", {"value": "heavy", "scale": "20 g"}, "is no number"),
        ("weight", {"value": ""}, "Type what the scale shows"),
        ("buffers", {"value": "4.06"}, "4.06"),
    ):
        status, page = send(world, kind, **given)
        assert status == 422
        (part,) = (one for one in page.split("<form") if f'name="kind" value="{kind}"' in one)
        beside = re.search(r'data-problem="value"[^>]*>([^<]*)<', part)
        assert beside
        assert said in unescape(beside[1])
        assert all(f'value="{text}"' in part for text in given.values())
    assert world.records() == before


def test_kit_and_errors_are_told_as_the_desk_tells_them(world: World) -> None:
    page = words(world.local().get(GEAR).text)
    view = meter_view(world.house.store, "Brook", world.clock.now)
    for plan in view.kit:
        assert f"{plan.multiple}-fold KH sample: a drop is {plan.step_dkh:g} dKH" in page
    for error in view.errors:
        assert f"off by {error.error}: {error.co2_percent:.0f} % of CO2" in page


def test_the_cylinder_is_told_as_the_desk_tells_it(world: World) -> None:
    assert "No cylinder is recorded" in words(world.local().get(GEAR).text)
    send(world, "cylinder", value="2 kg")
    page = words(world.local().get(GEAR).text)
    view = cylinder_view(world.house.store, "Brook", world.clock.now)
    assert f"{view.left_kg.median:.2f} kg left" in page
    assert view.exchange_by is not None
    assert f"have the next one by {day_text(view.exchange_by)}" in page  # type: ignore[arg-type]  # a day is enough
    assert "local codes decide" in page
