"""Today: where a tank stands, the one next action, the day's picture, and what is entered beside the tank."""

# ruff: noqa: FAST003 - the path's key is taken by the dependency that finds the tank

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Literal

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from starlette.responses import Response

from dawnlevel.desk.phrases import PHASES, day_text, say_picture
from dawnlevel.desk.records import list_records
from dawnlevel.desk.views import TodayView
from dawnlevel.errors import DawnlevelError, NotEnoughRecordsError
from dawnlevel.store import StoredRecord
from dawnlevel.web.fields import Form
from dawnlevel.web.house import AtTank, House, TheHouse, TheTank
from dawnlevel.web.pages import page
from dawnlevel.web.scale import scale_of

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

LATELY = timedelta(hours=36)
_SHOWN = 8
QUICK = ("ph", "cell", "rate", "fish")
"""Kinds of record that have a form on the page."""

Part = Literal["", "words", "picture"]


@dataclass(frozen=True, slots=True)
class Done:
    """What the page says was just done: the number of a record made, or of one taken back."""

    new: int | None = None
    gone: int | None = None


@router.get("/tanks/{key}", name="today")
def today(
    request: Request,
    house: TheHouse,
    tank: TheTank,
    part: Part = "",
    new: int | None = None,
    gone: int | None = None,
) -> Response:
    """The page, or the part of it that changes when something is recorded."""
    return show_today(request, house, tank, part=part, done=Done(new, gone))


def show_today(
    request: Request,
    house: House,
    tank: AtTank,
    *,
    form: Form | None = None,
    part: Part = "",
    done: Done | None = None,
    status: int = 200,
) -> Response:
    """Today's page; `form` is one that was sent and could not be taken."""
    template = {"": "today.html", "words": "today_words.html", "picture": "today_picture.html"}[part]
    return page(
        request,
        template,
        tank=tank,
        status=status,
        **_told(house, tank, with_picture=part != "words"),
        **_forms(form),
        lately=_lately(house, tank),
        done=_done(house, tank, done or Done()),
    )


def _forms(sent: Form | None) -> dict[str, Any]:
    """The page's four forms: the one that was sent as it was typed, the others empty."""
    kind = "" if sent is None else sent.name
    return {
        "forms": {one: sent if sent is not None and one == kind else Form() for one in QUICK},
        "other_problem": "" if sent is None or kind in QUICK else " ".join(sent.problems.values()),
    }


def _told(house: House, tank: AtTank, *, with_picture: bool) -> dict[str, Any]:
    """What the records tell, or what they lack."""
    try:
        view = house.cases.today(tank.name)
    except NotEnoughRecordsError as error:
        return {"view": None, "missing": error}
    told: dict[str, Any] = {
        "view": view,
        "missing": None,
        "phase": PHASES[view.phase],
        "scale": scale_of(view),
    }
    return told | (_pictured(house, view) if with_picture else {})


def _pictured(house: House, view: TodayView) -> dict[str, Any]:
    title = f"{view.tank}, {day_text(view.now.at)}"
    return {
        "drawn": house.pictures.drawn(f"today {view.tank}", view.picture, title, view.lights_on),
        "in_words": say_picture(view.picture, view.lights_on),
        "hours": _hourly(view),
    }


def _hourly(view: TodayView) -> list[tuple[datetime, float, float, float]]:
    """The picture as a table: an entry an hour with level and 9 in 10."""
    curve = view.picture.curve
    return list(zip(curve.at, curve.median, curve.low_90, curve.high_90, strict=True))[::4]


def _lately(house: House, tank: AtTank) -> list[StoredRecord]:
    """The last records, the latest first."""
    found = list_records(house.store, tank.name, tank.now - LATELY, tank.now + timedelta(minutes=2))
    return sorted(found, key=lambda stored: (stored.record.at, stored.id), reverse=True)[:_SHOWN]


def _done(house: House, tank: AtTank, done: Done) -> dict[str, StoredRecord | int | None]:
    """The record just made, if it still stands for this tank, and the number of one taken back."""
    new = None
    if done.new is not None:
        try:
            name, found = house.store.standing(done.new)
        except DawnlevelError:
            name, found = "", None
        new = found if name == tank.name else None
    return {"new": new, "gone": done.gone}
