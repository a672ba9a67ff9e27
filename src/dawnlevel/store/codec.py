"""Tanks and records to and from plain JSON-able dicts, generic over the fields of their dataclasses.

Every field is written, defaults too: a default that changes later must not change a stored fact.
Reading refuses unknown fields; a field that is missing takes its default, so that descriptions stored
before a field existed stay readable.
"""

import dataclasses
import json
import types
import typing
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime
from enum import Enum
from typing import Any, TypeVar

from dawnlevel.errors import BadInputError
from dawnlevel.tank import RECORD_KINDS, Record, Tank

type_of_kind = RECORD_KINDS
kind_of_type: dict[type[Record], str] = {record_type: kind for kind, record_type in RECORD_KINDS.items()}

Encoder = Callable[[Any], object]
Decoder = Callable[[object, str], object]
T = TypeVar("T")


def _bad(where: str, problem: str) -> BadInputError:
    return BadInputError(problem, where=where, cure="Check the data against the documented fields.")


def _same(value: object) -> object:
    return value


def moment_to_text(moment: datetime) -> str:
    """An aware moment as RFC 3339 text in UTC, microseconds kept."""
    return moment.astimezone(UTC).isoformat().replace("+00:00", "Z")


def moment_from_text(raw: object, where: str) -> datetime:
    """The aware moment that RFC 3339 text names; BadInputError where it has no offset."""
    try:
        moment = datetime.fromisoformat(str(raw))
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise _bad(where, f"{raw!r} is no time with an offset.")
    return moment


def _plain_decoder(wanted: type, accepted: tuple[type, ...]) -> Decoder:
    def decode_plain(raw: object, where: str) -> object:
        if type(raw) is wanted:
            return raw
        if type(raw) in accepted:
            return wanted(raw)
        raise _bad(where, f"{raw!r} is not of the kind {wanted.__name__}.")

    return decode_plain


def _enum_codec(wanted: type[Enum]) -> tuple[Encoder, Decoder]:
    members = {member.value: member for member in wanted}

    def decode_enum(raw: object, where: str) -> object:
        member = members.get(raw) if isinstance(raw, str) else None
        if member is None:
            raise _bad(where, f"{raw!r} is none of {', '.join(map(str, members))}.")
        return member

    return (lambda value: value.value), decode_enum


def _optional_codec(inner: tuple[Encoder, Decoder]) -> tuple[Encoder, Decoder]:
    encode_inner, decode_inner = inner
    return (
        lambda value: None if value is None else encode_inner(value),
        lambda raw, where: None if raw is None else decode_inner(raw, where),
    )


def _tuple_codec(arguments: tuple[Any, ...]) -> tuple[Encoder, Decoder]:
    any_length = len(arguments) == 2 and arguments[1] is Ellipsis
    codecs = [_codec(argument) for argument in arguments if argument is not Ellipsis]

    def encode_tuple(value: tuple[object, ...]) -> object:
        parts = codecs * len(value) if any_length else codecs
        return [encode_one(item) for (encode_one, _), item in zip(parts, value, strict=True)]

    def decode_tuple(raw: object, where: str) -> object:
        if not isinstance(raw, list | tuple) or not (any_length or len(raw) == len(codecs)):
            raise _bad(where, f"{raw!r} is not the expected list.")
        parts = codecs * len(raw) if any_length else codecs
        return tuple(decode_one(item, where) for (_, decode_one), item in zip(parts, raw, strict=True))

    return encode_tuple, decode_tuple


def _codec(hint: Any) -> tuple[Encoder, Decoder]:  # noqa: ANN401 - a type hint is any object
    """The pair (to JSON, from JSON) for one field's type hint."""
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin in (types.UnionType, typing.Union):
        (inner,) = (argument for argument in arguments if argument is not type(None))
        return _optional_codec(_codec(inner))
    if origin is tuple:
        return _tuple_codec(arguments)
    if isinstance(hint, type):
        return _class_codec(hint)
    raise TypeError(hint)  # a field type nobody has taught this module yet


def _class_codec(hint: type) -> tuple[Encoder, Decoder]:
    if dataclasses.is_dataclass(hint):
        return encode, (lambda raw, where: decode(hint, raw, where))
    if issubclass(hint, Enum):
        return _enum_codec(hint)
    if hint is datetime:
        return moment_to_text, moment_from_text
    if hint is float:
        return _same, _plain_decoder(float, (int,))
    if hint in (int, str, bool):
        return _same, _plain_decoder(hint, ())
    raise TypeError(hint)  # a field type nobody has taught this module yet


@dataclasses.dataclass(frozen=True, slots=True)
class _FieldCodec:
    encode: Encoder
    decode: Decoder
    required: bool


_plans: dict[type, dict[str, _FieldCodec]] = {}


def _fields(cls: type) -> dict[str, _FieldCodec]:
    """How each field of a dataclass is written and read; worked out once for a class."""
    if cls in _plans:
        return _plans[cls]
    hints = typing.get_type_hints(cls)
    plan = {}
    for field in dataclasses.fields(cls):
        has_default = not (
            field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING
        )
        plan[field.name] = _FieldCodec(*_codec(hints[field.name]), required=not has_default)
    return _plans.setdefault(cls, plan)


def encode(value: Any) -> dict[str, object]:  # noqa: ANN401 - any dataclass instance
    """The fields of a dataclass instance as a JSON-able dict, units in the names."""
    return {name: codec.encode(getattr(value, name)) for name, codec in _fields(type(value)).items()}


def _values(cls: type, raw: Mapping[str, object], where: str, given: dict[str, object]) -> dict[str, object]:
    """Constructor arguments for `cls`: those `given` as they are, the others decoded from `raw`."""
    plan = _fields(cls)
    values = dict(given)
    for name, item in raw.items():
        codec = plan.get(name)
        if codec is None or name in given:
            raise _bad(where, f"The field {name!r} is unknown.")
        values[name] = codec.decode(item, name)
    for name, codec in plan.items():
        if codec.required and name not in values:
            raise _bad(where, f"The field {name!r} is missing.")
    return values


def decode(cls: type[T], raw: object, where: str) -> T:
    """A `cls` from its dict; BadInputError (with `where`) for unknown, missing or unfit fields."""
    if not isinstance(raw, Mapping):
        raise _bad(where, f"{raw!r} is not a set of named fields.")
    return cls(**_values(cls, raw, where, {}))


def tank_to_json(tank: Tank) -> str:
    """A tank's description as the store keeps it."""
    return to_json(encode(tank))


def tank_from_json(text: str, where: str) -> Tank:
    """The tank that stored text describes."""
    return decode(Tank, json.loads(text), where)


def tank_to_dict(tank: Tank) -> dict[str, object]:
    """A tank's description, every field by its name."""
    return encode(tank)


def tank_from_dict(raw: object, where: str = "tank") -> Tank:
    """The tank a dict describes; BadInputError or OutOfRangeError where it cannot be."""
    return decode(Tank, raw, where)


def kind_of(record: Record) -> str:
    """The machine name of a record's kind."""
    return kind_of_type[type(record)]


def record_to_dict(record: Record) -> dict[str, object]:
    """A record with its `kind` and `at`, every field by its name."""
    return {"kind": kind_of(record), **encode(record)}


def record_from_dict(raw: object, where: str = "record") -> Record:
    """The record a dict with `kind` and `at` names; BadInputError or OutOfRangeError otherwise."""
    if not isinstance(raw, Mapping) or raw.get("kind") not in type_of_kind:
        raise _bad(where, f"The kind is none of {', '.join(type_of_kind)}.")
    return decode(
        type_of_kind[raw["kind"]], {name: item for name, item in raw.items() if name != "kind"}, where
    )


def to_json(fields: Mapping[str, object]) -> str:
    """Compact JSON text of encoded fields; numbers keep every digit."""
    return json.dumps(fields, separators=(",", ":"), allow_nan=False)


def record_payload(record: Record) -> str:
    """What the store keeps beside kind and moment: the record's other fields as JSON text."""
    payload = encode(record)
    del payload["at"]
    return to_json(payload)


def records_from_payloads(rows: Sequence[tuple[int, str, datetime, str]]) -> list[Record]:
    """The records that stored rows (id, kind, moment in UTC, payload) hold, in the same order.

    All payloads are parsed in one go: for 200 of them 0.1 ms instead of 0.4 ms one by one (measured).
    """
    payloads = json.loads(f"[{','.join(row[3] for row in rows)}]")
    return [
        _record(kind, at, payload, row_id)
        for (row_id, kind, at, _), payload in zip(rows, payloads, strict=True)
    ]


def _record(kind: str, at: datetime, payload: Mapping[str, object], row_id: int) -> Record:
    where = f"record {row_id}"
    record_type = type_of_kind.get(kind)
    if record_type is None:
        raise BadInputError(
            f"Its kind {kind!r} is unknown.",
            where=where,
            cure="Update Dawnlevel; the store may have been written by a newer one.",
        )
    return record_type(**_values(record_type, payload, where, {"at": at}))  # type: ignore[arg-type]
