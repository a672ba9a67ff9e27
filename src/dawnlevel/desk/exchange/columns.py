"""How the fields of a tank or of a record become the cells of a table, and back; generic over the fields.

Types are those of Table Schema (Frictionless Data, https://specs.frictionlessdata.io/table-schema/), units
are codes of UCUM (the Unified Code for Units of Measure, https://ucum.org/ucum).
"""

import dataclasses
import json
import types
import typing
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import Enum
from typing import Any

from dawnlevel.desk.limits import LIMITS
from dawnlevel.errors import BadInputError
from dawnlevel.tank import RECORD_KINDS, Record, Tank

DKH_UCUM = "10.mg{CaO}/L"
"""A German degree of hardness: 10 mg CaO, or the like of another alkali, in a litre; UCUM has no own one."""
_UNITS = {
    "_mg_l": "mg/L",
    "_dkh": DKH_UCUM,
    "_dgh": DKH_UCUM,
    "_us_cm": "uS/cm",
    "_percent": "%",
    "_ppm": "[ppm]",
    "_bps": "{bubble}/s",
    "_per_second": "{bubble}/s",
    "_l_h": "L/h",
    "_cm2": "cm2",
    "_cm": "cm",
    "_bar": "bar",
    "_hpa": "hPa",
    "_kg": "kg",
    "_min": "min",
    "hours": "h",
    "fraction": "1",
    "ph_step": "[pH]",
    "_ph": "[pH]",
    "_c": "Cel",
    "_l": "L",
    "_h": "h",
    "_m": "m",
}
"""UCUM codes by the ending of a field's name, longer endings first."""
_SCALARS = {float: "number", int: "integer", bool: "boolean", str: "string", datetime: "datetime"}
_WORDS_OF = {"true": True, "false": False}
Cell = str


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name, the way to its field, its Table Schema type, what its cells may be."""

    name: str
    path: tuple[str, ...]
    type: str
    is_needed: bool
    words: tuple[str, ...] = ()
    limits: tuple[float, float] | None = None

    @property
    def unit(self) -> str:
        """The UCUM code of its figures; empty where they have none."""
        if self.type not in {"number", "array"}:
            return ""
        if self.name == "ph":
            return "[pH]"
        return next((unit for ending, unit in _UNITS.items() if self.name.endswith(ending)), "")

    def field(self) -> dict[str, object]:
        """Its descriptor for a Table Schema."""
        constraints: dict[str, object] = {"required": True} if self.is_needed else {}
        if self.words:
            constraints["enum"] = list(self.words)
        if self.limits is not None:
            constraints["minimum"], constraints["maximum"] = self.limits
        found: dict[str, object] = {"name": self.name, "type": self.type}
        if self.unit:
            found["unit"] = self.unit
        if constraints:
            found["constraints"] = constraints
        return found


def columns_of(kind: type) -> tuple[Column, ...]:
    """The columns of a dataclass, those of the dataclasses it holds under their joined names."""
    return tuple(_columns(kind, (), _limits_of(kind)))


def _limits_of(kind: type) -> Mapping[str, tuple[float, float]]:
    name = next((name for name, record in RECORD_KINDS.items() if record is kind), "tank")
    return LIMITS.get(name, {})


def _columns(
    kind: type, path: tuple[str, ...], limits: Mapping[str, tuple[float, float]]
) -> typing.Iterator[Column]:
    hints = typing.get_type_hints(kind)
    for field in dataclasses.fields(kind):
        hint, way = hints[field.name], (*path, field.name)
        name = "_".join(way)
        inner = _without_none(hint)
        if inner is hint and dataclasses.is_dataclass(hint):
            yield from _columns(typing.cast("type", hint), way, limits)
            continue
        has_default = not (
            field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING
        )
        is_text = inner is str
        if is_text and inner is not hint:
            raise TypeError(hint)  # an empty cell could mean no text or an empty one
        is_needed = inner is hint and not (is_text and has_default)
        if isinstance(inner, type) and issubclass(inner, Enum):
            words = tuple(str(member.value) for member in inner)
            yield Column(name, way, "string", is_needed, words=words)
        else:
            yield Column(name, way, _type(inner), is_needed, limits=limits.get(name))


def _without_none(hint: Any) -> Any:  # noqa: ANN401 - a type hint is any object
    if typing.get_origin(hint) in (types.UnionType, typing.Union):
        (inner,) = (one for one in typing.get_args(hint) if one is not type(None))
        return inner
    return hint


def _type(hint: Any) -> str:  # noqa: ANN401 - the same
    if hint in _SCALARS:
        return _SCALARS[hint]
    return "array" if typing.get_origin(hint) is tuple else "object"


def write_cell(column: Column, encoded: Mapping[str, object]) -> Cell:
    """The cell of a column for the encoded fields of its dataclass."""
    value: object = encoded
    for step in column.path:
        value = typing.cast("Mapping[str, object]", value)[step]
    match value:
        case None:
            return ""
        case bool():
            return "true" if value else "false"
        case str():
            return value
        case _:
            return json.dumps(value, ensure_ascii=False, allow_nan=False)


def read_cell(column: Column, text: Cell) -> object:
    """The JSON value of a cell; BadInputError where it is none of its column's type."""
    try:
        return _read(column, text)
    except ValueError as error:
        raise BadInputError(
            f"{text!r} is no {_NOUNS[column.type]}.",
            where=column.name,
            cure="Write it as datapackage.json says.",
        ) from error


_NOUNS = {
    "number": "number with a decimal point",
    "integer": "whole number",
    "boolean": "true or false",
    "array": "list in JSON",
    "object": "object in JSON",
}


def _read(column: Column, text: Cell) -> object:
    match column.type:
        case "number":
            return float(text)
        case "integer":
            return int(text)
        case "boolean":
            if text not in _WORDS_OF:
                raise ValueError(text)
            return _WORDS_OF[text]
        case "array" | "object":
            return json.loads(text)
        case _:
            return text


def nested(columns: tuple[Column, ...], cells: Mapping[str, Cell]) -> dict[str, object]:
    """The encoded fields of a dataclass from its row; an empty cell, or none, leaves its field out."""
    found: dict[str, Any] = {}
    for column in columns:
        if column.name not in cells:
            continue
        text = cells[column.name]
        if not text:
            if column.is_needed:
                raise BadInputError("The cell is empty.", where=column.name, cure="Fill it.")
            continue
        inner = found
        for step in column.path[:-1]:
            inner = inner.setdefault(step, {})
        inner[column.path[-1]] = read_cell(column, text)
    return found


TANK_COLUMNS = columns_of(Tank)
RECORD_COLUMNS: dict[str, tuple[Column, ...]] = {kind: columns_of(cls) for kind, cls in RECORD_KINDS.items()}
"""By the machine name of the kind of record; `at` and `note` are among them."""


def columns_of_record(kind: str) -> tuple[Column, ...]:
    """The columns of a kind of record without `at` and `note`."""
    common = {field.name for field in dataclasses.fields(Record)}
    return tuple(column for column in RECORD_COLUMNS[kind] if column.name not in common)
