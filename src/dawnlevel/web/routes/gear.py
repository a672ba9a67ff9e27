"""The gear: cylinder, meter, kit, solution, timer - what is known of them, what is due, what is recorded."""

# ruff: noqa: FAST003 - the path's key is taken by the dependency that finds the tank

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from starlette.responses import Response

from dawnlevel.desk.shelf.cylinder import cylinder_view
from dawnlevel.desk.shelf.meter import meter_view
from dawnlevel.desk.shelf.reminders import due_reminders
from dawnlevel.desk.shelf.shelf_views import CylinderView
from dawnlevel.errors import DawnlevelError
from dawnlevel.web.asked import Asked
from dawnlevel.web.fields import Form
from dawnlevel.web.house import AtTank, House, TheHouse, TheTank
from dawnlevel.web.pages import page
from dawnlevel.web.readings import GEAR
from dawnlevel.web.routes.entries import see, take_form
from dawnlevel.web.security.tokens import Posted

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


@dataclass(frozen=True, slots=True)
class Entry:
    """One form of the page: the kind of record, its title, its button, its fields."""

    kind: str
    title: str
    button: str
    fields: tuple[Asked, ...]


ENTRIES = (
    Entry(
        "weight",
        "Weigh the cylinder",
        "Record the weight",
        (
            Asked(
                "value",
                "What the scale shows",
                "5.32 kg or 11.7 lb; always with the same on it",
                "text",
            ),
            Asked("scale", "The scale may be off by", "empty: 10 g", "text"),
        ),
    ),
    Entry(
        "gauge",
        "Read the cylinder's gauge",
        "Record the gauge",
        (
            Asked("value", "What the gauge shows", "58 bar or 840 psi", "text"),
            Asked("temp", "Temperature beside it", "22 C or 72 F", "text"),
        ),
    ),
    Entry(
        "cylinder",
        "A cylinder was connected",
        "Record the cylinder",
        (
            Asked("value", "Its charge as filled", "2 kg or 5 lb", "text"),
            Asked("tare", "Empty weight, stamped on it", "3.1 kg", "text"),
            Asked("capacity", "Water capacity, stamped on it", "2.9 L", "text"),
            Asked("standard", "Rule it was made to", "3al, 3aa, foreign, adr or unknown", "text"),
            Asked("tested", "Month of the last test", "2024-05", "text"),
            Asked("price", "What the charge cost", "in your own currency"),
        ),
    ),
    Entry(
        "buffers",
        "The meter in two buffers",
        "Record the check",
        (
            Asked("value", "Lower; higher, before it is adjusted", "4.06; 6.91", "text"),
            Asked("low", "Lower buffer", "empty: phthalate (4.01)", "text"),
            Asked("high", "Higher buffer", "empty: phosphate (6.86); technical_7 or borax", "text"),
            Asked("temp", "Temperature of both", "empty: 25 C", "text"),
        ),
    ),
    Entry(
        "kh",
        "Count the KH",
        "Record KH",
        (
            Asked("value", "KH by the kit", "4, or 71 mg/L", "text"),
            Asked("step", "One drop stands for", "empty: as the tank is described", "text"),
        ),
    ),
    Entry(
        "solution",
        "Fresh solution in the cell",
        "Record the solution",
        (
            Asked("value", "Its KH", "4 dKH", "text"),
            Asked("error", "It may be off by", "3%", "text"),
        ),
    ),
    Entry(
        "oxygen",
        "Measure oxygen in the tank",
        "Record the oxygen",
        (
            Asked("value", "Oxygen", "6.5 mg/L, or 82% of saturation", "text"),
            Asked("temp", "Temperature of the water", "empty: as the tank is described", "text"),
            Asked("pressure", "Air pressure there", "960 hPa; empty: by the tank's altitude", "text"),
            Asked("within", "It may be off by", "0.3 mg/L; empty: 0.5", "text"),
        ),
    ),
    Entry(
        "water_change",
        "Water was changed",
        "Record the change",
        (Asked("value", "How much", "30% or 40 L", "text"),),
    ),
    Entry(
        "timer",
        "The gas timer was set",
        "Record the timer",
        (Asked("value", "Hours it is open", "10:30-19:00; several with a comma", "text"),),
    ),
    Entry(
        "gas",
        "The gas was opened or closed by hand",
        "Record the gas",
        (Asked("value", "It is now", "open or closed", "text"),),
    ),
)
"""The page's forms, in order."""


@router.get("/tanks/{key}/gear", name="gear")
def gear(request: Request, house: TheHouse, tank: TheTank) -> Response:
    """The page."""
    return _show(request, house, tank, Form())


@router.post("/tanks/{key}/gear", name="record_gear")
def record_gear(request: Request, house: TheHouse, tank: TheTank, given: Posted) -> Response:
    """One record; bad input shows the page again with what was typed."""
    form, number = take_form(house, tank, given, GEAR)
    if number is None:
        return _show(request, house, tank, form, status=422)
    return see(tank, new=number)


def _show(request: Request, house: House, tank: AtTank, form: Form, *, status: int = 200) -> Response:
    records = [stored.record for stored in house.store.records(tank.name, until=tank.now)]
    cylinder, no_cylinder = _cylinder(house, tank)
    return page(
        request,
        "gear.html",
        tank=tank,
        status=status,
        due=due_reminders(tank.tank, records, tank.now),
        cylinder=cylinder,
        no_cylinder=no_cylinder,
        meter=meter_view(house.store, tank.name, tank.now),
        entries=[(entry, form if form.name == entry.kind else Form()) for entry in ENTRIES],
    )


def _cylinder(house: House, tank: AtTank) -> tuple[CylinderView | None, str]:
    """The cylinder, or why nothing is told of it."""
    try:
        return cylinder_view(house.store, tank.name, tank.now), ""
    except DawnlevelError as error:
        return None, error.what
