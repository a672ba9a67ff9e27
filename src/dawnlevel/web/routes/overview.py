"""All tanks at a glance, the one that needs somebody first."""

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse
from starlette.responses import Response

from dawnlevel.desk.advice.overview import TankCard, by_attention, card_of, card_of_untold
from dawnlevel.desk.handover.owners import by_owner, tanks_of
from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.tank import Tank
from dawnlevel.web.addresses import tank_path
from dawnlevel.web.house import House, TheHouse
from dawnlevel.web.pages import page
from dawnlevel.web.wording import in_web_words

router = APIRouter(include_in_schema=False)


@router.get("/", name="home")
def home(request: Request, house: TheHouse) -> Response:
    """The only tank's Today, or the overview."""
    names = house.store.tank_names()
    if len(names) == 1:
        return RedirectResponse(house.base + tank_path(names[0]), status_code=303)
    return overview(request, house)


@router.get("/tanks", name="overview")
def overview(request: Request, house: TheHouse, owner: str = "") -> Response:
    """The overview, of all tanks or of one owner's."""
    tanks = [house.store.tank(name) for name in house.store.tank_names()]
    owners = [group.owner for group in by_owner(tanks) if group.owner]
    shown = tanks_of(house.store, owner) if owner else tanks
    return page(
        request,
        "overview.html",
        cards=by_attention(_card(house, tank) for tank in shown),
        owners=owners,
        owner=shown[0].owner if owner else "",
    )


def _card(house: House, tank: Tank) -> TankCard:
    try:
        return card_of(house.cases.today(tank.name), tank.owner)
    except NotEnoughRecordsError as error:
        return card_of_untold(tank.name, in_web_words(f"{error.what} {error.cure}"), tank.owner)
