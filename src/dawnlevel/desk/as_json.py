"""Any view as JSON data: what `--json` prints, and what is kept of a fleet."""

import dataclasses
import math
from datetime import date, datetime
from enum import StrEnum

from dawnlevel.store.codec import moment_to_text

Json = dict[str, "Json"] | list["Json"] | str | float | int | bool | None


def view_to_json(value: object) -> Json:
    """A view, or any part of one, as JSON data.

    Moments become RFC 3339 in UTC, days ISO dates, enumerations their words; a number that is none, or
    not finite, becomes null. Raises TypeError for what no view holds.
    """
    match value:
        case float():
            return value if math.isfinite(value) else None
        case datetime():
            return moment_to_text(value)
        case date():
            return value.isoformat()
        case StrEnum():
            return value.value
        case None | bool() | int() | str():
            return value
        case _:
            return _held(value)


def _held(value: object) -> Json:
    """What holds other parts: a tuple or a dataclass."""
    if isinstance(value, tuple | list):
        return [view_to_json(item) for item in value]
    if dataclasses.is_dataclass(value):
        return {field.name: view_to_json(getattr(value, field.name)) for field in dataclasses.fields(value)}
    raise TypeError(type(value))
