"""What is entered beside the tank: a reading, advice followed, distress, a slip taken back."""

# ruff: noqa: FAST003 - the path's key is taken by the dependency that finds the tank

import re
from collections.abc import Container, Mapping

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse
from starlette.exceptions import HTTPException
from starlette.responses import Response

from dawnlevel.desk.phrases import distress_steps
from dawnlevel.desk.records import find_record, withdraw_record
from dawnlevel.errors import BadInputError
from dawnlevel.tank import FishSighting, FishState, Record
from dawnlevel.web.fields import Form
from dawnlevel.web.house import AtTank, House, TheHouse, TheTank
from dawnlevel.web.once import new_token
from dawnlevel.web.pages import page
from dawnlevel.web.readings import TAKEN, read_record
from dawnlevel.web.routes.today import show_today
from dawnlevel.web.security.tokens import Posted

router = APIRouter(include_in_schema=False)

_TOKEN = re.compile(r"[A-Za-z0-9_-]{8,64}")


def entry_token(given: Mapping[str, str]) -> str:
    """The entry's token from a form; a new one where it carries none."""
    token = given.get("entry", "")
    return token if _TOKEN.fullmatch(token) else new_token()


def see(tank: AtTank, **told: int) -> Response:
    """Back to Today, which says what was done."""
    query = "&".join(f"{name}={number}" for name, number in told.items())
    return RedirectResponse(tank.path(f"?{query}" if query else ""), status_code=303)


def take(house: House, tank: AtTank, token: str, new: Record) -> int:
    """Store one record once, tell open pages, give its number."""
    ids, is_new = house.entries.take(tank.name, token, [new], house.clock())
    if is_new:
        house.changed(tank.name)
    return ids[0]


def take_form(
    house: House, tank: AtTank, given: Mapping[str, str], kinds: Container[str]
) -> tuple[Form, int | None]:
    """One record of `kinds` from a form; its number, or None where the form says what was wrong."""
    kind = given.get("kind", "")
    if kind not in kinds:
        raise HTTPException(422, "The form names no kind of record.")
    form = Form(given, kind)
    new = read_record(form, kind, tank)
    if new is None:
        return form, None
    return form, form.attempt("value", lambda: take(house, tank, entry_token(given), new))


@router.post("/tanks/{key}/record", name="record")
def record(request: Request, house: TheHouse, tank: TheTank, given: Posted) -> Response:
    """One reading, sighting or setting; bad input shows the page again with what was typed."""
    form, number = take_form(house, tank, given, TAKEN)
    if number is None:
        return show_today(request, house, tank, form=form, status=422)
    return see(tank, new=number)


@router.post("/tanks/{key}/distress", name="tell_distress")
def tell_distress(house: TheHouse, tank: TheTank, given: Posted) -> Response:
    """Fish in distress, recorded at once; Today then says what to do."""
    new = FishSighting(at=tank.now, state=FishState.DISTRESS)
    return see(tank, new=take(house, tank, entry_token(given), new))


@router.get("/distress", name="distress")
def distress(request: Request, house: TheHouse) -> Response:
    """What to do now, and for which of several tanks to record it."""
    return page(request, "distress.html", names=house.store.tank_names(), steps=distress_steps())


@router.post("/tanks/{key}/records/{number}/undo", name="undo")
def undo(house: TheHouse, tank: TheTank, number: int) -> Response:
    """Take a slip back: the record no longer counts. A second time changes nothing."""
    withdraw(house, tank, number)
    return see(tank, gone=number)


def withdraw(house: House, tank: AtTank, number: int) -> bool:
    """Withdraw a record of this tank; whether it still stood. 404 where the tank has no such record."""
    entries = {entry.id: entry for entry in house.store.history(tank.name) if entry.record is not None}
    if number not in entries:
        raise HTTPException(404, "This tank has no such record.")
    if not entries[number].stands:
        return False
    try:
        find_record(house.store, number)
        withdraw_record(house.store, number)
    except BadInputError:  # another device was quicker
        return False
    house.changed(tank.name)
    return True
