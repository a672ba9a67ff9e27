"""The plan for the next gas day: times for the timer, the count for the needle, why; accepted in one tap."""

# ruff: noqa: FAST003 - the path's key is taken by the dependency that finds the tank

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.responses import Response

from dawnlevel.desk.advice.acceptance import plan_records
from dawnlevel.desk.advice.tomorrow import plan_of, plan_view
from dawnlevel.desk.amounts import write_windows
from dawnlevel.desk.phrases import day_text, say_picture
from dawnlevel.desk.views import PlanView
from dawnlevel.errors import BadInputError, DawnlevelError, NotEnoughRecordsError
from dawnlevel.store import StoredRecord
from dawnlevel.tank import TimerSetting
from dawnlevel.web.house import AtTank, House, TheHouse, TheTank
from dawnlevel.web.pages import page
from dawnlevel.web.routes.entries import entry_token
from dawnlevel.web.security.tokens import Posted

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

COUNT_S = 20
"""How long bubbles are counted: long enough for a whole number to tell the rate [s] (common practice)."""
_CHANGED = "The plan has changed since this page was made. Look at the one below, then accept it."


@router.get("/tanks/{key}/plan", name="plan")
def plan(
    request: Request, house: TheHouse, tank: TheTank, new: Annotated[list[int] | None, Query()] = None
) -> Response:
    """The page; `new` are the numbers of the records just made by accepting."""
    return _show(request, house, tank, new=new or [])


@router.post("/tanks/{key}/plan", name="accept_plan")
def accept_plan(request: Request, house: TheHouse, tank: TheTank, given: Posted) -> Response:
    """Put the shown plan on record as set now. The same plan sent again changes nothing."""
    shown_at, windows, rate = given.get("shown_at", ""), given.get("windows", ""), given.get("rate", "")
    done = _as_set(house, tank, windows, shown_at)
    if done:
        return _see(tank, done)
    try:
        view = _shown(house, tank, shown_at)
        if view is None or (timer_text(view), repr(view.rate_bps)) != (windows, rate):
            return _show(request, house, tank, problem=_CHANGED, status=409)
        ids, is_new = house.entries.take(
            tank.name, entry_token(given), plan_records(view, tank.now), house.clock()
        )
    except (BadInputError, NotEnoughRecordsError) as error:
        return _show(request, house, tank, problem=f"{error.what} {error.cure}", status=409)
    if is_new:
        house.changed(tank.name)
    return _see(tank, ids)


def timer_text(view: PlanView) -> str:
    """The plan's windows as they are put on record: `10:30-19:00`."""
    records = plan_records(view, view.picture.now)
    return next(write_windows(one.windows_h) for one in records if isinstance(one, TimerSetting))


def _see(tank: AtTank, numbers: list[int]) -> Response:
    query = "&".join(f"new={number}" for number in numbers)
    return RedirectResponse(tank.path(f"/plan?{query}"), status_code=303)


def _shown(house: House, tank: AtTank, shown_at: str) -> PlanView | None:
    """The plan as the page showed it: the same records at the same moment give the same plan."""
    moment = _moment(shown_at)
    if moment is None or moment > tank.now:
        return None
    view = house.cases.view(tank.name, plan_of)
    return view if view.picture.now == moment else plan_view(house.store, tank.name, moment)


def _moment(text: str) -> datetime | None:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    return moment if moment.tzinfo is not None else None


def _as_set(house: House, tank: AtTank, windows: str, shown_at: str) -> list[int]:
    """The numbers of the records that set this timer since the page was shown; none where none did."""
    since = _moment(shown_at)
    if since is None:
        return []
    found = house.store.records(tank.name, since)
    timers = [
        stored
        for stored in found
        if isinstance(stored.record, TimerSetting) and write_windows(stored.record.windows_h) == windows
    ]
    return [stored.id for stored in found if timers and stored.record.at == timers[-1].record.at]


def _show(
    request: Request,
    house: House,
    tank: AtTank,
    *,
    new: list[int] | None = None,
    problem: str = "",
    status: int = 200,
) -> Response:
    """The page of the plan as it is now, or of what stands in its way."""
    done = [stored for number in new or [] if (stored := _record_of(house, tank, number)) is not None]
    try:
        view = house.cases.view(tank.name, plan_of)
    except (NotEnoughRecordsError, BadInputError) as error:
        return page(
            request, "plan.html", tank=tank, view=None, missing=error, problem="", done=done, status=status
        )
    title = f"{view.tank}, plan for {day_text(view.lights_on)}"
    return page(
        request,
        "plan.html",
        tank=tank,
        status=status,
        view=view,
        problem=problem,
        done=done,
        timer=timer_text(view),
        rate_exact=repr(view.rate_bps),
        count=round(view.rate_bps * COUNT_S),
        count_s=COUNT_S,
        drawn=house.pictures.drawn(f"plan {view.tank}", view.picture, title, view.lights_on),
        in_words=say_picture(view.picture, view.lights_on),
    )


def _record_of(house: House, tank: AtTank, number: int) -> StoredRecord | None:
    try:
        name, found = house.store.standing(number)
    except DawnlevelError:
        return None
    return found if name == tank.name else None
