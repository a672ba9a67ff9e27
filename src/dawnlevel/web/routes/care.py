"""Animals with their ceiling, and oxygen through day and night."""

# ruff: noqa: FAST003 - the path's key is taken by the dependency that finds the tank

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from starlette.responses import Response

from dawnlevel.desk.animals.animals import animals_view
from dawnlevel.desk.animals.oxygen import oxygen_of
from dawnlevel.desk.animals.oxygen_views import OxygenView
from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.web.house import TheHouse, TheTank
from dawnlevel.web.pages import page
from dawnlevel.web.setup_asks import ANIMALS

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

_WIDE, _HIGH = 480.0, 120.0


@router.get("/tanks/{key}/animals", name="animals")
def animals(request: Request, house: TheHouse, tank: TheTank) -> Response:
    """The ceiling the animals ask for, and oxygen."""
    oxygen, missing = None, None
    try:
        oxygen = house.cases.view(tank.name, oxygen_of)
    except NotEnoughRecordsError as error:
        missing = error
    return page(
        request,
        "animals.html",
        tank=tank,
        view=animals_view(tank.tank),
        labels=dict(ANIMALS),
        oxygen=oxygen,
        missing=missing,
        picture=None if oxygen is None else _picture(oxygen),
    )


def _picture(view: OxygenView) -> dict[str, str]:
    """Points of oxygen's band and middle, and the height of 5 mg/L, on a sheet of 480 by 120."""
    curve = view.curve
    top = max(*curve.high_90, 6.0)
    across = [_WIDE * place / (len(curve.median) - 1) for place in range(len(curve.median))]

    def points(levels: tuple[float, ...]) -> list[str]:
        return [f"{x:.0f},{_HIGH * (1 - level / top):.1f}" for x, level in zip(across, levels, strict=True)]

    return {
        "band": " ".join([*points(curve.low_90), *reversed(points(curve.high_90))]),
        "middle": " ".join(points(curve.median)),
        "five": f"{_HIGH * (1 - 5.0 / top):.1f}",
        "top": f"{top:.0f}",
    }
