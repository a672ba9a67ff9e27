"""Is it steady? A probe's log by month, its daily figures, what changed, and a change or a day looked at."""

# ruff: noqa: FAST003 - the path's key is taken by the dependency that finds the tank

from collections.abc import Iterator
from datetime import date

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from starlette.exceptions import HTTPException
from starlette.responses import Response

from dawnlevel.desk.steadiness.watch_overlay import day_page_of, finding_page_of
from dawnlevel.desk.steadiness.watch_pages import found_again
from dawnlevel.desk.steadiness.watch_views import OverlayView, WatchPageView
from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.report.look import DENSE
from dawnlevel.watch.days import BIN_H
from dawnlevel.web.house import AtTank, House, TheHouse, TheTank
from dawnlevel.web.pages import page
from dawnlevel.web.watched import WatchedTank

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

_NEW_MONTHS = 3
"""Months that stand open on the page; older ones are folded away."""


@router.get("/tanks/{key}/watch", name="watch")
def watch(request: Request, house: TheHouse, tank: TheTank, done: str = "") -> Response:
    """The page; `done` says what was just brought in."""
    return show_watch(request, house, tank, done=done)


def show_watch(
    request: Request, house: House, tank: AtTank, *, status: int = 200, done: str = "", problem: str = ""
) -> Response:
    """The page; `problem` is what was wrong with a file that was sent."""
    found, missing = _found(house, tank)
    return page(
        request,
        "watch.html",
        tank=tank,
        status=status,
        view=found.page if found else None,
        stored=found.stored if found else None,
        missing=missing,
        own=None if found else house.watchings.own(tank.name),
        drawn=found.figures() if found else None,
        new_months=_NEW_MONTHS,
        dense=DENSE,
        rows=list(_rows(found.page)) if found else [],
        done=done,
        problem=problem,
    )


@router.get("/tanks/{key}/watch/days/{day}", name="watched_day")
def watched_day(request: Request, house: TheHouse, tank: TheTank, day: date) -> Response:
    """One gas day against the usual days before it."""
    found, _ = _found(house, tank)
    view = None if found is None else day_page_of(found.watched, found.tank, found.records, day)
    if found is None or view is None:
        raise HTTPException(404, "The probe's log has no readings of that day.")
    return page(
        request,
        "watched_day.html",
        tank=tank,
        view=view,
        drawn=found.overlay(str(day), view.overlay),
        hours=list(_hours(view.overlay)),
    )


@router.get("/tanks/{key}/watch/{slug}", name="finding")
def finding(request: Request, house: TheHouse, tank: TheTank, slug: str) -> Response:
    """One change, before and after."""
    found, _ = _found(house, tank)
    told = None if found is None else found_again(found.page.findings, slug)
    if found is None or told is None:
        raise HTTPException(404, "The probe's log no longer shows this change.")
    view = finding_page_of(found.watched, found.tank, found.records, told)
    return page(
        request,
        "finding.html",
        tank=tank,
        view=view,
        drawn=found.overlay(told.slug, view.overlay),
        hours=list(_hours(view.overlay)),
    )


def _found(house: House, tank: AtTank) -> tuple[WatchedTank | None, NotEnoughRecordsError | None]:
    try:
        return house.watchings.of(tank.name), None
    except NotEnoughRecordsError as error:
        return None, error


def _rows(view: WatchPageView) -> Iterator[tuple[date, list[str]]]:
    """The daily figures as a table, newest first."""
    for place in reversed(range(len(view.days))):
        yield (
            view.days[place].day,
            [
                "" if one.values[place] is None else f"{one.values[place]:.{one.digits}f}"
                for one in view.series
            ],
        )


def _hours(view: OverlayView) -> Iterator[tuple[str, str, str]]:
    """The courses as a table: hour, before, after."""
    digits = 1 if view.unit else 2
    for place, hour in enumerate(view.hours):
        if place % 2:
            continue
        sides = (view.before, view.after)
        texts = [
            "" if one is None else _range(one.median[place], one.low_90[place], one.high_90[place], digits)
            for one in sides
        ]
        clock = round(60.0 * ((hour - 0.5 * BIN_H) % 24.0))
        yield (f"{clock // 60:02d}:{clock % 60:02d}", texts[0], texts[1])


def _range(middle: float | None, low: float | None, high: float | None, digits: int) -> str:
    if middle is None or low is None or high is None:
        return ""
    return (
        f"{middle:.{digits}f} ({low:.{digits}f} to {high:.{digits}f})"
        if low < high
        else f"{middle:.{digits}f}"
    )
