"""Answers to the questions that describe a tank, as a tank; and a tank as the answers that would make it."""

import dataclasses
import re
from collections.abc import Callable
from functools import partial

from dawnlevel.desk import amounts
from dawnlevel.desk.amounts import read_amount, read_clock, read_target, write_clock
from dawnlevel.desk.animals.animal_words import animals_of, with_ceiling
from dawnlevel.desk.given import TANK_FIELDS, surface_cm2, with_surface
from dawnlevel.errors import BadInputError, DawnlevelError
from dawnlevel.tank import AnimalKind, Animals, Photoperiod, Tank, TargetKind
from dawnlevel.web.fields import Form
from dawnlevel.web.setup_asks import ANIMALS, STEPS, Ask, Step, step_of

_SAMPLE = Tank(
    name="-",
    volume_l=100.0,
    depth_cm=40.0,
    surface_cm2=2500.0,
    photoperiod=Photoperiod(lights_on_h=13.0, lights_off_h=21.0),
)
"""Any tank: an answer is tried in it, so that a figure no aquarium has is told beside its own field."""

_BARE = re.compile(r"[-+\d.\s]*")
_LEFT_EMPTY: dict[str, str | None] = {
    "gh": None,
    "conductivity": None,
    "room_co2": None,
    "earliest_gas": None,
    "owner": "",
}
"""What an empty answer says; elsewhere it leaves things as they are."""
_ANIMAL_ASKS = {f"{kind}_{what}" for kind, _ in ANIMALS for what in ("number", "weight")}
_PAIRED = {"length", "width", "lights_on", "lights_off", "target_kind", "low", "high"} | _ANIMAL_ASKS


def read_step(form: Form, step: Step) -> dict[str, object]:
    """The tank's fields that a step's answers give; messages stand beside the fields in `form`."""
    found: dict[str, object] = {}
    for ask in step.asks:
        if ask.name not in _PAIRED:
            found |= _read_one(form, ask)
    pairs = {"size": _surface, "lights": _photoperiod, "target": _target, "animals": _animals}
    if step.key in pairs:
        found |= pairs[step.key](form, step)
    return found


def read_all(form: Form) -> tuple[dict[str, object], Step | None]:
    """The fields of every step, and the first step with something wrong in it."""
    found: dict[str, object] = {}
    for step in STEPS:
        found |= read_step(form, step)
        if not form.is_good:
            return found, step
    target = step_of("target")
    found = check_ceiling(form, found)
    if not form.is_good:
        return found, target
    found.setdefault("surface_cm2", surface_cm2(float(str(found["volume_l"])), float(str(found["depth_cm"]))))
    return found, None


def check_ceiling(form: Form, found: dict[str, object]) -> dict[str, object]:
    """`found` with the ceiling that the animals in `form` ask for; a lacking reason is told beside it."""
    fields = {**found, "animals": animals_in(form)}
    return form.attempt("limit_reason", lambda: with_ceiling(fields)) or fields


def animals_in(form: Form) -> tuple[Animals, ...]:
    """The animals that a form names, as far as they can be understood."""
    step = step_of("animals")
    found = {} if step is None else _animals(Form(form.given), step)
    animals = found.get("animals", ())
    return animals if isinstance(animals, tuple) else ()


def with_unit(form: Form, ask: Ask, text: str) -> str:
    """What was typed with the unit chosen beside it, unless a unit was typed too."""
    if not ask.units or not _BARE.fullmatch(text):
        return text
    return f"{text} {form.typed(f'{ask.name}_unit') or ask.units[0]}"


def _read_one(form: Form, ask: Ask) -> dict[str, object]:
    """One answer as a field of the tank; nothing where it was left empty and may be."""
    if ask.name == "name":
        reader: Callable[[str], object] = str
        field = "name"
    else:
        field, reader, _ = TANK_FIELDS[ask.name.replace("_", "-")]
    value = form.read(ask.name, lambda text: _fit(field, reader(with_unit(form, ask, text))), ask.needed)
    if value is not None:
        return {field: value}
    if not form.is_good:
        return {}
    return {field: _LEFT_EMPTY[ask.name]} if ask.name in _LEFT_EMPTY else {}


def _fit(field: str, value: object) -> object:
    """`value`, if a tank may have it; OutOfRangeError or BadInputError otherwise."""
    dataclasses.replace(_SAMPLE, **{field: value})  # type: ignore[arg-type]
    return value


def _ask(step: Step, name: str) -> Ask:
    return next(ask for ask in step.asks if ask.name == name)


def _surface(form: Form, step: Step) -> dict[str, object]:
    """The surface [cm2] from length and width; nothing where both are empty."""
    length, width = (_side(form, _ask(step, name)) for name in ("length", "width"))
    given = [form.typed(name).strip() for name in ("length", "width")]
    if any(given) and not all(given):
        form.problems["width" if given[0] else "length"] = "Give both length and width, or leave both empty."
    if length is None or width is None:
        return {}
    area = form.attempt("length", lambda: _fit("surface_cm2", length * width))
    return {} if area is None else {"surface_cm2": area}


def _side(form: Form, ask: Ask) -> float | None:
    return form.read(ask.name, lambda text: read_amount(amounts.LENGTH, with_unit(form, ask, text)))


def _photoperiod(form: Form, step: Step) -> dict[str, object]:
    times = [
        form.read(name, lambda text: read_clock(text, "lights"), _ask(step, name).needed)
        for name in ("lights_on", "lights_off")
    ]
    on_h, off_h = times
    if on_h is None or off_h is None:
        return {}
    lights = form.attempt("lights_off", lambda: Photoperiod(lights_on_h=on_h, lights_off_h=off_h))
    return {} if lights is None else {"photoperiod": lights}


def _target(form: Form, step: Step) -> dict[str, object]:
    for name in ("low", "high"):
        form.read(name, lambda text: read_amount(amounts.PLAIN, text), _ask(step, name).needed)
    if form.problem("low") or form.problem("high"):
        return {}
    low, high, kind = (form.typed(name).strip() for name in ("low", "high", "target_kind"))
    try:
        return {"target": read_target(f"{low}-{high} {kind}")}
    except DawnlevelError as error:
        beside = "target_kind" if isinstance(error, BadInputError) and "no target" in error.what else "high"
        form.add_problem(beside, error)
        return {}


def _animals(form: Form, step: Step) -> dict[str, object]:
    """The animals of every kind with a number."""
    found: list[Animals] = []
    for kind, _ in ANIMALS:
        number, weight = (form.typed(f"{kind}_{what}").strip() for what in ("number", "weight"))
        if not number and not weight:
            continue
        if not number or not weight:
            lacking = "weight" if number else "number"
            form.problems[f"{kind}_{lacking}"] = "Give both how many there are and what one weighs."
            continue
        words = with_unit(form, _ask(step, f"{kind}_weight"), weight)
        group = form.attempt(f"{kind}_number", partial(animals_of, AnimalKind(kind), number, words))
        if group is not None:
            found.append(group)
    return {"animals": tuple(found)}


def _known(value: float | None) -> str:
    return "" if value is None else f"{value:.6g}"


def answers_of(tank: Tank) -> dict[str, str]:
    """The answers that describe `tank`, in the units Dawnlevel keeps, to six digits."""
    lights, target = tank.photoperiod, tank.target
    return {
        "name": tank.name,
        "volume": _known(tank.volume_l),
        "depth": _known(tank.depth_cm),
        "lights_on": write_clock(lights.lights_on_h),
        "lights_off": write_clock(lights.lights_off_h),
        "timezone": tank.timezone,
        "surface": tank.surface.value,
        "planting": tank.planting.value,
        "diffuser": tank.diffuser.value,
        "temp": _known(tank.temp_c),
        "kh_step": _known(tank.kh_step_dkh),
        "ph_step": _known(tank.ph_step),
        "gh": _known(tank.gh_dgh),
        "conductivity": _known(tank.conductivity_us_cm),
        "altitude": _known(tank.altitude_m),
        "room_co2": _known(tank.room_co2_ppm),
        "target_kind": "drop" if target.kind is TargetKind.DROP else "mg/L",
        "low": _known(target.low),
        "high": _known(target.high),
        "limit": _known(tank.co2_limit_mg_l),
        "limit_reason": tank.limit_reason,
        "owner": tank.owner,
        **_animal_answers(tank),
        "timer_windows": str(tank.timer_windows),
        "earliest_gas": "" if tank.earliest_start_h is None else write_clock(tank.earliest_start_h),
        "first_rate": _known(tank.first_rate_bps),
        "readings": str(tank.reads_per_ramp),
    }


def _animal_answers(tank: Tank) -> dict[str, str]:
    """Number and weight of every kind; kinds described in several groups as one, at their mean weight."""
    found = {}
    for kind, _ in ANIMALS:
        groups = [one for one in tank.animals if one.kind.value == kind]
        number = sum(one.number for one in groups)
        if number:
            found[f"{kind}_number"] = str(number)
            found[f"{kind}_weight"] = _known(sum(one.number * one.grams for one in groups) / number)
    return found


def changes_to(tank: Tank, form: Form, step: Step) -> dict[str, object]:
    """The fields that a step's answers change in `tank`: a figure left as shown keeps all digits."""
    found, shown = read_step(form, step), Form(answers_of(tank))
    before = read_step(shown, step)
    changes = {
        field: value for field, value in found.items() if field not in before or before[field] != value
    }
    changes = with_surface({field: value for field, value in changes.items() if field != "name"}, tank)
    if not form.is_good:
        return changes
    beside = "limit_reason" if step.key == "target" else f"{ANIMALS[0][0]}_number"
    return form.attempt(beside, lambda: with_ceiling(changes, tank)) or {}
