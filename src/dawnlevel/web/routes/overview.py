"""All tanks at a glance, the one that needs somebody first."""

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse
from starlette.responses import Response

from dawnlevel.desk.overview import TankCard, by_attention, card_of, card_of_untold
from dawnlevel.errors import NotEnoughRecordsError
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
def overview(request: Request, house: TheHouse) -> Response:
    """The overview."""
    names = house.store.tank_names()
    return page(request, "overview.html", cards=by_attention(_card(house, name) for name in names))


def _card(house: House, name: str) -> TankCard:
    try:
        return card_of(house.cases.today(name))
    except NotEnoughRecordsError as error:
        return card_of_untold(name, in_web_words(f"{error.what} {error.cure}"))
