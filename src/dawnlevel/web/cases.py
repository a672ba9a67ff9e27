"""Opened cases, kept for a minute, so that looking at a page does not work the estimate out again."""

import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TypeVar, cast

from dawnlevel.desk.advice.today import today_of
from dawnlevel.desk.casebook import Case, open_case
from dawnlevel.desk.views import TodayView
from dawnlevel.store import Store
from dawnlevel.web.settings import Clock

View = TypeVar("View")
FRESH = timedelta(minutes=1)
_MOST = 12  # tanks kept at once; a case holds the posterior's draws, about a megabyte


@dataclass(slots=True)
class _Slot:
    """One tank's case with the state of its records, and the views made from it."""

    lock: threading.Lock = field(default_factory=threading.Lock)
    revision: int = -1
    case: Case | None = None
    views: dict[Callable[[Case], object], object] = field(default_factory=dict)


class Cases:
    """The latest case of each tank. Two who ask at once wait for the same work."""

    def __init__(self, store: Store, clock: Clock) -> None:
        self._store = store
        self._clock = clock
        self._slots: OrderedDict[str, _Slot] = OrderedDict()
        self._lock = threading.Lock()

    def case(self, name: str) -> Case:
        """The case of tank `name` now, at most a minute old and holding all that is recorded.

        Raises NoSuchTankError, NotEnoughRecordsError.
        """
        slot = self._slot(name)
        with slot.lock:
            return self._opened(slot, name)

    def today(self, name: str) -> TodayView:
        """Today's view of that case; errors as for `case`."""
        return self.view(name, today_of)

    def view(self, name: str, make: Callable[[Case], View]) -> View:
        """What `make`, a function of the desk, makes of that case; errors as for `case`, and its own."""
        slot = self._slot(name)
        with slot.lock:
            case = self._opened(slot, name)
            if make not in slot.views:
                slot.views[make] = make(case)
            return cast("View", slot.views[make])

    def _slot(self, name: str) -> _Slot:
        with self._lock:
            slot = self._slots.setdefault(name, _Slot())
            self._slots.move_to_end(name)
            while len(self._slots) > _MOST:
                self._slots.popitem(last=False)
            return slot

    def _opened(self, slot: _Slot, name: str) -> Case:
        revision, now = self._store.revision(name), self._clock()
        if slot.case is None or slot.revision != revision or not _is_fresh(slot.case.now, now):
            slot.case = None
            slot.views.clear()
            slot.case = open_case(self._store, name, now)
            slot.revision = revision
        return slot.case


def _is_fresh(opened: datetime, now: datetime) -> bool:
    return timedelta(0) <= now - opened < FRESH
