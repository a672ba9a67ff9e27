"""The stream of events that keeps an open Today up to date."""

# ruff: noqa: FAST003 - the path's key is taken by the dependency that finds the tank

from fastapi import APIRouter, Request
from starlette.exceptions import HTTPException
from starlette.responses import Response, StreamingResponse

from dawnlevel.web.house import TheHouse, TheTank

router = APIRouter(include_in_schema=False)


@router.get("/tanks/{key}/events", name="events")
async def events(request: Request, house: TheHouse, tank: TheTank) -> Response:
    """Server-sent events: `hello` with the state of the records, `changed` when it changes."""
    if house.live.is_full:
        raise HTTPException(503, "Too many pages are open.", headers={"Retry-After": "60"})
    device = request.scope["state"]["device"]

    def is_welcome() -> bool:
        return house.devices.find(device.id) is not None

    return StreamingResponse(house.live.stream(tank.name, is_welcome), media_type="text/event-stream")
