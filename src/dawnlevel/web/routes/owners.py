"""What is handed to an owner: all of their tanks, and nobody else's."""

# ruff: noqa: FAST003 - the path's key is taken by the dependency that finds the owner

import json
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends
from fastapi.responses import HTMLResponse
from starlette.responses import Response

from dawnlevel.desk.exchange.archive import ARCHIVE_SCHEMA, export_archive
from dawnlevel.desk.exchange.exchange import export_table
from dawnlevel.desk.handover.calendar import owner_calendar_view
from dawnlevel.desk.handover.handover import owner_handover
from dawnlevel.desk.handover.owners import tanks_of
from dawnlevel.report.ical import calendars_ics
from dawnlevel.web.addresses import name_of
from dawnlevel.web.house import TheHouse
from dawnlevel.web.routes.handover import file_of, paper_of, sheets

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


@dataclass(frozen=True, slots=True)
class AtOwner:
    """The owner something is made for, and the names of the tanks."""

    name: str
    tanks: tuple[str, ...]


def at_owner(house: TheHouse, key: str) -> AtOwner:
    """The owner that the path names; NoSuchOwnerError, which is answered with 404."""
    found = tanks_of(house.store, name_of(key))
    return AtOwner(found[0].owner, tuple(tank.name for tank in found))


TheOwner = Annotated[AtOwner, Depends(at_owner)]


@router.get("/owners/{key}/handover", name="owner_handover")
def handover(house: TheHouse, owner: TheOwner) -> Response:
    """The hand-over of all of the owner's tanks as a page, whole in itself."""
    return sheets(owner_handover(house.store, owner.name))


@router.get("/owners/{key}/handover.pdf", name="owner_handover_pdf")
def handover_paper(house: TheHouse, owner: TheOwner) -> Response:
    """The same on paper."""
    pack = owner_handover(house.store, owner.name)
    return file_of(paper_of(pack), "application/pdf", f"{owner.name}.pdf")


@router.get("/owners/{key}/calendar.ics", name="owner_calendar")
def calendar(house: TheHouse, owner: TheOwner) -> Response:
    """One calendar for all of the owner's tanks."""
    views = owner_calendar_view(house.store, owner.name).calendars
    content = calendars_ics(views, f"Tanks of {owner.name}")
    return file_of(content, "text/calendar; charset=utf-8", f"{owner.name}.ics")


@router.get("/owners/{key}/records.csv", name="owner_csv")
def table(house: TheHouse, owner: TheOwner) -> Response:
    """What stands of the owner's tanks, as a table."""
    text = export_table(house.store, owner.tanks)
    return file_of(text.encode(), "text/csv; charset=utf-8", f"{owner.name}.csv")


@router.get("/owners/{key}/records.json", name="owner_archive")
def archive(house: TheHouse, owner: TheOwner) -> Response:
    """Everything of the owner's tanks with corrections and withdrawals, naming no other owner."""
    found = {"schema": ARCHIVE_SCHEMA, "data": export_archive(house.store, owner.tanks, owner.name)}
    text = json.dumps(found, ensure_ascii=False, indent=1) + "\n"
    return file_of(text.encode(), "application/json; charset=utf-8", f"{owner.name}.json")
