"""Why it isn't working: a complaint, its causes from this tank's records, what to measure, what to change."""

# ruff: noqa: FAST003 - the path's key is taken by the dependency that finds the tank

from collections.abc import Callable
from functools import lru_cache, partial

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from starlette.responses import Response

from dawnlevel.desk.casebook import Case
from dawnlevel.desk.trouble.complaint import asking_view, complaint_in
from dawnlevel.desk.trouble.complaint_causes import LABELS, Complaint
from dawnlevel.desk.trouble.complaint_views import ComplaintView
from dawnlevel.store import Store
from dawnlevel.web.house import TheHouse, TheTank
from dawnlevel.web.pages import page

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

HARDLY = 0.1
"""Causes with a smaller chance are folded away; own choice."""


@lru_cache(maxsize=64)
def _maker(store: Store, complaint: Complaint) -> Callable[[Case], ComplaintView]:
    """What makes the answer of a case; the same one each time, so that the answer is kept with the case."""
    return partial(complaint_in, store, complaint=complaint)


@router.get("/tanks/{key}/trouble", name="trouble")
def trouble(request: Request, tank: TheTank) -> Response:
    """The complaints to choose from."""
    return page(request, "trouble.html", tank=tank, complaints=LABELS)


@router.get("/tanks/{key}/trouble/{complaint}", name="complaint")
def complaint(request: Request, house: TheHouse, tank: TheTank, complaint: Complaint) -> Response:
    """The answer to one of them."""
    view = asking_view(house.store, tank.name, complaint, house.clock())
    if view is None:
        view = house.cases.view(tank.name, _maker(house.store, complaint))
    unlikely = [one for one in view.causes if one.probability is not None and one.probability < HARDLY]
    return page(
        request,
        "complaint.html",
        tank=tank,
        view=view,
        likely=[one for one in view.causes if one not in unlikely],
        unlikely=unlikely,
        is_urgent=complaint is Complaint.FISH,
    )
