"""How even CO2 is: readings at places entered one by one beside the tank, and the map made of them."""

# ruff: noqa: FAST003 - the path's key is taken by the dependency that finds the tank

from dataclasses import dataclass
from functools import partial

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.responses import Response

from dawnlevel.desk.amounts import LENGTH, PH, read_amount
from dawnlevel.desk.casebook import Case
from dawnlevel.desk.evenness.spread import spread_of
from dawnlevel.desk.evenness.spread_views import MapView, SpreadView
from dawnlevel.desk.evenness.surveys import APART, surveys
from dawnlevel.desk.moments import read_at
from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.tank import SurveyReading
from dawnlevel.web.addresses import tank_path
from dawnlevel.web.fields import Form
from dawnlevel.web.house import AtTank, House, TheHouse, TheTank
from dawnlevel.web.layout_form import Mark, judged, layout_form, marks_on, take_layout
from dawnlevel.web.pages import page
from dawnlevel.web.routes.entries import entry_token, take
from dawnlevel.web.security.tokens import Posted

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

ROUND = (
    "front left surface", "front left substrate", "front right surface", "front right substrate",
    "back right surface", "back right substrate", "back left surface", "back left substrate", "middle",
)  # fmt: skip
"""Places in the order of a walk round the tank: every corner, at the surface and at the substrate."""

CELL_PX = (50, 44)
_STEPS = 5


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell of a drawn map: its place [px], how dark it is (0 to 4), its figures."""

    x: int
    y: int
    step: int
    percent: float
    half: float


@router.get("/tanks/{key}/spread", name="spread")
def spread(request: Request, house: TheHouse, tank: TheTank, new: int = 0) -> Response:
    """The page; just after an entry (`new`) without the map, so that the next reading need not wait."""
    return _show(request, house, tank, Form(), is_walking=bool(new))


@router.post("/tanks/{key}/spread", name="survey")
def survey(request: Request, house: TheHouse, tank: TheTank, given: Posted) -> Response:
    """One reading at a place; bad input keeps what was typed."""
    form = Form(given)
    new = _read(form, tank)
    number = (
        None if new is None else form.attempt("place", lambda: take(house, tank, entry_token(given), new))
    )
    if number is None:
        return _show(request, house, tank, form, is_walking=True, status=422)
    return RedirectResponse(tank_path(tank.name, f"/spread?new={number}"), status_code=303)


@router.post("/tanks/{key}/layout", name="layout")
def layout(request: Request, house: TheHouse, tank: TheTank, given: Posted) -> Response:
    """The tank's sketch, kept with its description; bad input keeps what was typed."""
    form = Form(given)
    if take_layout(house, tank, form):
        return RedirectResponse(tank_path(tank.name, "/spread#layout"), status_code=303)
    return _show(request, house, tank, Form(), is_walking=False, status=422, sketch=form)


def _read(form: Form, tank: AtTank) -> SurveyReading | None:
    """The reading a form holds; None with its messages otherwise. Distances given replace the name."""
    ph = form.read("ph", partial(read_amount, PH), "Type what the meter shows there, for example 6.85.")
    at = form.read("at", lambda text: read_at(text, tank.now, tank.zone))
    x, y, z = (form.read(way, partial(read_amount, LENGTH)) for way in ("x", "y", "z"))
    if ph is None or not form.is_good:
        return None
    place = form.typed("place") if x is None and y is None and z is None else ""
    moment = tank.now if at is None else at
    return form.attempt("place", lambda: SurveyReading(at=moment, ph=ph, place=place, x_cm=x, y_cm=y, z_cm=z))


def _show(
    request: Request,
    house: House,
    tank: AtTank,
    form: Form,
    *,
    is_walking: bool,
    status: int = 200,
    sketch: Form | None = None,
) -> Response:
    records = [stored.record for stored in house.store.records(tank.name, until=tank.now)]
    found = surveys(records)
    begun = found[-1] if found and tank.now - found[-1][-1].at <= APART else ()
    read = {one.where for one in begun}
    view, missing = (None, None) if is_walking else _view(house, tank)
    return page(
        request,
        "spread.html",
        tank=tank,
        status=status,
        form=form,
        view=view,
        missing=missing,
        begun=begun,
        places=[(name, name in read) for name in ROUND],
        chosen=form.typed("place") or next((name for name in ROUND if name not in read), ""),
        is_walking=is_walking,
        maps=_maps(view) if view else [],
        cell=CELL_PX,
        sketch=sketch or layout_form(tank.tank.layout),
        judged=None if is_walking else judged(house, tank),
    )


def _maps(view: SpreadView) -> list[tuple[MapView, list[Cell], list[Mark]]]:
    """Each view of the water with its cells and the sketch's letters."""
    found = []
    for one, is_top in ((view.front, False), (view.top, True)):
        shape = len(one.percent[0]), len(one.percent)
        found.append((one, _cells(one), marks_on(view.marks, shape, CELL_PX, is_top=is_top)))
    return found


def _of_case(case: Case) -> SpreadView:
    return spread_of(case.tank, case.records)


def _view(house: House, tank: AtTank) -> tuple[SpreadView | None, NotEnoughRecordsError | None]:
    try:
        return house.cases.view(tank.name, _of_case), None
    except NotEnoughRecordsError as error:
        return None, error


def _cells(view: MapView) -> list[Cell]:
    """The cells of a map; darkness goes from the lowest to the highest, over 10 % at least."""
    lowest, highest = min(map(min, view.percent)), max(map(max, view.percent))
    width = max(highest - lowest, 10.0)
    return [
        Cell(
            x=column * CELL_PX[0],
            y=row * CELL_PX[1],
            step=min(int(_STEPS * (percent - lowest) / width), _STEPS - 1),
            percent=percent,
            half=(view.high_90[row][column] - view.low_90[row][column]) / 2.0,
        )
        for row, line in enumerate(view.percent)
        for column, percent in enumerate(line)
    ]
