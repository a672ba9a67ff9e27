"""The JSON side: what the pages' modules use, and a keeper's own programs may."""

# ruff: noqa: FAST003 - the path's key is taken by the dependency that finds the tank

from datetime import datetime
from typing import Annotated, Any, Literal

from fastapi import APIRouter, FastAPI, Query, Request, Security
from fastapi.openapi.utils import get_openapi
from fastapi.responses import JSONResponse
from fastapi.security import APIKeyCookie, APIKeyHeader
from pydantic import BaseModel, ConfigDict, Field
from starlette.exceptions import HTTPException
from starlette.responses import Response

from dawnlevel.desk.records import list_records
from dawnlevel.desk.saying import say
from dawnlevel.desk.views import TodayView
from dawnlevel.store import StoredRecord
from dawnlevel.store.codec import record_to_dict
from dawnlevel.web.addresses import key_of
from dawnlevel.web.fields import Form
from dawnlevel.web.house import TheHouse, TheTank
from dawnlevel.web.once import new_token
from dawnlevel.web.problems import error_data
from dawnlevel.web.readings import read_record
from dawnlevel.web.routes.entries import take, withdraw
from dawnlevel.web.security.tokens import HEADER

API_ABOUT = (
    "Where CO2 stands in each tank, the next action, and entries from other programs. Every request needs "
    "the session cookie of a paired device (this computer is let in without), and what changes something "
    f"also the form token of that session, from `GET /api/session`, in the header `{HEADER}`."
)
_MOST = 500


class Problem(BaseModel):
    """What went wrong: a short name, the message, where, and the cure."""

    slug: str
    message: str
    where: str
    cure: str


class ProblemAnswer(BaseModel):
    """An error; `fields` tells each field that could not be taken, and why."""

    error: Problem
    fields: dict[str, str] | None = None


class Session(BaseModel):
    """Who asks: the device's name, and the token for what changes something."""

    device: str
    token: str


class TankEntry(BaseModel):
    """A tank: its name, its key in addresses, its time zone."""

    name: str
    key: str
    timezone: str


class NewRecord(BaseModel):
    """What was seen or done, in the words a keeper uses; units may be written with figures.

    `value` by kind: `ph` 6.85; `kh` 4 or 71mg/L; `baseline` 8.02; `cell` green; `rate` 1.5 or 90/min;
    `gas` open; `timer` 10:30-19:00; `fish` calm; `water_change` 30%. `at` is 09:30 today, or RFC 3339;
    now without it.
    `entry` is a token of the sender's own: the same token is recorded once, however often it is sent.
    """

    model_config = ConfigDict(extra="forbid", strict=True)

    kind: Literal["ph", "kh", "baseline", "cell", "rate", "gas", "timer", "fish", "water_change"]
    value: Annotated[str, Field(min_length=1, max_length=200)]
    at: Annotated[str, Field(max_length=64)] | None = None
    note: Annotated[str, Field(max_length=2000)] | None = None
    temp: Annotated[str, Field(max_length=40)] | None = None
    step: Annotated[str, Field(max_length=40)] | None = None
    hours: Annotated[str, Field(max_length=40)] | None = None
    method: Annotated[str, Field(max_length=40)] | None = None
    room_co2: Annotated[str, Field(max_length=40)] | None = None
    entry: Annotated[str, Field(pattern=r"^[A-Za-z0-9_-]{8,64}$")] | None = None


class RecordAnswer(BaseModel):
    """A record that stands: its number, what it says in words, when it was written down, its own fields."""

    id: int
    said: str
    recorded_at: datetime
    supersedes: int | None
    record: dict[str, Any]


class Undone(BaseModel):
    """A record taken back; `was_standing` is false where it had been before."""

    id: int
    was_standing: bool


_SESSION = "session"
_cookie = APIKeyCookie(
    name="dawnlevel", scheme_name=_SESSION, auto_error=False, description="Session of a paired device."
)
_token = APIKeyHeader(
    name=HEADER, scheme_name="form_token", auto_error=False, description="Form token of that session."
)
_REFUSED: dict[int | str, dict[str, Any]] = {
    code: {"model": ProblemAnswer, "description": text}
    for code, text in {
        400: "The body cannot be read.",
        401: "No session.",
        403: "No form token, or a page of another site.",
        404: "No such tank or record.",
        409: "The records cannot tell yet.",
        413: "More than can be taken.",
        421: "Asked for by a name that is not this server's.",
        422: "What was given cannot be taken.",
        503: "The records cannot be read or written now.",
    }.items()
}
router = APIRouter(prefix="/api", responses=_REFUSED, dependencies=[Security(_cookie)])


def _answer(stored: StoredRecord) -> RecordAnswer:
    return RecordAnswer(
        id=stored.id,
        said=say(stored.record),
        recorded_at=stored.recorded_at,
        supersedes=stored.supersedes,
        record=record_to_dict(stored.record),
    )


@router.get("/session")
def session(request: Request, house: TheHouse) -> Session:
    """Who asks, and the form token."""
    device = request.scope["state"]["device"]
    return Session(device=device.name, token=house.sessions.form_token(device.id))


@router.get("/tanks")
def tanks(house: TheHouse) -> list[TankEntry]:
    """All tanks, in the order in which they were described."""
    found = [house.store.tank(name) for name in house.store.tank_names()]
    return [TankEntry(name=tank.name, key=key_of(tank.name), timezone=tank.timezone) for tank in found]


@router.get("/tanks/{key}/today")
def today(house: TheHouse, tank: TheTank) -> TodayView:
    """Where the tank stands now, the forecast, the one next action."""
    return house.cases.today(tank.name)


@router.get("/tanks/{key}/records")
def records(
    house: TheHouse, tank: TheTank, last: Annotated[int, Query(ge=1, le=_MOST)] = 50
) -> list[RecordAnswer]:
    """The last records that stand, the latest first."""
    found = list_records(house.store, tank.name)[-last:]
    return [_answer(stored) for stored in reversed(found)]


@router.post(
    "/tanks/{key}/records",
    status_code=201,
    response_model=RecordAnswer,
    dependencies=[Security(_token)],
)
def record(house: TheHouse, tank: TheTank, new: NewRecord) -> Response | RecordAnswer:
    """Record what was seen or done."""
    given = {name: text for name, text in new.model_dump().items() if text is not None}
    form = Form(given, new.kind)
    made = read_record(form, new.kind, tank)
    token = new.entry or new_token()
    number = None if made is None else form.attempt("value", lambda: take(house, tank, token, made))
    if number is None:
        data = error_data("bad-input", "What was given cannot be taken.", f"{new.kind} record")
        return JSONResponse({**data, "fields": form.problems}, status_code=422)
    for entry in house.store.history(tank.name):  # it may have been corrected since it was first sent
        if entry.id == number and entry.record is not None:
            return _answer(StoredRecord(entry.id, entry.record, entry.recorded_at, entry.supersedes))
    raise HTTPException(404, "This tank has no such record.")


@router.post("/tanks/{key}/records/{number}/undo", dependencies=[Security(_token)])
def undo(house: TheHouse, tank: TheTank, number: Annotated[int, Field(ge=1, le=2**31 - 1)]) -> Undone:
    """Take a record back: it no longer counts. A second time changes nothing."""
    return Undone(id=number, was_standing=withdraw(house, tank, number))


def describe(app: FastAPI, cookie: str) -> dict[str, Any]:
    """The OpenAPI description; `cookie` is what this server's session is called."""
    if app.openapi_schema is None:
        made = get_openapi(
            title=app.title, version=app.version, description=app.description, routes=app.routes
        )
        made["components"]["securitySchemes"][_SESSION]["name"] = cookie
        app.openapi_schema = made
    return app.openapi_schema
