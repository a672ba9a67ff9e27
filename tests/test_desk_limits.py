"""No figure comes in from a file unbounded: a new kind of record, or a new field, must say its range."""

import copy
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import find
from hypothesis import strategies as st
from record_strategies import FIELDS
from store_servers import START, a_tank

from dawnlevel.desk.exchange.columns import RECORD_COLUMNS, TANK_COLUMNS
from dawnlevel.desk.limits import LIMITS
from dawnlevel.errors import DawnlevelError
from dawnlevel.store.codec import decode, encode
from dawnlevel.tank import RECORD_KINDS, AnimalKind, Animals, Layout, Record, SurveyReading, Tank

COLUMNS = {"tank": TANK_COLUMNS, **RECORD_COLUMNS}
WITHOUT = {("tank", "target_low"), ("tank", "target_high")}
"""Figures whose range depends on another field (pH or mg/L); the noun holds them all the same, see below."""

Path = tuple[str | int, ...]


@pytest.mark.parametrize("table", COLUMNS)
def test_every_figure_of_every_kind_has_its_range(table: str) -> None:
    bare = {
        (table, column.name)
        for column in COLUMNS[table]
        if column.type in {"number", "integer"} and column.limits is None
    }
    assert bare <= WITHOUT, f"Give their ranges in dawnlevel.desk.limits: {sorted(bare - WITHOUT)}"


def test_no_range_is_left_of_what_is_gone() -> None:
    assert set(LIMITS) <= set(COLUMNS)
    for table, limits in LIMITS.items():
        assert set(limits) <= {column.name for column in COLUMNS[table]}


def test_every_kind_can_be_drawn_by_the_tests_of_files() -> None:
    """A kind that `record_strategies` does not know would be missing from every there-and-back test."""
    assert set(FIELDS) == set(RECORD_KINDS.values())


def whole(kind: type[Record]) -> Record:
    """A record of the kind with every field known that may be, and nothing empty."""
    if kind is SurveyReading:  # has a place by name or by distances, never both
        return SurveyReading(at=START, ph=6.9, x_cm=20.0, y_cm=10.0, z_cm=5.0)
    drawn = st.builds(kind, at=st.just(START), **FIELDS[kind])
    return find(drawn, lambda one: not any(value in (None, []) for value in encode(one).values()))


def figures(value: object, way: Path = ()) -> Iterator[Path]:
    """The way to every figure in plain data."""
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from figures(inner, (*way, name))
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from figures(inner, (*way, place))
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield way


def with_figure(value: Any, way: Path, figure: float) -> Any:
    """A copy of plain data with another figure at the end of a way."""
    changed = copy.deepcopy(value)
    inner = changed
    for step in way[:-1]:
        inner = inner[step]
    inner[way[-1]] = type(inner[way[-1]])(figure)
    return changed


def everything() -> dict[str, tuple[type, object]]:
    """An example of each, with nothing left out, also what stands in lists and in the sketch."""
    sketch = Layout(
        outflow="left", intake="right", diffuser="right", rated_l_h=800.0, measured_l_h=500.0, length_cm=90.0
    )
    tank = a_tank(
        gh_dgh=8.0, conductivity_us_cm=350.0, room_co2_ppm=600.0, earliest_start_h=6.0,
        animals=(Animals(AnimalKind.FISH, 12, 1.5),), layout=sketch,
    )  # fmt: skip
    records = {name: (kind, whole(kind)) for name, kind in RECORD_KINDS.items() if kind in FIELDS}
    return {"tank": (Tank, tank), **records}


EXAMPLES = everything()


@pytest.mark.parametrize("table", EXAMPLES)
def test_no_figure_can_be_absurd_wherever_it_stands(table: str) -> None:
    kind, example = EXAMPLES[table]
    data = encode(example)
    assert decode(kind, data, table) == example
    taken = [
        (way, absurd)
        for way in figures(data)
        for absurd in (1e12, -1e12)
        if is_taken(kind, with_figure(data, way, absurd))
    ]
    assert taken == []


def is_taken(kind: type, data: object) -> bool:
    """Whether plain data makes one of `kind`."""
    try:
        decode(kind, data, "example")
    except DawnlevelError:
        return False
    return True
