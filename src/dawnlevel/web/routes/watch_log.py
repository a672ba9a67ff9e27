"""A probe's log brought in by the browser: sent, looked at, and stored on a yes."""

# ruff: noqa: FAST003 - the path's key is taken by the dependency that finds the tank

from collections.abc import Sequence
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.exceptions import HTTPException
from starlette.responses import Response

from dawnlevel.desk.log_upload import log_preview, take_log
from dawnlevel.errors import BadInputError, BadLine, BadLinesError, DawnlevelError
from dawnlevel.web.house import AtTank, House, TheHouse, TheTank
from dawnlevel.web.pages import page
from dawnlevel.web.routes.exchange import Sent, sent_file
from dawnlevel.web.routes.watch import show_watch
from dawnlevel.web.uploads import Upload

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

_GONE = "This file is no longer kept here. Choose it again on the page Steady."


@router.post("/tanks/{key}/watch/log", name="send_log")
def send_log(
    request: Request, house: TheHouse, tank: TheTank, sent: Annotated[Sent, Depends(sent_file)]
) -> Response:
    """A file, kept until it is confirmed; every line that cannot be taken is shown, and nothing is stored."""
    try:
        if not sent.content.strip():
            raise BadInputError("The file is empty, or none was chosen.", cure="Choose a file.")
        log_preview(house.store, tank.tank, sent.content, sent.name, tank.now)
    except BadLinesError as error:
        return _refused(request, house, tank, sent.name, error.lines)
    except DawnlevelError as error:
        return _refused(request, house, tank, sent.name, [BadLine(0, error.what, error.cure)])
    token = house.uploads.keep(_device(request), tank.name, sent.name, sent.content)
    return RedirectResponse(tank.path(f"/watch/log/{token}"), status_code=303)


@router.get("/tanks/{key}/watch/log/{token}", name="sent_log")
def sent_log(request: Request, house: TheHouse, tank: TheTank, token: str) -> Response:
    """What a file would bring, and the question whether to bring it in."""
    upload = _upload(request, house, tank, token)
    if upload.taken is not None:
        return RedirectResponse(_done(tank, upload.taken), status_code=303)
    view = log_preview(house.store, tank.tank, upload.content, upload.name, tank.now)
    return page(request, "sent_log.html", tank=tank, view=view, token=token)


@router.post("/tanks/{key}/watch/log/{token}", name="take_log")
def confirm_log(request: Request, house: TheHouse, tank: TheTank, token: str) -> Response:
    """Bring the file in; a second yes finds that it is done."""
    upload = _upload(request, house, tank, token)
    taken = upload.taken
    if taken is None:
        taken = take_log(house.store, tank.tank, upload.content, upload.name, tank.now)
        house.uploads.took(token, taken)
        house.changed(tank.name)
    return RedirectResponse(_done(tank, taken), status_code=303)


@router.post("/tanks/{key}/watch/log/{token}/leave", name="leave_log")
def leave_log(request: Request, house: TheHouse, tank: TheTank, token: str) -> Response:
    """Throw the file away."""
    _upload(request, house, tank, token)
    house.uploads.let_go(token)
    return RedirectResponse(tank.path("/watch?done=left"), status_code=303)


def _refused(request: Request, house: House, tank: AtTank, name: str, lines: Sequence[BadLine]) -> Response:
    return show_watch(request, house, tank, bad=lines, bad_name=name, status=422)


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
