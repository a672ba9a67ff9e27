"""The records of a tank: all of them by day, put right or withdrawn, and entry of what Today does not ask."""

# ruff: noqa: FAST003 - the path's key is taken by the dependency that finds the tank

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.exceptions import HTTPException
from starlette.responses import Response

from dawnlevel.desk.advice.diary import SHELF_KINDS, diary, words_of
from dawnlevel.desk.amounts import write_share, write_windows
from dawnlevel.desk.records import correct_record, withdraw_record
from dawnlevel.desk.saying import say_moment
from dawnlevel.errors import BadLine
from dawnlevel.store import HistoryEntry
from dawnlevel.store.codec import kind_of
from dawnlevel.tank import (
    RECORD_KINDS,
    BaselineCup,
    GasSwitch,
    KhTitration,
    PhReading,
    Record,
    TimerSetting,
    WaterChange,
)
from dawnlevel.web.fields import Form
from dawnlevel.web.house import AtTank, House, TheHouse, TheTank
from dawnlevel.web.pages import page
from dawnlevel.web.readings import read_record
from dawnlevel.web.routes.entries import entry_token, take
from dawnlevel.web.security.tokens import Posted

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

ENTERED = ("water_change", "timer", "gas", "kh")
"""Kinds of record that are entered on this page; the others have their place on Today."""

KIND_WORDS = {
    "ph": "pH",
    "kh": "KH",
    "baseline": "baseline cup",
    "cell": "indicator cell",
    "rate": "rate",
    "gas": "gas by hand",
    "timer": "timer",
    "fish": "fish",
    "water_change": "water change",
    "cylinder": "cylinder",
    "weight": "weight of the cylinder",
    "gauge": "gauge",
    "buffers": "buffer check",
    "solution": "solution",
    "survey": "pH at a place",
    "oxygen": "oxygen",
}


@dataclass(frozen=True, slots=True)
class Asked:
    """Which records are wanted, what was just done, and what was wrong with a file."""

    kind: str = ""
    until: str = ""
    done: str = ""
    bad: Sequence[BadLine] = ()


@router.get("/tanks/{key}/records", name="records")
def records(
    request: Request, house: TheHouse, tank: TheTank, kind: str = "", until: str = "", done: str = ""
) -> Response:
    """Everything written down, newest first."""
    return show_records(request, house, tank, Form(), asked=Asked(kind, until, done))


def show_records(
    request: Request, house: House, tank: AtTank, form: Form, *, status: int = 200, asked: Asked | None = None
) -> Response:
    """The list; `form` is one that was sent and could not be taken, `asked` what part of it is wanted."""
    asked = asked or Asked()
    kind = asked.kind if asked.kind in RECORD_KINDS else ""
    return page(
        request,
        "records.html",
        tank=tank,
        status=status,
        diary=diary(house.store, tank.name, kind, _day(asked.until)),
        kind=kind,
        kind_words=KIND_WORDS,
        forms={one: form if form.name == one else Form() for one in ENTERED},
        done=asked.done,
        bad=asked.bad,
    )


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


@router.post("/tanks/{key}/records", name="enter_record")
def enter_record(request: Request, house: TheHouse, tank: TheTank, given: Posted) -> Response:
    """A water change, the timer, the gas by hand or a KH count."""
    kind = given.get("kind", "")
    if kind not in ENTERED:
        raise HTTPException(422, "The form names no kind of record.")
    form = Form(given, kind)
    new = read_record(form, kind, tank)
    if new is None or form.attempt("value", lambda: take(house, tank, entry_token(given), new)) is None:
        return show_records(request, house, tank, form, status=422)
    return _back(tank, "recorded")


def _back(tank: AtTank, done: str) -> Response:
    return RedirectResponse(tank.path(f"/records?done={done}"), status_code=303)


@router.get("/tanks/{key}/records/{number}", name="one_record")
def one_record(request: Request, house: TheHouse, tank: TheTank, number: int) -> Response:
    """One record, to put right or to withdraw."""
    return _one(request, house, tank, number, Form())


def _one(
    request: Request, house: House, tank: AtTank, number: int, form: Form, status: int = 200
) -> Response:
    """The record's page; `form` is one that was sent and could not be taken."""
    entry = _entry(house, tank, number)
    record = entry.record
    if record is None:
        raise HTTPException(404, "This tank has no such record.")
    kind = kind_of(record)
    shown = form if form.name == "correct" else Form(_as_typed(record, tank), "correct")
    return page(
        request,
        "record.html",
        tank=tank,
        status=status,
        number=number,
        stands=entry.stands,
        said=words_of(record, tank.zone),
        at=say_moment(record.at, tank.zone),
        kind=kind,
        kind_words=KIND_WORDS,
        can_correct=kind not in SHELF_KINDS,
        extras=_extras(record),
        correct=shown,
        void=form if form.name == "void" else Form(),
    )


def _entry(house: House, tank: AtTank, number: int) -> HistoryEntry:
    found = next((entry for entry in house.store.history(tank.name) if entry.id == number), None)
    if found is None:
        raise HTTPException(404, "This tank has no such record.")
    return found


def _as_typed(record: Record, tank: AtTank) -> dict[str, str]:
    """The record as its form's fields."""
    fields = {"value": _value(record), "note": record.note}
    fields["at"] = f"{record.at.astimezone(tank.zone):%Y-%m-%d %H:%M:%S}"
    return fields | {name: text for name, (_, text) in _extras(record).items()}


def _value(record: Record) -> str:
    """The record's value, written as it is read."""
    match record:
        case TimerSetting():
            return write_windows(record.windows_h)
        case WaterChange():
            share, unit = write_share(record.fraction)
            return share if unit == "1" else f"{share}{unit}"
        case GasSwitch():
            return "open" if record.is_open else "closed"
        case KhTitration():
            return f"{record.kh_dkh!r}"
    named = {"ph": "ph", "baseline": "ph", "cell": "colour", "rate": "bubbles_per_second", "fish": "state"}
    return str(getattr(record, named.get(kind_of(record), "note")))


def _extras(record: Record) -> dict[str, tuple[str, str]]:
    """What a kind of record holds besides: field to label and text."""
    match record:
        case PhReading():
            return {"temp": ("Temperature, °C", _known(record.temp_c))}
        case KhTitration():
            return {"step": ("Step of the kit, dKH", _known(record.step_dkh))}
        case BaselineCup():
            return {
                "method": ("Prepared: still_cup, stirred_cup or aerated", record.method.value),
                "hours": ("Hours", _known(record.hours)),
                "room_co2": ("CO2 of the room, ppm", _known(record.room_co2_ppm)),
            }
        case _:
            return {}


def _known(value: float | None) -> str:
    return "" if value is None else repr(value)


@router.post("/tanks/{key}/records/{number}/correct", name="correct")
def correct(request: Request, house: TheHouse, tank: TheTank, number: int, given: Posted) -> Response:
    """Put what is right in the record's place; what was written stays to be seen."""
    form = Form(given, "correct")
    old = _entry(house, tank, number).record
    if old is None or kind_of(old) in SHELF_KINDS:
        raise HTTPException(404, "This tank has no such record.")
    new = read_record(form, kind_of(old), tank)
    if new is not None and form.typed("at") == _as_typed(old, tank)["at"]:
        new = dataclasses.replace(new, at=old.at)  # the page shows no parts of a second
    if new is None or not _corrected(house, tank, number, form, new):
        return _one(request, house, tank, number, form, 422)
    return _back(tank, "corrected")


def _corrected(house: House, tank: AtTank, number: int, form: Form, new: Record) -> bool:
    if form.attempt("value", lambda: correct_record(house.store, number, new, tank.now)) is None:
        return False
    house.changed(tank.name)
    return True


@router.post("/tanks/{key}/records/{number}/void", name="void")
def void(request: Request, house: TheHouse, tank: TheTank, number: int, given: Posted) -> Response:
    """Withdraw a record, with the reason."""
    form = Form(given, "void")
    _entry(house, tank, number)
    reason = form.read("reason", str, "Say why, so that you know later.")
    if reason is None or form.attempt("reason", lambda: withdraw_record(house.store, number, reason)) is None:
        return _one(request, house, tank, number, form, 422)
    house.changed(tank.name)
    return _back(tank, "withdrawn")
