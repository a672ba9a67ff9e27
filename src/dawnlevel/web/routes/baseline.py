"""The baseline cup: how to take one, whether it is degassed yet, and on record once it is."""

# ruff: noqa: FAST003 - the path's key is taken by the dependency that finds the tank

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from starlette.responses import Response

from dawnlevel.desk.advice.baseline import CupView, cup_guide, cup_view, wait_text
from dawnlevel.desk.amounts import HOURS, PH, read_amount, read_choice
from dawnlevel.errors import DawnlevelError
from dawnlevel.tank import BaselineCup, BaselineMethod
from dawnlevel.tank.nouns import check_range
from dawnlevel.web.fields import Form
from dawnlevel.web.house import AtTank, House, TheHouse, TheTank
from dawnlevel.web.pages import page
from dawnlevel.web.routes.entries import entry_token, see, take
from dawnlevel.web.security.tokens import Posted

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


@router.get("/tanks/{key}/baseline", name="baseline")
def baseline(request: Request, house: TheHouse, tank: TheTank) -> Response:
    """The page."""
    return _show(request, house, tank, Form({"method": BaselineMethod.AERATED.value}))


@router.post("/tanks/{key}/baseline", name="judge_baseline")
def judge_baseline(request: Request, house: TheHouse, tank: TheTank, given: Posted) -> Response:
    """A verdict on the cup, or, where `go` says so, the cup on record; bad input keeps what was typed."""
    form = Form(given)
    method, readings = _read(form)
    if not form.is_good or method is None:
        return _show(request, house, tank, form, status=422)
    hours, ph = readings[-1]
    if given.get("go") == "record":
        new = BaselineCup(at=tank.now, ph=ph, method=method, hours=hours)
        number = form.attempt("ph", lambda: take(house, tank, entry_token(given), new))
        return _show(request, house, tank, form, status=422) if number is None else see(tank, new=number)
    try:
        found = cup_view(house.store, tank.name, tank.now, method, readings)
    except DawnlevelError as error:
        form.add_problem("ph", error)
        return _show(request, house, tank, form, status=422)
    return _show(request, house, tank, form, found=found)


def _read(form: Form) -> tuple[BaselineMethod | None, list[tuple[float, float]]]:
    """How the cup was prepared, and its readings as hours and pH, the latest last."""
    method = form.read(
        "method",
        lambda text: read_choice(BaselineMethod, text, "baseline method"),
        "Choose how it was prepared.",
    )
    ph = form.read("ph", _ph, "Type what the meter shows in the cup, for example 7.6.")
    hours = form.read("hours", _hours, "Type how long ago it was poured, for example 90 min or 2 h.")
    earlier = form.read("earlier_ph", _ph)
    before = form.read("earlier_hours", _hours) if form.typed("earlier_hours").strip() else 0.0
    if ph is None or hours is None or not form.is_good:
        return method, []
    if earlier is None:
        return method, [(hours, ph)]
    if before is not None and before >= hours:
        form.problems["earlier_hours"] = (
            "That is not before the reading above. Give the time since it was poured."
        )
    return method, [(before or 0.0, earlier), (hours, ph)]


def _ph(text: str) -> float:
    found = read_amount(PH, text)
    check_range("pH", found, 3.0, 11.0, "")
    return found


def _hours(text: str) -> float:
    found = read_amount(HOURS, text)
    check_range("hours in the cup", found, 0.0, 240.0, "h")
    return found


def _show(
    request: Request,
    house: House,
    tank: AtTank,
    form: Form,
    *,
    found: CupView | None = None,
    status: int = 200,
) -> Response:
    guide = cup_guide(house.store, tank.name, tank.now)
    return page(
        request,
        "baseline.html",
        tank=tank,
        status=status,
        form=form,
        found=found,
        guide=guide,
        waits={way.method: wait_text(way.wait_h) for way in guide.ways},
    )
