"""A probe's log brought in by the browser: sent, looked at, and stored on a yes."""

# ruff: noqa: FAST003 - the path's key is taken by the dependency that finds the tank

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.exceptions import HTTPException
from starlette.responses import Response

from dawnlevel.desk.steadiness.log_upload import ReadAs, log_preview, take_log
from dawnlevel.desk.steadiness.logshape import WHAT
from dawnlevel.desk.steadiness.probing import withdraw_probe
from dawnlevel.errors import BadInputError, BadLine, BadLinesError, OutOfRangeError
from dawnlevel.web.fields import Form
from dawnlevel.web.house import AtTank, House, TheHouse, TheTank
from dawnlevel.web.pages import page
from dawnlevel.web.routes.exchange import Sent, sent_file
from dawnlevel.web.routes.watch import show_watch
from dawnlevel.web.security.tokens import Posted
from dawnlevel.web.uploads import Upload

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

_GONE = "This file is no longer kept here. Choose it again on the page Steady."
_SHOWN_LINES = 20
"""Lines of a file that cannot be taken and are shown at once; the others are folded away."""


@router.post("/tanks/{key}/watch/log", name="send_log")
def send_log(
    request: Request, house: TheHouse, tank: TheTank, sent: Annotated[Sent, Depends(sent_file)]
) -> Response:
    """A file, kept until it is confirmed; where it cannot be read the page says why and how else."""
    if not sent.content.strip():
        return show_watch(request, house, tank, problem="The file is empty, or none was chosen.", status=422)
    token = house.uploads.keep(_device(request), tank.name, sent.name, sent.content)
    upload = _upload(request, house, tank, token)
    answer = _preview(request, house, tank, upload, Form())
    if answer.status_code != 200:
        return answer
    return RedirectResponse(tank.path(f"/watch/log/{token}"), status_code=303)


@router.get("/tanks/{key}/watch/log/{token}", name="sent_log")
def sent_log(request: Request, house: TheHouse, tank: TheTank, token: str) -> Response:
    """What a file would bring, read as the address says, and the question whether to bring it in."""
    upload = _upload(request, house, tank, token)
    if upload.taken is not None:
        return RedirectResponse(_done(tank, upload.taken), status_code=303)
    return _preview(request, house, tank, upload, Form(dict(request.query_params)))


@router.post("/tanks/{key}/watch/log/{token}", name="take_log")
def confirm_log(request: Request, house: TheHouse, tank: TheTank, token: str, given: Posted) -> Response:
    """Bring the file in; a second yes finds that it is done."""
    upload = _upload(request, house, tank, token)
    taken = upload.taken
    if taken is None:
        form = Form(given)
        try:
            taken = take_log(house.store, tank.tank, upload.content, upload.name, tank.now, _read_as(form))
        except (BadLinesError, BadInputError):
            return _preview(request, house, tank, upload, form)
        house.uploads.took(token, taken)
        house.changed(tank.name)
    return RedirectResponse(_done(tank, taken), status_code=303)


@router.post("/tanks/{key}/watch/log/{token}/leave", name="leave_log")
def leave_log(request: Request, house: TheHouse, tank: TheTank, token: str) -> Response:
    """Throw the file away."""
    _upload(request, house, tank, token)
    house.uploads.let_go(token)
    return RedirectResponse(tank.path("/watch?done=left"), status_code=303)


@router.post("/tanks/{key}/watch/parts/{number}/withdraw", name="withdraw_log")
def withdraw_log(house: TheHouse, tank: TheTank, number: int) -> Response:
    """Take back what was brought in together; BadInputError where it no longer counts."""
    readings = withdraw_probe(house.store, tank.name, number)
    house.changed(tank.name)
    return RedirectResponse(tank.path(f"/watch?done=withdrawn-{readings}"), status_code=303)


def _read_as(form: Form) -> ReadAs:
    """How the keeper wants the file read; what is left empty is found out."""
    named = {what: form.typed(what).strip() for what in WHAT if form.typed(what).strip()}
    return ReadAs(named, form.typed("zone").strip())


def _preview(request: Request, house: House, tank: AtTank, upload: Upload, form: Form) -> Response:
    """The file's page; with status 422 and every place to put right where it cannot be read so."""
    view, bad = None, []
    try:
        view = log_preview(house.store, tank.tank, upload.content, upload.name, tank.now, _read_as(form))
    except BadLinesError as error:
        bad = list(error.lines)
    except (BadInputError, OutOfRangeError) as error:
        bad = [BadLine(0, error.what, error.cure)]
    return page(
        request,
        "sent_log.html",
        tank=tank,
        status=200 if view else 422,
        view=view,
        bad=bad,
        name=upload.name,
        token=upload.token,
        form=form,
        shown_lines=_SHOWN_LINES,
    )


def _device(request: Request) -> str:
    device: str = request.scope["state"]["device"].id
    return device


def _upload(request: Request, house: House, tank: AtTank, token: str) -> Upload:
    found = house.uploads.waiting(_device(request), tank.name, token)
    if found is None:
        raise HTTPException(404, _GONE)
    return found


def _done(tank: AtTank, taken: int) -> str:
    return tank.path(f"/watch?done=imported-{taken}")
