"""Use case: on what a hand-over rests besides the plan - steadiness, the survey's map, animals, oxygen."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

from dawnlevel.desk.animals.animals import CAUTIONS, LOW_OXYGEN, SIGNS, animals_view
from dawnlevel.desk.animals.oxygen import oxygen_of
from dawnlevel.desk.animals.oxygen_views import OxygenView
from dawnlevel.desk.casebook import Case
from dawnlevel.desk.evenness.spread import spread_of
from dawnlevel.desk.evenness.spread_views import SpreadView
from dawnlevel.desk.handover.handover_gear import fault_facts, gear_facts
from dawnlevel.desk.handover.handover_views import EvidenceView, FactView, Units
from dawnlevel.desk.handover.handover_words import in_units, wall_text
from dawnlevel.desk.phrases import date_text
from dawnlevel.desk.steadiness.steadiness import steadiness_of
from dawnlevel.desk.steadiness.watch_pages import watch_page_of
from dawnlevel.desk.steadiness.watching import tank_watched
from dawnlevel.desk.views import SourceView
from dawnlevel.desk.wording import percent
from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.estimate.posterior import Interval
from dawnlevel.store import Store
from dawnlevel.tank import Tank
from dawnlevel.units import KG_PER_LB

_TOLD_CHANGES = 3
"""How many changes are told, the latest ones; own choice."""

_GRAMS_PER_OUNCE = 1e3 * KG_PER_LB / 16.0
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def evidence_of(store: Store, case: Case, units: Units) -> tuple[EvidenceView, tuple[SourceView, ...]]:
    """The evidence of an opened case, in the units asked for, and its sources."""
    animals, oxygen, spread = animals_view(case.tank), oxygen_of(case), _spread(case)
    faults, fault_sources = fault_facts(case, units)
    seen = EvidenceView(
        steady=tuple(_steady(case)),
        probe=tuple(_probe(store, case)),
        spread=spread,
        spread_says=() if spread is None else tuple(_spread_says(spread, units)),
        animals=tuple(_animals(case.tank, units)),
        oxygen=tuple(_oxygen(oxygen, units)),
        care=(oxygen.verdict, LOW_OXYGEN, *CAUTIONS),
        gear=gear_facts(case, units),
        faults=faults,
    )
    sources = (*animals.sources, *oxygen.sources, *fault_sources)
    return seen, (*sources, *(() if spread is None else spread.sources))


def _steady(case: Case) -> Iterator[str]:
    """What the keeper's own readings say; without the commands that would tell more."""
    view = steadiness_of(case.tank, case.records, case.now.astimezone(UTC))
    yield view.answer
    for one in view.changes[:_TOLD_CHANGES]:
        if one.text not in view.answer:
            yield one.text


def _probe(store: Store, case: Case) -> Iterator[str]:
    """What a probe's stored log says, up to its end; nothing where there is none, or it cannot be read."""
    batches = [one for one in store.sample_batches(case.tank.name) if one.readings]
    if not batches:
        return
    end = _EPOCH + timedelta(minutes=max(one.last_minute for one in batches) + 1)
    try:
        watched = tank_watched(store, case.tank.name, max(end, case.now.astimezone(UTC)))
        view = watch_page_of(watched, case.tank, case.records)
    except NotEnoughRecordsError:
        return
    yield f"A probe's log from {date_text(view.log_begin)} to {date_text(view.log_end)}. {view.verdict}"
    for one in view.findings[:_TOLD_CHANGES]:
        said = f"{one.said[:1].upper()}{one.said[1:]}{f', {one.size}' if one.size else ''}"
        yield f"{said}, since {one.since}: {percent(one.finding.probability)}."


def _spread(case: Case) -> SpreadView | None:
    try:
        return spread_of(case.tank, case.records)
    except NotEnoughRecordsError:
        return None


def _spread_says(view: SpreadView, units: Units) -> Iterator[str]:
    began, ended = (_clock(one, units) for one in (view.began, view.at))
    places = f"{len(view.readings)} places between {began} and {ended}"
    yield f"pH read on {date_text(view.at.date())} at {places}. {view.verdict}"
    for zone in view.dead_zones:
        yield (
            f"Dead zone {zone.place}: about {zone.water_percent:.0f} % of the water, "
            f"{_nine(zone.shortfall_percent)} % below the mean, chance {percent(zone.chance)}."
        )
    if view.worst_corner not in {zone.place for zone in view.dead_zones}:
        yield f"Worst corner {view.worst_corner}: {_nine(view.worst_corner_percent)} % below the mean."
    if view.compared is not None:
        yield view.compared.verdict
    yield from (one.text for one in view.exchange)
    if view.sides_assumed:
        yield "The map takes the tank as twice as long as it is wide: only its surface is known."


def _clock(moment: datetime, units: Units) -> str:
    return wall_text(moment.hour + moment.minute / 60.0, units)


def _nine(found: Interval) -> str:
    return f"{found.median:.0f} (nine in ten: {found.low_90:.0f} to {found.high_90:.0f})"


def _animals(tank: Tank, units: Units) -> Iterator[FactView]:
    view = animals_view(tank)
    groups = [f"{one.number} {one.kind} of {_weight(one.grams, units)}" for one in view.groups]
    yield FactView("Animals", ", ".join(groups) or "not described")
    for one in view.groups:
        kind = "published" if one.published else "a precaution"
        yield FactView(
            f"CO2 for {one.kind}", f"{one.guided_mg_l:g} mg/L at most, {kind}. {in_units(one.says, units)}"
        )
    why = f", because: {view.limit_reason}" if view.limit_reason else ""
    yield FactView("Ceiling of the plan", f"{view.ceiling_mg_l:g} mg/L{why}")
    yield FactView("Signs of too much, in order", ", ".join(SIGNS))


def _weight(grams: float, units: Units) -> str:
    return f"{grams:.3g} g" if units is Units.METRIC else f"{grams / _GRAMS_PER_OUNCE:.2g} oz"


def _oxygen(view: OxygenView, units: Units) -> Iterator[FactView]:
    lowest, shown = view.minimum_mg_l, _clock(view.minimum_at, units)
    span = f"nine in ten: {lowest.low_90:.1f} to {lowest.high_90:.1f}"
    yield FactView("Lowest oxygen of the day", f"{lowest.median:.1f} mg/L, at about {shown} ({span})")
    if view.readings:
        yield FactView("Oxygen as measured", view.told)
    for one in view.limits:
        yield FactView(f"Chance below {one.oxygen_mg_l:g} mg/L", f"{percent(one.chance_below)} ({one.means})")
