"""What a fault would do to CO2 and oxygen, when, how much, how long, and what helps."""

# ruff: noqa: FAST003 - the path's key is taken by the dependency that finds the tank

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from starlette.exceptions import HTTPException
from starlette.responses import Response

from dawnlevel.desk.amounts import read_clock
from dawnlevel.desk.animals.whatif import Asked, whatif_of
from dawnlevel.desk.animals.whatif_given import read_by, read_lasts
from dawnlevel.desk.animals.whatif_words import KINDS
from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.plan.faults import HIGH_FACTOR, FaultKind
from dawnlevel.web.fields import Form
from dawnlevel.web.house import TheHouse, TheTank
from dawnlevel.web.pages import page

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


@router.get("/tanks/{key}/whatif", name="whatif")
def whatif(request: Request, house: TheHouse, tank: TheTank) -> Response:
    """What each fault would do; with a kind what helps against it; bad input keeps what was typed."""
    form = Form(dict(request.query_params))
    asked, view, missing = _asked(form), None, None
    if form.is_good:
        try:
            view = whatif_of(house.cases.case(tank.name), asked)
        except NotEnoughRecordsError as error:
            missing = error
    return page(
        request,
        "whatif.html",
        tank=tank,
        status=200 if form.is_good else 422,
        form=form,
        view=view,
        missing=missing,
        kinds={kind.value: label for kind, label in KINDS.items()},
        kind=form.typed("kind"),
        high_factor=HIGH_FACTOR,
    )


def _asked(form: Form) -> Asked:
    """The question, with messages beside the fields that cannot be read."""
    kind = form.typed("kind")
    if kind and kind not in {one.value for one in FaultKind}:
        raise HTTPException(404, "There is no such page.")
    kinds = (FaultKind(kind),) if kind else ()
    return Asked(
        kinds=kinds,
        from_h=form.read("from", lambda text: read_clock(text, "from")),
        by=form.read("by", lambda text: read_by(kinds, text)),
        lasts_h=form.read("lasts", read_lasts),
    )
