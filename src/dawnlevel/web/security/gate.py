"""The gate: every request passes it; without a session it leads to the pairing page and files only."""

import re
from collections.abc import Awaitable, Callable
from http.cookies import CookieError, SimpleCookie

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from dawnlevel.web.security.devices import Device, Devices
from dawnlevel.web.security.hosts import is_known, is_local_name, is_loopback, name_in
from dawnlevel.web.security.sessions import LASTS, Sessions

Refuse = Callable[[Request, int, str, str], Awaitable[Response]]
"""Makes the answer from the request, the status, what is wrong and the cure."""

OPEN_PATHS = ("/pair",)
OPEN_FOLDER = "/static/"
BODY_LIMIT = 64 * 1024
FILE_LIMIT = 16 * 1024 * 1024
"""What a file of records may hold, from a device that is let in: some years of readings."""
UNSAFE_METHODS = frozenset({"POST", "PUT", "PATCH", "DELETE"})
_FORWARDED = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip", "via")
LOCAL_DEVICE = "This computer"
_TAKES_FILE = re.compile(r"/tanks/[^/]+/(?:import|watch/log)")


class TooLargeError(Exception):
    """More was sent than any form of ours holds."""


class Gate:
    """ASGI layer: Host and origin, size, session. `refuse` makes the answer to what is turned away."""

    def __init__(
        self, app: ASGIApp, *, sessions: Sessions, devices: Devices, is_lan: bool, refuse: Refuse
    ) -> None:
        self._app = app
        self._sessions = sessions
        self._devices = devices
        self._is_lan = is_lan
        self._refuse = refuse

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let the request through with its device in `request.state.device`, or turn it away."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        request = Request(scope, receive)
        refused = await self._look_at(request)
        if refused is not None:
            await refused(scope, receive, send)
            return
        try:
            await self._app(
                scope, _counted(receive, limit_of(request.url.path)), self._with_cookie(scope, send)
            )
        except TooLargeError:
            refused = await self._refuse(request, 413, "This is more than can be taken.", "Send less.")
            await refused(scope, receive, send)

    async def _look_at(self, request: Request) -> Response | None:
        """Why the request does not go on, as the answer; None where it does."""
        headers, state = request.headers, request.scope.setdefault("state", {})
        state["device"], state["new_cookie"] = None, None
        host = headers.get("host", "")
        if not is_known(host, is_lan=self._is_lan):
            return await self._refuse(
                request, 421, f"This server does not go by the name {name_in(host)!r}.", "Use its address."
            )
        if request.method in UNSAFE_METHODS and not _is_own_origin(headers, host):
            return await self._refuse(
                request, 403, "This was sent by a page of another site.", "Use Dawnlevel's own pages."
            )
        length = headers.get("content-length", "0")
        if not length.isdecimal() or int(length) > limit_of(request.url.path):
            return await self._refuse(request, 413, "This is more than can be taken.", "Send less.")
        await run_in_threadpool(self._find_device, request)
        if state["device"] is None and not is_open(request.url.path):
            return await self._refuse(
                request,
                401,
                "This device is not paired with Dawnlevel.",
                "Pair it with the code shown there.",
            )
        return None

    def _find_device(self, request: Request) -> None:
        """Who asks, by the cookie; this computer is let in without one."""
        state = request.scope["state"]
        found = self._sessions.read(_cookie(request.headers, self._sessions.cookie))
        if found is not None:
            state["device"], is_due = found
            state["new_cookie"] = self._sessions.write(found[0]) if is_due else None
            return
        peer = request.client.host if request.client else ""
        is_forwarded = any(name in request.headers for name in _FORWARDED)
        if is_loopback(peer) and is_local_name(request.headers.get("host", "")) and not is_forwarded:
            state["device"] = local_device(self._devices)
            state["new_cookie"] = self._sessions.write(state["device"])

    def _with_cookie(self, scope: Scope, send: Send) -> Send:
        """`send` that also sets the session's cookie where it is new."""

        async def sending(message: Message) -> None:
            value = scope["state"].get("new_cookie")
            if message["type"] == "http.response.start" and value is not None:
                age = int(LASTS.total_seconds())
                MutableHeaders(scope=message).append(
                    "Set-Cookie",
                    f"{self._sessions.cookie}={value}; Max-Age={age}; Path=/; HttpOnly; SameSite=Lax",
                )
            await send(message)

        return sending


def is_open(path: str) -> bool:
    """Whether a path is answered without a session."""
    return path in OPEN_PATHS or path.startswith(OPEN_FOLDER)


def limit_of(path: str) -> int:
    """How many bytes may be sent to a path."""
    return FILE_LIMIT if _TAKES_FILE.fullmatch(path) else BODY_LIMIT


def local_device(devices: Devices) -> Device:
    """This computer in the list of devices; one entry for all its browsers."""
    for device in devices.every():
        if device.is_local:
            return device
    return devices.admit(LOCAL_DEVICE, is_local=True)


def _cookie(headers: Headers, name: str) -> str:
    try:
        morsel = SimpleCookie(headers.get("cookie", "")).get(name)
    except CookieError:
        return ""
    return morsel.value if morsel is not None else ""


def _is_own_origin(headers: Headers, host: str) -> bool:
    """Whether an unsafe request comes from our own pages, as far as the browser says."""
    if headers.get("sec-fetch-site", "none") not in {"same-origin", "none"}:
        return False
    origin = headers.get("origin")
    return origin is None or origin.partition("://")[2].lower() == host.strip().lower()


def _counted(receive: Receive, limit: int) -> Receive:
    """`receive` that stops at `limit` bytes, whatever length was announced."""
    taken = 0

    async def counting() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > limit:
            raise TooLargeError
        return message

    return counting
