"""Views as JSON, and the JSON Schema of each view, both made from the dataclasses themselves."""

import dataclasses
import types
from collections.abc import Mapping
from datetime import date, datetime
from enum import StrEnum
from typing import Any, Union, get_args, get_origin, get_type_hints

from dawnlevel.desk.as_json import Json, view_to_json

__all__ = ["Json", "envelope_schema", "schema_of", "type_text", "view_to_json"]

_SCALARS: Mapping[type, Mapping[str, object]] = {
    bool: {"type": "boolean"},
    int: {"type": "integer"},
    float: {"type": "number"},
    str: {"type": "string"},
    datetime: {"type": "string", "format": "date-time"},
    date: {"type": "string", "format": "date"},
    types.NoneType: {"type": "null"},
}


def schema_of(view: type) -> dict[str, Any]:
    """The JSON Schema (2020-12) of what `view_to_json` makes of a view of this class."""
    parts: dict[str, Any] = {}
    _add(view, parts)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$ref": f"#/$defs/{view.__name__}",
        "$defs": parts,
    }


ACCEPTED: Mapping[str, object] = {"type": "array", "items": {"type": "integer"}}
"""What `plan --accept` adds to the view: the numbers of the records it stored."""


def envelope_schema(name: str, view: type) -> dict[str, Any]:
    """The JSON Schema of a whole answer: the schema's name and version, and the view as data."""
    whole = schema_of(view)
    if name == "plan":
        whole["$defs"][view.__name__]["properties"]["accepted"] = dict(ACCEPTED)
    return {
        "$schema": whole["$schema"],
        "type": "object",
        "required": ["schema", "data"],
        "additionalProperties": False,
        "properties": {"schema": {"const": f"dawnlevel/{name}/1"}, "data": {"$ref": whole["$ref"]}},
        "$defs": whole["$defs"],
    }


def _add(view: type, parts: dict[str, Any]) -> None:
    """Describe a dataclass, and those it holds, under their names."""
    if view.__name__ in parts:
        return
    parts[view.__name__] = {}
    hints = get_type_hints(view)
    names = [field.name for field in dataclasses.fields(view)]
    parts[view.__name__] = {
        "type": "object",
        "required": names,
        "additionalProperties": False,
        "properties": {name: _schema(hints[name], parts) for name in names},
    }


def _schema(hint: Any, parts: dict[str, Any]) -> dict[str, Any]:  # noqa: ANN401 - type hints have no type
    origin = get_origin(hint)
    if origin in {Union, types.UnionType}:
        return {"anyOf": [_schema(one, parts) for one in get_args(hint)]}
    if origin is tuple:
        return {"type": "array", "items": _schema(get_args(hint)[0], parts)}
    if dataclasses.is_dataclass(hint):
        _add(hint, parts)  # type: ignore[arg-type]  # a hint that is a dataclass is a class
        return {"$ref": f"#/$defs/{hint.__name__}"}  # type: ignore[union-attr]
    if issubclass(hint, StrEnum):
        return {"enum": [member.value for member in hint]}
    return dict(_SCALARS[hint])


def type_text(hint: Any) -> str:  # noqa: ANN401 - type hints have no type
    """A field's type in words, for the documentation."""
    origin = get_origin(hint)
    if origin in {Union, types.UnionType}:
        return " or ".join(type_text(one) for one in get_args(hint))
    if origin is tuple:
        return f"list of {type_text(get_args(hint)[0])}"
    if dataclasses.is_dataclass(hint):
        return f"[{hint.__name__}](#{hint.__name__.lower()})"  # type: ignore[union-attr]
    if issubclass(hint, StrEnum):
        return ", ".join(f"`{member.value}`" for member in hint)
    words = {datetime: "time (RFC 3339)", date: "date", types.NoneType: "null"}
    return words.get(hint, str(_SCALARS[hint].get("type")))
