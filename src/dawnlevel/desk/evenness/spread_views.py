"""What a survey says of how even CO2 is, as frozen data."""

from dataclasses import dataclass
from datetime import datetime

from dawnlevel.desk.views import SourceView
from dawnlevel.estimate.posterior import Interval

_NEAR_WALL = 0.2
"""Share of a way within which a mark is drawn on the wall; own choice."""


@dataclass(frozen=True, slots=True)
class PlaceView:
    """A reading: when, where, what the meter showed, and CO2 there at the survey's moment."""

    at: datetime
    place: str
    x_share: float
    y_share: float
    z_share: float
    ph: float
    co2_mg_l: Interval


@dataclass(frozen=True, slots=True)
class MapView:
    """A view of the water: CO2 in % of the tank's mean by rows, each from left to right."""

    title: str
    first_row: str
    last_row: str
    percent: tuple[tuple[float, ...], ...]
    low_90: tuple[tuple[float, ...], ...]
    high_90: tuple[tuple[float, ...], ...]


@dataclass(frozen=True, slots=True)
class MarkView:
    """A thing of the tank's sketch: its letter on the map, what it is, where."""

    letter: str
    what: str
    place: str
    x_share: float
    y_share: float
    z_share: float


def on_the_lines(share: float, cells: int) -> float:
    """Where a mark at `share` of a way of `cells` cells stands clear of figures: on the wall or a line."""
    if not _NEAR_WALL < share < 1.0 - _NEAR_WALL:
        return 0.0 if share <= _NEAR_WALL else float(cells)
    return float(round(share * cells))


@dataclass(frozen=True, slots=True)
class DeadZoneView:
    """Water that is dead beyond meter noise."""

    place: str
    water_percent: float
    shortfall_percent: Interval
    chance: float


@dataclass(frozen=True, slots=True)
class NextPlaceView:
    """A place worth reading next."""

    place: str
    x_cm: float
    y_cm: float
    z_cm: float
    removes: float


@dataclass(frozen=True, slots=True)
class ComparisonView:
    """The survey against the one before it."""

    at: datetime
    before_percent: Interval
    change_percent: Interval
    chance_more_even: float
    missed: str
    verdict: str


@dataclass(frozen=True, slots=True)
class ExchangeView:
    """How long water in a place stays before it is exchanged with the rest."""

    place: str
    exchange_h: Interval
    told: float
    text: str


@dataclass(frozen=True, slots=True)
class SpreadView:
    """How even CO2 is across the tank."""

    tank: str
    timezone: str
    began: datetime
    at: datetime
    moved_percent: float
    length_cm: float
    width_cm: float
    height_cm: float
    sides_assumed: bool
    readings: tuple[PlaceView, ...]
    co2_mg_l: Interval
    variation_percent: Interval
    worst_corner: str
    worst_corner_percent: Interval
    dead_zones: tuple[DeadZoneView, ...]
    next_places: tuple[NextPlaceView, ...]
    compared: ComparisonView | None
    exchange: tuple[ExchangeView, ...]
    marks: tuple[MarkView, ...]
    front: MapView
    top: MapView
    verdict: str
    notes: tuple[str, ...]
    sources: tuple[SourceView, ...]
