"""Getting in: pairing a device with the code from the terminal, and the list of devices."""

from datetime import timedelta

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse
from starlette.exceptions import HTTPException
from starlette.responses import Response

from dawnlevel.web.fields import Form
from dawnlevel.web.house import House, TheHouse
from dawnlevel.web.pages import page
from dawnlevel.web.security.codes import pairing_address, qr_svg, server_address
from dawnlevel.web.security.tokens import Posted

router = APIRouter(include_in_schema=False)


def show_code(house: House) -> None:
    """Make sure a code stands, and that the terminal shows it."""
    code, is_new = house.pairing.code()
    if is_new:
        house.settings.announce(code.text, code.until)


@router.get("/pair", name="pair")
def pair(request: Request, house: TheHouse, code: str = "") -> Response:
    """The form for the code; `code` fills it in, as the picture in the terminal does."""
    if request.scope["state"]["device"] is not None:
        return RedirectResponse("/", status_code=303)
    if house.settings.is_lan:
        show_code(house)
    return page(
        request, "pair.html", is_lan=house.settings.is_lan, form=Form({"code": code} if code else {}, "pair")
    )


@router.post("/pair", name="take_pair")
def take_pair(request: Request, house: TheHouse, given: Posted) -> Response:
    """Let a device in that knows the code."""
    if not house.settings.is_lan:
        raise HTTPException(403, "This server is open to its own computer only.")
    who = request.client.host if request.client else ""
    waits = house.pairing.wait(who)
    if waits:
        minutes = -(-waits // timedelta(minutes=1))
        raise HTTPException(
            429,
            f"Too many codes were tried. Wait {minutes} min, then use the new code.",
            headers={"Retry-After": str(int(waits.total_seconds()) + 1)},
        )
    form = Form(given, "pair")
    if not house.pairing.take(form.typed("code")):
        show_code(house)
        form.problems["code"] = "This is not the code that holds now. Look at the terminal again."
        return page(request, "pair.html", status=422, is_lan=True, form=form)
    state = request.scope["state"]
    state["device"] = house.devices.admit(form.typed("name"), is_local=False)
    state["new_cookie"] = house.sessions.write(state["device"])
    return RedirectResponse("/", status_code=303)


@router.get("/devices", name="devices")
def devices(request: Request, house: TheHouse) -> Response:
    """The devices that may enter, and how to add one."""
    device = request.scope["state"]["device"]
    code, qr = None, ""
    if house.settings.is_lan and device.is_local:
        code = house.pairing.code()[0]
        qr = qr_svg(pairing_address(house.settings.port, code.text))
    return page(
        request,
        "devices.html",
        devices=house.devices.every(),
        is_lan=house.settings.is_lan,
        code=code,
        address=server_address(house.settings.port) + "pair",
        qr=qr,
    )


@router.post("/devices/{device_id}/send-away", name="send_away")
def send_away(house: TheHouse, device_id: str) -> Response:
    """Take back that a device may enter; its open pages end."""
    if not house.devices.send_away(device_id):
        raise HTTPException(404, "There is no such device.")
    return RedirectResponse("/devices", status_code=303)
