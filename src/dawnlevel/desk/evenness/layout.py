"""Use case: the tank's sketch, kept with its description, against the trade's rules, beside a survey."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from dawnlevel.desk import amounts
from dawnlevel.desk.amounts import read_amount
from dawnlevel.desk.evenness.spread import spread_view
from dawnlevel.desk.records import change_tank
from dawnlevel.errors import BadInputError, NotEnoughRecordsError
from dawnlevel.store import Store
from dawnlevel.survey.layout import RuleCheck, checks, real_flow_l_h, sketch_of, turnover_check
from dawnlevel.tank import Layout, Tank
from dawnlevel.tank.places import place_name, place_shares


def _places(text: str) -> tuple[str, ...]:
    """Places with commas or semicolons between; `none` for no hardscape."""
    if text.strip().lower() == "none":
        return ()
    return tuple(place_name(one) for one in text.replace(",", ";").split(";") if one.strip())


def _or_none(measure: amounts.Measure) -> Callable[[str], object]:
    return lambda text: None if text.strip().lower() == "none" else read_amount(measure, text)


LAYOUT_FIELDS: dict[str, tuple[str, Callable[[str], object], str]] = {
    "outflow": ("outflow", place_name, "Where water comes in: 'front left surface'."),
    "intake": ("intake", place_name, "Where the filter draws: 'back right substrate'."),
    "diffuser": ("diffuser", place_name, "Where the gas comes in."),
    "hardscape": (
        "hardscape",
        _places,
        "Where stone or wood stands: 'middle substrate; back left', or none.",
    ),
    "flow": (
        "rated_l_h",
        lambda text: read_amount(amounts.FLOW, text),
        "What the pump's label says: 800L/h or 210gal/h.",
    ),
    "head-loss": (
        "head_loss",
        lambda text: read_amount(amounts.SHARE, text),
        "Share lost to height and hoses: 20%.",
    ),
    "clogging": (
        "clogging",
        lambda text: read_amount(amounts.SHARE, text),
        "Share lost to dirt in filter and hoses: 20%.",
    ),
    "measured": (
        "measured_l_h",
        _or_none(amounts.FLOW),
        "What a bucket and a clock at the outflow say: 520L/h, or none; it counts instead.",
    ),
    "length": (
        "length_cm",
        _or_none(amounts.LENGTH),
        "The tank's inner length, so that maps have its true sides: 90cm, or none.",
    ),
}
"""What a sketch is given by: the field each word fills, how it is read, its help."""

_NEEDED = ("outflow", "intake", "diffuser", "flow")


@dataclass(frozen=True, slots=True)
class RuleView:
    """A rule of the trade, whether it is kept, and what was found."""

    rule: str
    kept: bool
    finding: str


@dataclass(frozen=True, slots=True)
class LayoutView:
    """The sketch judged by common practice, and what was measured, apart from it.

    Attributes:
        outflow: where water comes in.
        intake: where the filter draws.
        diffuser: where the gas comes in.
        hardscape: where stone or wood stands.
        rated_l_h: flow by the pump's label [L/h].
        flow_l_h: flow as it really is: measured, or after both losses [L/h].
        is_measured: whether that flow was measured.
        turnover_per_h: tank volumes an hour.
        rules: the trade's rules against the sketch.
        basis: on what they rest.
        measured: what a survey says.
        stored: whether the sketch is part of the tank's description.
    """

    tank: str
    outflow: str
    intake: str
    diffuser: str
    hardscape: tuple[str, ...]
    rated_l_h: float
    flow_l_h: float
    is_measured: bool
    turnover_per_h: float
    rules: tuple[RuleView, ...]
    basis: str
    measured: str
    stored: bool


def read_layout(given: Mapping[str, str | None], before: Layout | None) -> Layout:
    """The sketch of the words given, `before` where a word is left out (None).

    BadInputError, OutOfRangeError for what cannot be; BadInputError naming what a first sketch lacks.
    """
    found: dict[str, object] = {}
    for word, (field, reader, _) in LAYOUT_FIELDS.items():
        text = given.get(word)
        if text is not None:
            found[field] = reader(text)
    if before is not None:
        return replace(before, **found)  # type: ignore[arg-type]
    missing = [word for word in _NEEDED if LAYOUT_FIELDS[word][0] not in found]
    if missing:
        raise BadInputError(
            f"A first sketch needs {', '.join(missing)} too.",
            where="layout",
            cure="Give them: dawnlevel layout --help",
        )
    return Layout(**found)  # type: ignore[arg-type]


def keep_layout(store: Store, tank: Tank, layout: Layout, now: datetime) -> None:
    """Let the sketch be part of the tank's description from `now` on; nothing where it is already."""
    if layout != tank.layout:
        change_tank(store, replace(tank, layout=layout), now)


def layout_view(store: Store, name: str, now: datetime, layout: Layout | None = None) -> LayoutView:
    """The sketch of tank `name`, or another one, against the rules.

    NoSuchTankError; NotEnoughRecordsError where none is given and none stored.
    """
    tank = store.tank(name)
    wanted = layout or tank.layout
    if wanted is None:
        raise NotEnoughRecordsError(
            "There is no sketch of the tank yet.",
            where=tank.name,
            cure="Say where things are: dawnlevel layout --outflow PLACE --intake PLACE --diffuser PLACE "
            "--flow 800L/h",
        )
    flow_l_h = wanted.measured_l_h or real_flow_l_h(wanted.rated_l_h, wanted.head_loss, wanted.clogging)
    turnover = flow_l_h / tank.volume_l
    return LayoutView(
        tank=tank.name,
        outflow=wanted.outflow,
        intake=wanted.intake,
        diffuser=wanted.diffuser,
        hardscape=wanted.hardscape,
        rated_l_h=wanted.rated_l_h,
        flow_l_h=flow_l_h,
        is_measured=wanted.measured_l_h is not None,
        turnover_per_h=turnover,
        rules=tuple(map(_rule, _checked(wanted, turnover))),
        basis="Common practice, no source: what is usual, not what was measured.",
        measured=_measured(store, name, now),
        stored=wanted == tank.layout,
    )


def _checked(layout: Layout, turnover_per_h: float) -> Sequence[RuleCheck]:
    rocks = [place_shares(one) for one in layout.hardscape]
    out, intake, gas = (place_shares(one) for one in (layout.outflow, layout.intake, layout.diffuser))
    return [turnover_check(turnover_per_h), *checks(sketch_of(out, intake, gas, rocks))]


def _rule(found: RuleCheck) -> RuleView:
    return RuleView(found.rule, found.is_kept, found.finding)


def _measured(store: Store, name: str, now: datetime) -> str:
    try:
        view = spread_view(store, name, now)
    except NotEnoughRecordsError:
        return "Nothing yet. Only a survey shows whether CO2 reaches a place: dawnlevel survey --help"
    return f"Survey of {view.at:%Y-%m-%d %H:%M}: {view.verdict}"
