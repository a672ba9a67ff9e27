"""CO2 in the room if the cylinder vents; a solution for the cell: questions answered, nothing is recorded."""

# ruff: noqa: FAST003 - the path's key is taken by the dependency that finds the tank

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from starlette.responses import Response

from dawnlevel.desk import amounts
from dawnlevel.desk.shelf.cylinder_care import care_view
from dawnlevel.desk.shelf.meter_views import SolutionView
from dawnlevel.desk.shelf.room import CAUTIONS, GasAtHand, gas_at_hand, room_view
from dawnlevel.desk.shelf.room_views import RoomView
from dawnlevel.desk.shelf.solution import cell_kh_dkh, solution_view
from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.web.asked import Asked, amount
from dawnlevel.web.fields import Form
from dawnlevel.web.house import AtTank, House, TheHouse, TheTank
from dawnlevel.web.pages import page

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

ROOM_FIELDS = (
    Asked("room", "The room's air", "30 m3 or 1060 ft3: length times width times height", "text"),
    Asked("gas", "Gas that may come out", "2 kg or 5 lb", "text"),
    Asked("fresh_air", "Fresh air", "room volumes an hour: 0 is none, 0.5 a closed room of a dwelling"),
    Asked("over", "Over how long it comes out", "0 h: at once", "text"),
    Asked("floor", "Floor on which it may pool", "12 m2; empty: for a height of 2.5 m", "text"),
    Asked("temp", "Temperature of the room", "20 C or 68 F", "text"),
)
ROOM_EXAMPLE = {"room": "30 m3", "gas": "2 kg", "fresh_air": "0.5", "over": "0 h", "temp": "20 C"}
SOLUTION_FIELDS = (
    Asked("kh", "KH wanted", "4 dKH", "text"),
    Asked("volume", "How much of it", "1 L or 500 mL", "text"),
    Asked("balance", "Last digit of your balance", "1 g, 0.1 g, 0.01 g or finer", "text"),
    Asked("stock", "A stock you have, to dilute", "its KH, for example 40 dKH; empty: none", "text"),
    Asked("temp", "Temperature of the cell", "25 C or 77 F", "text"),
)

_ROOM_M3 = amount(amounts.ROOM, 0.01, 100_000.0, "m3")
_GAS_KG = amount(amounts.MASS, 0.001, 100.0, "kg")
_FRESH_PER_H = amount(amounts.FRESH_AIR, 0.0, 100.0, "an hour")
_OVER_H = amount(amounts.HOURS, 0.0, 10_000.0, "h")
_FLOOR_M2 = amount(amounts.FLOOR, 0.01, 100_000.0, "m2")
_ROOM_C = amount(amounts.TEMPERATURE, -20.0, 50.0, "°C")
_KH_DKH = amount(amounts.KH, 0.1, 100.0, "dKH")
_VOLUME_L = amount(amounts.VOLUME, 0.05, 20.0, "L")
_BALANCE_G = amount(amounts.MASS, 1e-4, 5.0, "g", bare="g", times=1e3)
_STOCK_DKH = amount(amounts.KH, 0.1, 1500.0, "dKH")
_CELL_C = amount(amounts.TEMPERATURE, 5.0, 40.0, "°C")


@router.get("/tanks/{key}/room", name="room")
def room(request: Request, house: TheHouse, tank: TheTank) -> Response:
    """CO2 in the room's air; without a question an example of it."""
    at_hand = _gas_at_hand(house, tank)
    usual = ROOM_EXAMPLE if at_hand is None else {**ROOM_EXAMPLE, "gas": f"{at_hand.gas_kg:g} kg"}
    asked = dict(request.query_params)
    form = Form({**usual, **asked})
    view = _room(form, at_hand)
    return page(
        request,
        "room.html",
        tank=tank,
        status=200 if form.is_good else 422,
        form=form,
        fields=ROOM_FIELDS,
        view=view,
        is_example=not asked,
        is_recorded=at_hand is not None,
        care=care_view(None if at_hand is None else at_hand.exchange),
        cautions=CAUTIONS,
    )


def _gas_at_hand(house: House, tank: AtTank) -> GasAtHand | None:
    try:
        return gas_at_hand(house.store, tank.name, tank.now)
    except NotEnoughRecordsError:
        return None


def _room(form: Form, at_hand: GasAtHand | None) -> RoomView | None:
    """The answer; None, with messages, where the question cannot be read."""
    room_m3 = form.read("room", _ROOM_M3, "Type the room's air, for example 30 m3.")
    gas_kg = form.read("gas", _GAS_KG, "Type the charge, for example 2 kg.")
    fresh = form.read("fresh_air", _FRESH_PER_H, "Type 0 for none, or for example 0.5.")
    over_h, floor_m2 = form.read("over", _OVER_H), form.read("floor", _FLOOR_M2)
    temp_c = form.read("temp", _ROOM_C)
    if not form.is_good or room_m3 is None or gas_kg is None or fresh is None:
        return None
    exchange, use = (None, None) if at_hand is None else (at_hand.exchange, at_hand.use_kg_per_h)
    return room_view(
        GasAtHand(exchange, gas_kg, use),
        room_m3,
        air_changes_per_h=fresh,
        vents_over_h=over_h or 0.0,
        floor_m2=floor_m2,
        temp_c=20.0 if temp_c is None else temp_c,
    )


@router.get("/tanks/{key}/solution", name="solution")
def solution(request: Request, house: TheHouse, tank: TheTank) -> Response:
    """The recipe, the cell's colours, standards to match."""
    records = [stored.record for stored in house.store.records(tank.name, until=tank.now)]
    usual = {
        "kh": f"{cell_kh_dkh(records):g} dKH",
        "volume": "1 L",
        "balance": "0.01 g",
        "temp": f"{tank.tank.temp_c:g} C",
    }
    form = Form({**usual, **request.query_params})
    view = _solution(form)
    return page(
        request,
        "solution.html",
        tank=tank,
        status=200 if form.is_good else 422,
        form=form,
        fields=SOLUTION_FIELDS,
        view=view,
    )


def _solution(form: Form) -> SolutionView | None:
    """The answer; None, with messages, where the question cannot be read or no recipe leads there."""
    kh_dkh = form.read("kh", _KH_DKH, "Type the KH wanted, for example 4 dKH.")
    volume_l = form.read("volume", _VOLUME_L, "Type how much, for example 1 L.")
    balance_g = form.read("balance", _BALANCE_G, "Type the last digit it shows, for example 0.01 g.")
    stock_dkh, temp_c = form.read("stock", _STOCK_DKH), form.read("temp", _CELL_C)
    if not form.is_good or kh_dkh is None or volume_l is None or balance_g is None:
        return None
    place = "balance" if stock_dkh is None else "stock"
    return form.attempt(
        place,
        lambda: solution_view(
            kh_dkh,
            volume_l,
            balance_g,
            stock_dkh=stock_dkh,
            temp_c=25.0 if temp_c is None else temp_c,
        ),
    )
