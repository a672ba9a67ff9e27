"""What went wrong, as a page or as JSON, with the status that says so."""

from fastapi import Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.routing import Match

from dawnlevel.errors import (
    BadInputError,
    DawnlevelError,
    NoSuchOwnerError,
    NoSuchTankError,
    NotEnoughRecordsError,
    OutOfRangeError,
    StoreError,
    TankExistsError,
)
from dawnlevel.web.pages import page
from dawnlevel.web.wording import in_web_words

_STATUS: tuple[tuple[type[DawnlevelError], int], ...] = (
    (NoSuchTankError, 404),
    (NoSuchOwnerError, 404),
    (TankExistsError, 409),
    (NotEnoughRecordsError, 409),
    (OutOfRangeError, 422),
    (BadInputError, 422),
    (StoreError, 503),
)
_WORDS = {404: "There is no such page.", 405: "This page cannot be asked for in that way."}


def status_of(error: DawnlevelError) -> int:
    """The HTTP status of one of our errors."""
    return next((status for kind, status in _STATUS if isinstance(error, kind)), 500)


def wants_json(request: Request) -> bool:
    """Whether the answer should be data."""
    return request.url.path.startswith("/api/")


def error_data(slug: str, message: str, where: str = "", cure: str = "") -> dict[str, dict[str, str]]:
    """An error as JSON data, in the shape the command line prints."""
    return {"error": {"slug": slug, "message": message, "where": where, "cure": in_web_words(cure)}}


async def tell(
    request: Request, status: int, message: str, cure: str = "", slug: str = "refused"
) -> Response:
    """The answer that says what went wrong."""
    if wants_json(request):
        return JSONResponse(error_data(slug, message, cure=cure), status_code=status)
    if status == 401:
        return page(request, "unpaired.html", status=status, cure=cure)
    title = "Not found" if status == 404 else "Not done"
    cure = in_web_words(cure)
    return page(request, "problem.html", status=status, title=title, message=message, cure=cure)


async def on_our_error(request: Request, error: Exception) -> Response:
    """One of our own errors that a route let through."""
    if not isinstance(error, DawnlevelError):
        raise error
    if wants_json(request):
        data = error_data(error.slug, in_web_words(error.what), error.where, error.cure)
        return JSONResponse(data, status_code=status_of(error))
    return await tell(request, status_of(error), in_web_words(error.what), error.cure, error.slug)


async def on_http_error(request: Request, error: Exception) -> Response:
    """What the framework refuses: no such page, wrong method, a form that cannot be read."""
    if not isinstance(error, HTTPException):
        raise error
    message = _WORDS.get(error.status_code, str(error.detail))
    answer = await tell(request, error.status_code, message)
    answer.headers.update(error.headers or {})
    if error.status_code == 405:
        answer.headers["Allow"] = ", ".join(_methods_at(request))
    return answer


def _methods_at(request: Request) -> list[str]:
    """The methods that some route takes at this path; the framework names those of the first only."""
    others = ("GET", "POST", "PUT", "PATCH", "DELETE")
    return [
        method
        for method in others
        if any(
            route.matches({**request.scope, "method": method})[0] is Match.FULL
            for route in request.app.router.routes
        )
    ]


async def on_bad_request(request: Request, error: Exception) -> Response:
    """Data that is not of the documented shape: every field with what is wrong."""
    if not isinstance(error, RequestValidationError):
        raise error
    if not wants_json(request):
        return await tell(request, 404, "There is no such page.")
    fields = {".".join(map(str, found["loc"][1:])) or "body": str(found["msg"]) for found in error.errors()}
    data: dict[str, object] = {**error_data("bad-request", "The data is not of the documented shape.")}
    return JSONResponse({**data, "fields": fields}, status_code=422)
