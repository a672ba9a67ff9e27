"""Into practice and out of it, and the buttons that move its time and read its instruments."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse
from starlette.responses import Response

from dawnlevel.web.addresses import tank_path
from dawnlevel.web.house import TheHouse
from dawnlevel.web.pages import page
from dawnlevel.web.practice.bench import BASE, NAME, Bench
from dawnlevel.web.practice.door import Benches
from dawnlevel.web.routes.entries import entry_token
from dawnlevel.web.security.tokens import Posted

router = APIRouter(include_in_schema=False, prefix=BASE)

TODAY = BASE + tank_path(NAME)


def _benches(request: Request) -> Benches:
    benches: Benches = request.app.state.benches
    return benches


TheBenches = Annotated[Benches, Depends(_benches)]


def _bench(request: Request, benches: TheBenches) -> Bench | None:
    """This device's practice; what goes wrong in it is told on a page of it."""
    bench = benches.find(request.scope["state"]["device"].id)
    if bench is not None:
        request.scope["state"]["house"] = bench.house
    return bench


TheBench = Annotated[Bench | None, Depends(_bench)]


@router.get("", name="practice")
def practice(request: Request, bench: TheBench) -> Response:
    """What practice is; a practice that is under way goes on."""
    if bench is not None:
        return RedirectResponse(TODAY, status_code=303)
    return page(request, "practice.html")


@router.post("/begin", name="begin_practice")
def begin(request: Request, house: TheHouse, benches: TheBenches) -> Response:
    """A new practice tank for this device."""
    benches.begin(house, request.scope["state"]["device"].id)
    return RedirectResponse(TODAY, status_code=303)


@router.post("/leave", name="leave_practice")
def leave(request: Request, benches: TheBenches) -> Response:
    """Back to the keeper's own tanks."""
    benches.leave(request.scope["state"]["device"].id)
    return RedirectResponse("/", status_code=303)


@router.post("/wait", name="wait_in_practice")
def wait(bench: TheBench, given: Posted) -> Response:
    """Let the practice tank's time pass."""
    if bench is None:
        return RedirectResponse(BASE, status_code=303)
    bench.wait(given.get("until", ""), given.get("shown_at", ""))
    return RedirectResponse(TODAY, status_code=303)


@router.post("/look", name="look_in_practice")
def look(bench: TheBench, given: Posted) -> Response:
    """Read an instrument of the practice tank, or look at its fish, and record it."""
    if bench is None:
        return RedirectResponse(BASE, status_code=303)
    number = bench.look(given.get("kind", ""), entry_token(given))
    return RedirectResponse(f"{TODAY}?new={number}", status_code=303)
