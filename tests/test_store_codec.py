"""Tanks and records as plain data: every field there and back, and nothing unknown or unfit taken."""

import json
from dataclasses import dataclass, fields
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from store_servers import START, a_tank, one_of_each

from dawnlevel.errors import BadInputError, OutOfRangeError
from dawnlevel.store import codec
from dawnlevel.store.codec import (
    decode,
    encode,
    record_from_dict,
    record_to_dict,
    tank_from_dict,
    tank_to_dict,
)
from dawnlevel.store.schema import from_us, to_us
from dawnlevel.tank import AnimalKind, Animals, PhReading, Record, Tank


@pytest.mark.parametrize("record", one_of_each())
def test_a_record_is_plain_data_with_every_field(record: Record) -> None:
    data = json.loads(json.dumps(record_to_dict(record), allow_nan=False))
    assert set(data) == {"kind"} | {field.name for field in fields(record)}
    assert record_from_dict(data) == record


def test_a_tank_is_plain_data_with_every_field() -> None:
    shrimp = Animals(AnimalKind.SHRIMP, 20, 0.2)
    tank = a_tank(
        room_co2_ppm=640.0, earliest_start_h=6.5, animals=(shrimp,), co2_limit_mg_l=25.0, limit_reason="held"
    )
    data = json.loads(json.dumps(tank_to_dict(tank), allow_nan=False))
    assert set(data) == {field.name for field in fields(Tank)}
    assert tank_from_dict(data) == tank


def test_a_field_newer_than_the_data_takes_its_default_but_a_needed_one_is_missed() -> None:
    data = tank_to_dict(a_tank())
    for newer in ("timer_windows", "animals", "limit_reason"):
        del data[newer]
    assert tank_from_dict(data) == a_tank()
    del data["volume_l"]
    with pytest.raises(BadInputError, match="'volume_l' is missing"):
        tank_from_dict(data)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"shade": 3}, "'shade' is unknown"),
        ({"volume_l": "180"}, "not of the kind float"),
        ({"volume_l": True}, "not of the kind float"),
        ({"volume_l": None}, "not of the kind float"),
        ({"reads_per_ramp": 2.5}, "not of the kind int"),
        ({"name": 7}, "not of the kind str"),
        ({"planting": "jungle"}, "none of sparse, medium, dense"),
        ({"photoperiod": [13, 21]}, "not a set of named fields"),
        ({"photoperiod": {"lights_on_h": 13}}, "'lights_off_h' is missing"),
    ],
)
def test_unfit_fields_are_told_by_name(change: dict[str, object], told: str) -> None:
    with pytest.raises(BadInputError, match=told):
        tank_from_dict({**tank_to_dict(a_tank()), **change})


@pytest.mark.parametrize(
    ("data", "told"),
    [
        ([], "kind is none of"),
        ({"kind": "song"}, "kind is none of"),
        ({"kind": "ph", "at": "2026-05-04T10:00:00", "ph": 7}, "no time with an offset"),
        ({"kind": "ph", "at": 5, "ph": 7}, "no time with an offset"),
        ({"kind": "timer", "at": "2026-05-04T10:00:00Z", "windows_h": 5}, "not the expected list"),
        ({"kind": "timer", "at": "2026-05-04T10:00:00Z", "windows_h": [[1, 2, 3]]}, "not the expected list"),
    ],
)
def test_what_is_no_record_is_told(data: object, told: str) -> None:
    with pytest.raises(BadInputError, match=told):
        record_from_dict(data)


def test_figures_no_tank_shows_are_refused_like_everywhere() -> None:
    with pytest.raises(OutOfRangeError):
        record_from_dict({"kind": "ph", "at": "2026-05-04T10:00:00Z", "ph": 74})


def test_whole_numbers_become_figures() -> None:
    found = record_from_dict({"kind": "ph", "at": "2026-05-04T09:30:00+02:00", "ph": 7})
    assert found == PhReading(at=START, ph=7.0)
    assert isinstance(found, PhReading)
    assert type(found.ph) is float


@dataclass(frozen=True)
class Shapes:
    """Kinds of fields that no record has yet."""

    pair: tuple[int, str]
    many: tuple[float, ...] = ()


def test_new_kinds_of_fields_work_without_new_code() -> None:
    shapes = Shapes(pair=(3, "x"), many=(1.5, 2.5))
    assert decode(Shapes, json.loads(json.dumps(encode(shapes))), "shapes") == shapes


def test_a_kind_of_field_nobody_has_taught_is_a_mistake_of_ours() -> None:
    with pytest.raises(TypeError):
        codec._codec(complex)


@given(st.datetimes(datetime(1900, 1, 1), datetime(2200, 1, 1), timezones=st.just(UTC)))  # noqa: DTZ001 - bounds
def test_moments_are_kept_to_the_microsecond(moment: datetime) -> None:
    assert from_us(to_us(moment)) == moment
    assert codec.moment_from_text(codec.moment_to_text(moment), "") == moment
