"""Use case: the tank's sketch against the trade's layout rules, beside what a survey measured."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from dawnlevel.desk.spread import spread_view
from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.store import Store
from dawnlevel.survey.layout import RuleCheck, checks, real_flow_l_h, sketch_of, turnover_check
from dawnlevel.tank.places import place_name, place_shares


@dataclass(frozen=True, slots=True)
class RuleView:
    """A rule of the trade, whether it is kept, and what was found."""

    rule: str
    kept: bool
    finding: str


@dataclass(frozen=True, slots=True)
class LayoutView:
    """The sketch judged by common practice, and what was measured, apart from it."""

    tank: str
    outflow: str
    intake: str
    diffuser: str
    hardscape: tuple[str, ...]
    rated_l_h: float
    flow_l_h: float
    turnover_per_h: float
    rules: tuple[RuleView, ...]
    basis: str
    measured: str


def layout_view(
    store: Store,
    name: str,
    now: datetime,
    *,
    outflow: str,
    intake: str,
    diffuser: str,
    hardscape: Sequence[str],
    rated_l_h: float,
    head_loss: float,
    clogging: float,
) -> LayoutView:
    """The layout of tank `name`; places by name, flow [L/h], losses as fractions.

    NoSuchTankError; BadInputError for a place that is none; OutOfRangeError for losses outside 0 to 1.
    """
    tank = store.tank(name)
    flow_l_h = real_flow_l_h(rated_l_h, head_loss, clogging)
    turnover = flow_l_h / tank.volume_l
    rocks = [place_shares(one) for one in hardscape]
    sketch = sketch_of(place_shares(outflow), place_shares(intake), place_shares(diffuser), rocks)
    found = [turnover_check(turnover), *checks(sketch)]
    return LayoutView(
        tank=tank.name,
        outflow=place_name(outflow),
        intake=place_name(intake),
        diffuser=place_name(diffuser),
        hardscape=tuple(place_name(one) for one in hardscape),
        rated_l_h=rated_l_h,
        flow_l_h=flow_l_h,
        turnover_per_h=turnover,
        rules=tuple(map(_rule, found)),
        basis="Common practice, no source: what is usual, not what was measured.",
        measured=_measured(store, name, now),
    )


def _rule(found: RuleCheck) -> RuleView:
    return RuleView(found.rule, found.is_kept, found.finding)


def _measured(store: Store, name: str, now: datetime) -> str:
    try:
        view = spread_view(store, name, now)
    except NotEnoughRecordsError:
        return "Nothing yet. Only a survey shows whether CO2 reaches a place: dawnlevel survey --help"
    return f"Survey of {view.at:%Y-%m-%d %H:%M}: {view.verdict}"
