"""Use case: how even is CO2 across the tank, by the latest survey?"""

from collections.abc import Iterator
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from dawnlevel.desk.casebook import SEED
from dawnlevel.desk.cited import cited
from dawnlevel.desk.evenness.spread_views import (
    DeadZoneView,
    MapView,
    MarkView,
    NextPlaceView,
    PlaceView,
    SpreadView,
)
from dawnlevel.desk.evenness.surveys import Surveyed, known_length_cm, surveys, work_out
from dawnlevel.desk.evenness.surveys_compared import compared, exchanges
from dawnlevel.desk.evenness.unread import unread_corners
from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.estimate.posterior import Interval, interval
from dawnlevel.store import Store
from dawnlevel.survey.box import front_view, top_view
from dawnlevel.survey.evenness import DEAD_SHARE, DeadZone, dead_zones, variation, worst_corner
from dawnlevel.survey.field import FEWEST
from dawnlevel.survey.where_next import where_next
from dawnlevel.tank import Record, Tank
from dawnlevel.tank.places import name_of_shares, place_shares

Array = npt.NDArray[np.float64]

_SOURCES = ("rasmussen_williams_2006", "journel_huijbregts_1978", "cohn_1996")
_MOVED_MUCH = 0.1
_CORNERS = 8
_ENOUGH = 8  # places that see every corner (common practice, no source)


def spread_view(store: Store, name: str, now: datetime, seed: int = SEED) -> SpreadView:
    """How even CO2 is in tank `name`, by its latest survey up to `now` (aware).

    NoSuchTankError; NotEnoughRecordsError without a survey, or where it is too small.
    """
    tank = store.tank(name)
    return spread_of(tank, [stored.record for stored in store.records(name, until=now)], seed)


def spread_of(tank: Tank, records: list[Record], seed: int = SEED) -> SpreadView:
    """The same from standing records, sorted by time."""
    found = surveys(records)
    if not found:
        raise NotEnoughRecordsError(
            "There is no survey yet: pH read at several places within the hour.",
            where=tank.name,
            cure="Near the day's peak, hold the probe at eight places: "
            "dawnlevel survey 6.71 --place 'back left substrate'",
        )
    rng = np.random.default_rng(seed)
    latest = work_out(tank, records, found[-1], rng)
    earlier = [one for one in found[:-1] if len(one) >= FEWEST]
    return _view(tank, latest, work_out(tank, records, earlier[-1], rng) if earlier else None)


def _view(tank: Tank, found: Surveyed, earlier: Surveyed | None) -> SpreadView:
    zone, field = ZoneInfo(tank.timezone), found.field
    corner, corner_cell = worst_corner(field)
    zones = tuple(_zone(one, found) for one in dead_zones(field))
    uneven = _percent(variation(field))
    return SpreadView(
        tank=tank.name,
        timezone=tank.timezone,
        began=found.readings[0].at.astimezone(zone),
        at=found.at.astimezone(zone),
        moved_percent=100.0 * found.brought.moved,
        length_cm=found.box.length_cm,
        width_cm=found.box.width_cm,
        height_cm=found.box.height_cm,
        sides_assumed=known_length_cm(tank) is None,
        readings=tuple(_places(tank, found)),
        co2_mg_l=interval(field.co2_mg_l.mean(axis=0)),
        variation_percent=uneven,
        worst_corner=name_of_shares(*field.box.shares()[corner_cell]),
        worst_corner_percent=_percent(corner),
        dead_zones=zones,
        next_places=tuple(_next(found)),
        compared=None if earlier is None else compared(earlier, found, zone),
        exchange=() if earlier is None else tuple(exchanges(earlier, found, np.random.default_rng(SEED))),
        marks=tuple(_marks(tank)),
        front=_map("From the front", "surface", "substrate", front_view(field.relative.T)),
        top=_map("From above", "back", "front", top_view(field.relative.T)),
        verdict=_verdict(uneven, zones, unread_corners(found)),
        notes=tuple(_notes(found, is_assumed=known_length_cm(tank) is None)),
        sources=cited(_SOURCES),
    )


def _marks(tank: Tank) -> Iterator[MarkView]:
    """What the sketch places in the water."""
    if tank.layout is None:
        return
    where = tank.layout
    for letter, what, place in (
        ("O", "outflow", where.outflow),
        ("I", "intake", where.intake),
        ("D", "diffuser", where.diffuser),
        *(("S", "stone or wood", one) for one in where.hardscape),
    ):
        yield MarkView(letter, what, place, *place_shares(place))


def _percent(draws: Array) -> Interval:
    return interval(100.0 * draws)


def _places(tank: Tank, found: Surveyed) -> list[PlaceView]:
    """The readings, each with the CO2 it means at the survey's moment (the tank's doubt included)."""
    brought, shares = found.brought, found.places_cm / found.box.sides_cm
    sds = np.sqrt(np.diag(brought.covariance))
    luck = np.random.default_rng(SEED).standard_normal(brought.common.size)
    return [
        PlaceView(
            at=one.at.astimezone(ZoneInfo(tank.timezone)),
            place=one.where,
            x_share=float(share[0]),
            y_share=float(share[1]),
            z_share=float(share[2]),
            ph=one.ph,
            co2_mg_l=interval(np.exp(brought.common + relative + sd * luck)),
        )
        for one, share, relative, sd in zip(found.readings, shares, brought.relative, sds, strict=True)
    ]


def _zone(zone: DeadZone, found: Surveyed) -> DeadZoneView:
    place = name_of_shares(*found.box.shares()[zone.lowest])
    return DeadZoneView(place, 100.0 * zone.share, _percent(zone.shortfall), zone.chance)


def _next(found: Surveyed) -> list[NextPlaceView]:
    shares, cells = found.box.shares(), found.field.places_cm
    return [
        NextPlaceView(
            place=name_of_shares(*shares[one.cell]),
            x_cm=float(cells[one.cell, 0]),
            y_cm=float(cells[one.cell, 1]),
            z_cm=float(cells[one.cell, 2]),
            removes=one.removes,
        )
        for one in where_next(found.field)
    ]


def _map(title: str, first: str, last: str, cells: Array) -> MapView:
    """A view from draws of shape (n, rows, columns) of CO2 over the tank's mean."""
    low, median, high = np.quantile(100.0 * cells, (0.05, 0.5, 0.95), axis=0)
    rows = [tuple(tuple(row) for row in np.round(part, 1).tolist()) for part in (median, low, high)]
    return MapView(title, first, last, *rows)


def _verdict(uneven: Interval, zones: tuple[DeadZoneView, ...], unread: tuple[str, ...]) -> str:
    """What the survey says, in sentences."""
    among = "places read" if unread else "tank"
    spread = f"CO2 differs across the {among} by {uneven.median:.0f} % about its mean"
    told = f"{spread} (9 in 10: {uneven.low_90:.0f} to {uneven.high_90:.0f} %)."
    if zones:
        named = "; ".join(
            f"{zone.place}, {zone.shortfall_percent.median:.0f} % below the mean" for zone in zones
        )
        return f"{told} Dead beyond meter noise: {named}."
    below = 100.0 * (1.0 - DEAD_SHARE)
    which = "None of them" if unread else "No place"
    told = f"{told} {which} is shown to lie more than {below:.0f} % below the mean."
    return f"{told} {_say_unread(unread)}" if unread else told


def _say_unread(unread: tuple[str, ...]) -> str:
    """Which corners a survey says nothing of."""
    *others, last = unread
    named = f"near {', '.join(others)} or {last}" if others else f"near {last}"
    where = "in any corner" if len(unread) == _CORNERS else named
    return f"But nobody read {where}: still water there would not show."


def _notes(found: Surveyed, *, is_assumed: bool) -> list[str]:
    sides = f"{found.box.length_cm:.0f} by {found.box.width_cm:.0f} cm"
    told = f"The sides are taken as {sides}: only the area is known, and twice as long as wide is assumed."
    notes = [told] if is_assumed else []
    moved = 100.0 * found.brought.moved
    if found.brought.moved > _MOVED_MUCH:
        long_walk = (
            f"The tank's level moved by {moved:.0f} % while you read. The day's model took that out, at the "
        )
        notes.append(long_walk + "cost of wider intervals: read near the peak, and faster.")
    if len(found.readings) < _ENOUGH:
        notes.append(f"With {_ENOUGH} places or more the map has firmer ground.")
    return notes
