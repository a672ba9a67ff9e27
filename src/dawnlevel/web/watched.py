"""A tank's probe log as judged last, with its pictures, kept until something is written down."""

import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from dawnlevel.desk.steadiness.probing import ProbeListView, list_probe
from dawnlevel.desk.steadiness.steadiness import steadiness_view
from dawnlevel.desk.steadiness.steadiness_views import SteadinessView
from dawnlevel.desk.steadiness.watch import Watched
from dawnlevel.desk.steadiness.watch_pages import watch_page_of
from dawnlevel.desk.steadiness.watch_views import OverlayView, WatchPageView
from dawnlevel.desk.steadiness.watching import tank_watched
from dawnlevel.report.look import Look
from dawnlevel.report.workshop import WORKSHOP
from dawnlevel.store import Store
from dawnlevel.tank import Record, Tank
from dawnlevel.web.pictures import NARROW, WIDE, Drawn, for_page
from dawnlevel.web.settings import Clock

_FIGURES = (replace(NARROW, strip=72, hours=4), replace(WIDE, width=560, strip=76, hours=8))
_OVERLAY = (NARROW, replace(WIDE, width=560))
_MOST = 6  # logs kept at once; a year of minutes is some ten megabytes once it is judged
MOST_PICTURES = 30
"""Pictures kept of a log; those of a day are some sixty kilobytes (measured)."""


@dataclass(slots=True)
class WatchedTank:
    """A judged log with its page, and the pictures drawn of it so far."""

    watched: Watched
    tank: Tank
    records: tuple[Record, ...]
    page: WatchPageView
    stored: ProbeListView
    pictures: OrderedDict[str, Drawn] = field(default_factory=OrderedDict)
    drawing: threading.Lock = field(default_factory=threading.Lock)

    def figures(self) -> Drawn:
        """The daily figures, drawn."""
        return self._drawn(
            "figures", lambda look: _drawn_by("watch_chart:figures_svg", self.page, look), _FIGURES
        )

    def overlay(self, place: str, view: OverlayView) -> Drawn:
        """A course before against after; `place` names the page it stands on."""
        return self._drawn(place, lambda look: _drawn_by("watch_chart:overlay_svg", view, look), _OVERLAY)

    def _drawn(self, place: str, draw: Callable[[Look], str], looks: tuple[Look, Look]) -> Drawn:
        with self.drawing:
            if place not in self.pictures:
                self.pictures[place] = Drawn(*(for_page(draw(look)) for look in looks))
            self.pictures.move_to_end(place)
            while len(self.pictures) > MOST_PICTURES:
                self.pictures.popitem(last=False)
            return self.pictures[place]


@dataclass(frozen=True, slots=True)
class OwnReadings:
    """Steadiness by the keeper's own readings, with their picture; None where there is no reading."""

    view: SteadinessView
    drawn: Drawn | None


@dataclass(slots=True)
class _Slot:
    lock: threading.Lock = field(default_factory=threading.Lock)
    revisions: tuple[int, int] = (-1, -1)
    found: WatchedTank | None = None
    own_revision: int = -1
    own: OwnReadings | None = None


class Watchings:
    """The judged log of each tank. Two who ask at once wait for the same work."""

    def __init__(self, store: Store, clock: Clock) -> None:
        self._store = store
        self._clock = clock
        self._slots: OrderedDict[str, _Slot] = OrderedDict()
        self._lock = threading.Lock()

    def of(self, name: str) -> WatchedTank | None:
        """The log of tank `name`, judged; None without one. NoSuchTankError, NotEnoughRecordsError."""
        slot = self._slot(name)
        with slot.lock:
            revisions = (self._store.revision(name), self._store.samples_revision(name))
            if not revisions[1]:
                return None
            if slot.revisions != revisions:
                slot.found = None
                slot.found = self._judged(name)
                slot.revisions = revisions
            return slot.found

    def own(self, name: str) -> OwnReadings:
        """Steadiness by the tank's own records. NoSuchTankError."""
        slot = self._slot(name)
        with slot.lock:
            revision = self._store.revision(name)
            if slot.own is None or slot.own_revision != revision:
                view = steadiness_view(self._store, name, self._clock())
                pictures = [
                    for_page(_drawn_by("steady_chart:readings_svg", view, look))
                    for look in _FIGURES
                    if view.charts
                ]
                slot.own = OwnReadings(view, Drawn(*pictures) if pictures else None)
                slot.own_revision = revision
            return slot.own

    def _judged(self, name: str) -> WatchedTank:
        now = self._clock()
        watched = tank_watched(self._store, name, now)
        tank = self._store.tank(name)
        records = tuple(stored.record for stored in self._store.records(name, until=now))
        shown, stored = watch_page_of(watched, tank, records), list_probe(self._store, name)
        return WatchedTank(watched, tank, records, shown, stored)

    def _slot(self, name: str) -> _Slot:
        with self._lock:
            slot = self._slots.setdefault(name, _Slot())
            self._slots.move_to_end(name)
            while len(self._slots) > _MOST:
                self._slots.popitem(last=False)
            return slot


def _drawn_by(function: str, view: WatchPageView | OverlayView | SteadinessView, look: Look) -> str:
    """What a function of the report draws, in the process that holds the drawing library."""
    drawn: str = WORKSHOP.run(f"dawnlevel.report.{function}", view, look)
    return drawn
