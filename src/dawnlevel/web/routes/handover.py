"""What is handed on: the plan for the owner as a page and on paper, and the calendar."""

# ruff: noqa: FAST003 - the path's key is taken by the dependency that finds the tank

from urllib.parse import quote

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from starlette.responses import Response

from dawnlevel.desk.handover.calendar import calendar_view
from dawnlevel.desk.handover.handover import handover_pack
from dawnlevel.desk.handover.handover_views import HandoverPack
from dawnlevel.errors import BadInputError, NotEnoughRecordsError
from dawnlevel.report.ical import calendar_ics
from dawnlevel.report.web_page import style_hash
from dawnlevel.report.workshop import WORKSHOP
from dawnlevel.web.house import AtTank, TheHouse, TheTank
from dawnlevel.web.pages import page

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


@router.get("/tanks/{key}/handover", name="handover")
def handover(request: Request, house: TheHouse, tank: TheTank) -> Response:
    """The page for the owner, whole in itself: it may load nothing, and wears its own style only."""
    try:
        pack = handover_pack(house.store, tank.name)
    except (NotEnoughRecordsError, BadInputError) as error:
        return _missing(request, tank, error)
    return sheets(pack)


@router.get("/tanks/{key}/handover.pdf", name="handover_pdf")
def handover_paper(request: Request, house: TheHouse, tank: TheTank) -> Response:
    """The same on paper."""
    try:
        pack = handover_pack(house.store, tank.name)
    except (NotEnoughRecordsError, BadInputError) as error:
        return _missing(request, tank, error)
    return file_of(paper_of(pack), "application/pdf", f"{tank.name}.pdf")


@router.get("/tanks/{key}/calendar.ics", name="calendar_ics")
def calendar(house: TheHouse, tank: TheTank) -> Response:
    """Gas, lights, readings and due dates for a calendar program."""
    content = calendar_ics(calendar_view(house.store, tank.name))
    return file_of(content, "text/calendar; charset=utf-8", f"{tank.name}.ics")


def _missing(request: Request, tank: AtTank, error: NotEnoughRecordsError | BadInputError) -> Response:
    """The plan's page, saying what stands in the way."""
    return page(request, "plan.html", tank=tank, view=None, missing=error, problem="", done=[], status=409)


def sheets(pack: HandoverPack) -> Response:
    """The page of a hand-over: it may load nothing, and wears its own style only."""
    policy = f"default-src 'none'; style-src {style_hash()}; base-uri 'none'; frame-ancestors 'none'"
    text: str = WORKSHOP.run("dawnlevel.report.web_page:handover_html", pack)
    return HTMLResponse(text, headers={"Content-Security-Policy": policy})


def paper_of(pack: HandoverPack) -> bytes:
    """The hand-over as PDF."""
    content: bytes = WORKSHOP.run("dawnlevel.report.paper:handover_pdf", pack)
    return content


def file_of(content: bytes, kind: str, name: str) -> Response:
    """A file to keep, called `name`."""
    headers = {"Content-Disposition": f"attachment; filename*=UTF-8''{quote(name, safe='')}"}
    return Response(content, media_type=kind, headers=headers)
