"""Describing a tank: a short conversation for a new one, step by step; later any step by itself."""

# ruff: noqa: FAST003 - the path's key is taken by the dependency that finds the tank

import dataclasses
from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.exceptions import HTTPException
from starlette.responses import Response

from dawnlevel.desk.moments import read_since
from dawnlevel.desk.records import change_tank, describe_tank
from dawnlevel.desk.saying import say_moment
from dawnlevel.desk.setup import diffuser_figures, planting_figures, surface_figures
from dawnlevel.desk.zone import local_zone_name
from dawnlevel.errors import DawnlevelError, TankExistsError
from dawnlevel.tank import Tank
from dawnlevel.tank.livestock import GUIDANCE
from dawnlevel.web.addresses import tank_path
from dawnlevel.web.fields import Form
from dawnlevel.web.house import AtTank, House, TheHouse, TheTank
from dawnlevel.web.pages import page
from dawnlevel.web.security.tokens import Posted
from dawnlevel.web.setup_answers import (
    animals_in,
    answers_of,
    changes_to,
    check_ceiling,
    read_all,
    read_step,
)
from dawnlevel.web.setup_asks import ANIMALS, DEFAULTS, STEPS, Step, step_of

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

REVIEW = "review"
_KEYS = [step.key for step in STEPS]
_DEPTH_CM = 40.0  # pictured where the depth is not known yet (common practice, no source)


@router.get("/setup", name="setup")
def setup(request: Request) -> Response:
    """The first questions about a new tank."""
    return _ask(request, Form({**DEFAULTS, "timezone": local_zone_name()}), STEPS[0])


@router.post("/setup", name="answer_setup")
def answer_setup(request: Request, house: TheHouse, given: Posted) -> Response:
    """The next questions, those before, the review, or the new tank. Every answer travels with the form."""
    form = Form(given)
    here, go = form.typed("step"), form.typed("go", "next")
    step = step_of(here)
    if step is None and here != REVIEW:
        raise HTTPException(422, "The form names no step.")
    if step is not None and go != "back":
        found = read_step(form, step)
        if form.is_good and step.key == "target":
            check_ceiling(form, found)
        if not form.is_good:
            return _ask(request, form, step, status=422)
    if here == REVIEW and go == "save":
        return _save(request, house, form)
    wanted = step_of(_towards(here, go))
    return _review(request, form) if wanted is None else _ask(request, form, wanted)


def _towards(here: str, go: str) -> str:
    """The step to show: one that was named, or the next or last one."""
    order = [*_KEYS, REVIEW]
    if go in order:
        return go
    place = order.index(here) + (-1 if go == "back" else 1)
    return order[min(max(place, 0), len(order) - 1)]


def _ask(request: Request, form: Form, step: Step, *, status: int = 200) -> Response:
    """A step's page; answers to the other steps stand in it unseen."""
    own = {name for ask in step.asks for name in (ask.name, f"{ask.name}_unit")}
    unseen = {name: text for name, text in form.given.items() if name not in own and name in _ANSWERS}
    return page(
        request,
        "setup.html",
        status=status,
        form=form,
        step=step,
        steps=STEPS,
        place_of_step=_KEYS.index(step.key),
        unseen=unseen,
        **_pictured(form, step),
    )


_ANSWERS = {name for step in STEPS for ask in step.asks for name in (ask.name, f"{ask.name}_unit")} | {
    "since"
}


def _pictured(form: Form, step: Step) -> dict[str, Any]:
    """The figures of a step's choices, and the time zones to choose among."""
    figures: dict[str, Any] = {}
    if step.key == "water":
        silent = Form(form.given)
        depth = read_step(silent, STEPS[0]).get("depth_cm", _DEPTH_CM)
        depth_cm = depth if isinstance(depth, float) else _DEPTH_CM
        figures = {
            "surface": {one.value: one for one in surface_figures(depth_cm)},
            "planting": {one.value: one for one in planting_figures()},
            "diffuser": {one.value: one for one in diffuser_figures()},
        }
    guidance = []
    if step.key in {"animals", "target"}:
        kinds = dict.fromkeys(one.kind for one in animals_in(form))
        guidance = [(dict(ANIMALS)[kind.value], GUIDANCE[kind]) for kind in kinds]
    return {"figures": figures, "guidance": guidance}


def _review(request: Request, form: Form) -> Response:
    """Everything answered, once more, before it is written down; what is wrong with `since` beside it."""
    since = form.problems.pop("since", "")
    found, wrong = read_all(form)
    if wrong is not None:
        return _ask(request, form, wrong, status=422)
    if since:
        form.problems["since"] = since
    return page(
        request,
        "setup_review.html",
        status=422 if since else 200,
        form=form,
        steps=STEPS,
        unseen={name: text for name, text in form.given.items() if name in _ANSWERS and name != "since"},
        surface_cm2=found["surface_cm2"],
        doubt=_doubt(found),
    )


def _doubt(found: Mapping[str, object]) -> str:
    """What does not go together, in a sentence; empty where nothing stands out."""
    volume, depth, area = (float(str(found[name])) for name in ("volume_l", "depth_cm", "surface_cm2"))
    by_size = depth * area / 1000.0
    if 0.7 < volume / by_size < 1.1:
        return ""
    return (
        f"Length, width and depth make {by_size:.0f} L, while you gave {volume:.0f} L of water. "
        "Stones and soil take some; if it is more than that, look at the figures again."
    )


def _save(request: Request, house: House, form: Form) -> Response:
    """Describe the tank, in one transaction; a second tap leads to the same tank."""
    found, wrong = read_all(form)
    if wrong is not None:
        return _ask(request, form, wrong, status=422)
    try:
        new = Tank(**found)  # type: ignore[arg-type]
        now = house.clock()
        since = read_since(form.typed("since").strip() or "today", now, ZoneInfo(new.timezone))
        describe_tank(house.store, new, now, since)
    except TankExistsError as error:
        if house.store.tank(str(found["name"])) == Tank(**found):  # type: ignore[arg-type]
            return RedirectResponse(tank_path(str(found["name"])), status_code=303)
        form.add_problem("name", error)
        return _ask(request, form, STEPS[0], status=409)
    except DawnlevelError as error:
        place = "name" if error.where == "tank" else "since"
        form.add_problem(place, error)
        return _ask(request, form, STEPS[0], status=422) if place == "name" else _review(request, form)
    house.changed(new.name)
    return RedirectResponse(tank_path(new.name), status_code=303)


@router.get("/tanks/{key}/description", name="description")
def description(request: Request, house: TheHouse, tank: TheTank, changed: str = "") -> Response:
    """How the tank is described, step by step, each with the way to change it."""
    return _described(request, house, tank, changed, Form())


def _described(
    request: Request, house: House, tank: AtTank, changed: str, form: Form, status: int = 200
) -> Response:
    return page(
        request,
        "description.html",
        tank=tank,
        status=status,
        steps=STEPS,
        form=Form(answers_of(tank.tank)),
        begin=form,
        changed=step_of(changed),
        surface_cm2=tank.tank.surface_cm2,
        since=say_moment(house.store.tank_described_at(tank.name), tank.zone),
    )


@router.post("/tanks/{key}/description", name="begin_earlier")
def begin_earlier(request: Request, house: TheHouse, tank: TheTank, given: Posted) -> Response:
    """Let the tank begin earlier, so that older records fit in."""
    form = Form(given)
    since = form.read("since", lambda text: read_since(text, tank.now, tank.zone), "Type a day.")
    if since is not None:
        form.attempt("since", lambda: change_tank(house.store, tank.tank, tank.now, since))
    if not form.is_good:
        return _described(request, house, tank, "", form, 422)
    house.changed(tank.name)
    return RedirectResponse(tank.path("/description"), status_code=303)


@router.get("/tanks/{key}/description/{part}", name="description_step")
def description_step(request: Request, tank: TheTank, part: str) -> Response:
    """One step's questions, with what stands."""
    return _change(request, tank, _part(part), Form(answers_of(tank.tank)))


@router.post("/tanks/{key}/description/{part}", name="change_description")
def change_description(
    request: Request, house: TheHouse, tank: TheTank, part: str, given: Posted
) -> Response:
    """A new description from now on; what was true before stays true of before."""
    step = _part(part)
    form = Form({**given, "name": tank.name})
    changes = changes_to(tank.tank, form, step)
    if not form.is_good:
        return _change(request, tank, step, form, status=422)
    if changes:
        new = dataclasses.replace(tank.tank, **changes)  # type: ignore[arg-type]
        change_tank(house.store, new, tank.now)
        house.changed(tank.name)
    return RedirectResponse(tank.path(f"/description?changed={step.key}"), status_code=303)


def _part(key: str) -> Step:
    step = step_of(key)
    if step is None:
        raise HTTPException(404, "There is no such page.")
    return step


def _change(request: Request, tank: AtTank, step: Step, form: Form, *, status: int = 200) -> Response:
    depth = {**answers_of(tank.tank), **form.given}
    return page(
        request,
        "description_step.html",
        tank=tank,
        status=status,
        form=form,
        step=step,
        **_pictured(Form(depth), step),
    )
