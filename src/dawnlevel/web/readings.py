"""What a keeper types into a form or sends as JSON, as a record of the tank."""

from collections.abc import Callable
from datetime import datetime

from dawnlevel.desk.given import record_fields
from dawnlevel.desk.moments import read_at
from dawnlevel.tank import RECORD_KINDS, Record
from dawnlevel.web.fields import Form
from dawnlevel.web.house import AtTank

TAKEN = ("ph", "kh", "baseline", "cell", "rate", "gas", "timer", "fish", "water_change")
"""Kinds of record that one value and its extras make."""

GEAR = ("cylinder", "weight", "gauge", "buffers", "solution", "kh", "water_change", "timer", "gas", "oxygen")
"""Kinds of record of what stands around the tank."""

EXTRAS = ("temp", "step", "hours", "method", "room_co2")
_ON_GEAR = ("tare", "capacity", "standard", "tested", "price", "scale", "stood", "low", "high", "error")
_ON_OXYGEN = ("pressure", "within")
_MISSING = {
    "ph": "Type what the meter shows, for example 6.85.",
    "cylinder": "Type the charge, for example 2 kg.",
    "weight": "Type what the scale shows, for example 5.32 kg.",
    "gauge": "Type what the gauge shows, for example 58 bar.",
    "buffers": "Type both readings, for example 4.06; 6.91.",
    "solution": "Type its KH, for example 4 dKH.",
    "oxygen": "Type what is shown, for example 6.5 mg/L or 82 %.",
    "kh": "Type the count, for example 4.",
    "water_change": "Type the share or the volume, for example 30% or 40 L.",
    "timer": "Type the hours, for example 10:30-19:00.",
    "rate": "Type what you count, for example 1.5 for a second or 90/min.",
    "cell": "Choose the colour you see.",
    "fish": "Choose how the fish behave.",
}


def read_record(form: Form, kind: str, tank: AtTank) -> Record | None:
    """The record of `kind` that `form` holds (value, at, note, extras); None with its messages otherwise.

    The message about the value stands beside `value`, about the time beside `at`.
    """
    record_type = RECORD_KINDS[kind]
    at = form.read("at", _moment_reader(tank))
    names = (*EXTRAS, *_ON_GEAR, *_ON_OXYGEN) if kind in GEAR else EXTRAS
    extras = {name: form.typed(name).strip() or None for name in names}
    given = form.read(
        "value",
        lambda text: record_fields(record_type, text, extras, tank.tank),
        _MISSING.get(kind, "Type what you read."),
    )
    if not form.is_good or given is None:
        return None
    moment = tank.now if at is None else at
    return form.attempt("value", lambda: _make(record_type, moment, form.typed("note").strip(), given))


def _make(kind: Callable[..., Record], at: datetime, note: str, given: dict[str, object]) -> Record:
    return kind(at=at, note=note, **given)


def _moment_reader(tank: AtTank) -> Callable[[str], datetime]:
    return lambda text: read_at(text, tank.now, tank.zone)
