"""Why: the three routes to CO2 side by side, what may be wrong, what is not told yet, the sources."""

# ruff: noqa: FAST003 - the path's key is taken by the dependency that finds the tank

from dataclasses import dataclass
from math import exp

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from starlette.responses import Response

from dawnlevel.desk.advice.explain import explain_of
from dawnlevel.desk.advice.reasons import (
    place_on,
    route_scale,
    short_rule_text,
    tangle_text,
    unknown_values,
    unknowns_told,
)
from dawnlevel.desk.views import ExplainView, RouteView
from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.web.house import TheHouse, TheTank
from dawnlevel.web.pages import page
from dawnlevel.web.scale import WIDTH

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


@dataclass(frozen=True, slots=True)
class RouteStrip:
    """A route with its interval's places on the shared strip, 0 to 1000; none where it has no answer."""

    route: RouteView
    low_90: float = 0.0
    low_50: float = 0.0
    median: float = 0.0
    high_50: float = 0.0
    high_90: float = 0.0


@router.get("/tanks/{key}/why", name="why")
def why(request: Request, house: TheHouse, tank: TheTank) -> Response:
    """The page."""
    try:
        view = house.cases.view(tank.name, explain_of)
    except NotEnoughRecordsError as error:
        return page(request, "why.html", tank=tank, view=None, missing=error)
    told, guessed = unknowns_told(view)
    return page(
        request,
        "why.html",
        tank=tank,
        view=view,
        missing=None,
        strips=[_strip(view, route) for route in view.routes],
        ends=[exp(end) for end in route_scale(view)],
        unknowns=[
            (title, is_folded, [(unknown, *unknown_values(unknown)) for unknown in group])
            for title, is_folded, group in (
                ("Told by the records", False, told),
                ("Still mostly guessed", True, guessed),
            )
            if group
        ],
        tangles=[tangle_text(view, tangle) for tangle in view.tangles],
        short_rule=short_rule_text(view),
    )


def _strip(view: ExplainView, route: RouteView) -> RouteStrip:
    found, scale = route.co2_mg_l, route_scale(view)
    if found is None:
        return RouteStrip(route)
    bounds = (found.low_90, found.low_50, found.median, found.high_50, found.high_90)
    return RouteStrip(route, *(round(WIDTH * place_on(scale, bound), 1) for bound in bounds))
