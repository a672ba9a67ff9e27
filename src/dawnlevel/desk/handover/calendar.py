"""Use case: the tank's calendar - gas and lights, readings while it is tuned, weekly checks, what is due."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from dawnlevel.desk.advice.routine import (
    WEEKLY_CHECKS,
    check_clock,
    gas_lead_h,
    reading_clock,
    standing_rate,
    standing_timer,
    week_look_h,
)
from dawnlevel.desk.casebook import open_case
from dawnlevel.desk.handover.calendar_views import CalendarView, EntryView, OwnerCalendarView
from dawnlevel.desk.handover.owners import tanks_of
from dawnlevel.desk.shelf.due_dates import DueDate, due_dates
from dawnlevel.desk.wording import rate_text
from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.plan.past import SETTLED_DAYS
from dawnlevel.plan.readings import CHECK_H
from dawnlevel.store import HistoryEntry, Store, TankVersion
from dawnlevel.tank import (
    BufferCheck,
    CylinderExchange,
    KhTitration,
    PhReading,
    Record,
    SolutionPrepared,
    Tank,
    TimerSetting,
)
from dawnlevel.tank.clock import local_day, local_hour

_SPACE = UUID("5b0f6a0e-3d1c-4f57-9a58-0d6f7a1e6c42")
"""Where the entries' names live; drawn once at random."""

_DUE_OF: dict[type[Record], tuple[str, ...]] = {
    CylinderExchange: ("cylinder", "retest"),
    BufferCheck: ("buffers",),
    PhReading: ("buffers",),
    SolutionPrepared: ("solution",),
    KhTitration: ("kh",),
}
"""Which due dates a record of a kind may give."""

_CHECK_DAYS = round(CHECK_H / 24.0)
_WEEK = 7
_AT_ONCE = 0
_READ_DAYS = 7
"""For how many days after the latest record a tuning tank is read: tuning takes about a week (common
practice, no source). Whoever goes on writes down more, and takes the calendar again."""


@dataclass(frozen=True, slots=True)
class _Book:
    """Everything written down for a tank, and what of it stands."""

    tank: Tank
    records: list[Record]
    versions: list[TankVersion]
    history: list[HistoryEntry]

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.tank.timezone)

    @property
    def as_of(self) -> datetime:
        """The moment up to which the records tell (UTC): theirs is the calendar's only clock."""
        moments = [*(one.at for one in self.records), self.versions[-1].valid_from]
        return max(moments).astimezone(UTC)

    @property
    def written(self) -> datetime:
        moments = [*(one.recorded_at for one in self.versions), *(one.recorded_at for one in self.history)]
        return max(moments).astimezone(UTC).replace(microsecond=0)

    def uid(self, key: str) -> str:
        """The name of the entry `key`, the same as long as the tank lives, whatever it is called later."""
        first = self.versions[0]
        return str(uuid5(_SPACE, f"{first.tank.name}|{first.recorded_at.isoformat()}|{key}"))

    def first_day(self, since: datetime, clock_h: float) -> date:
        """The first day on which the clock shows `clock_h` after `since`."""
        day = local_day(since, self.zone)
        return day if clock_h >= local_hour(since, self.zone) else day + timedelta(days=1)


def calendar_view(store: Store, name: str) -> CalendarView:
    """The calendar of tank `name`. Raises NoSuchTankError, BadInputError where weighings contradict."""
    records = [stored.record for stored in store.records(name)]
    book = _Book(store.tank(name), records, store.tank_versions(name), store.history(name))
    settled = _is_settled(store, book)
    entries = [*_lights(book), *_gas(book), *_readings(book, settled=settled), _weekly(book), *_due(book)]
    standing = {entry.uid for entry in entries}
    gone = [entry for entry in _gone(book) if entry.uid not in standing]
    return CalendarView(
        tank=name,
        timezone=book.tank.timezone,
        revision=store.revision(name),
        written=book.written.astimezone(book.zone),
        entries=(*entries, *gone),
    )


def owner_calendar_view(store: Store, owner: str) -> OwnerCalendarView:
    """The calendars of all tanks of `owner`. Raises NoSuchOwnerError, and what `calendar_view` raises."""
    tanks = tanks_of(store, owner)
    return OwnerCalendarView(tanks[0].owner, tuple(calendar_view(store, tank.name) for tank in tanks))


def _is_settled(store: Store, book: _Book) -> bool:
    try:
        return open_case(store, book.tank.name, book.as_of).found.settled
    except NotEnoughRecordsError:
        return False


def _daily(book: _Book, key: str, kind: str, since: datetime, clock_h: float, *words: str) -> EntryView:
    """An entry of every day at `clock_h` since `since`; `words` are title and details."""
    title, details = words
    day = book.first_day(since, clock_h % 24.0)
    return EntryView(book.uid(key), kind, title, details, day, clock_h % 24.0, 1, None, None, withdrawn=False)


def _lights(book: _Book) -> Iterator[EntryView]:
    light, since = book.tank.photoperiod, book.versions[-1].valid_from
    name, timer = book.tank.name, standing_timer(book.records)
    leads = timer is not None and gas_lead_h(book.tank, timer) is not None
    yield _daily(
        book, "lights-on", "lights_on", since, light.lights_on_h,
        f"{name}: lights on", "By its timer." + leads * " CO2 should have reached its target by now.",
    )  # fmt: skip
    yield _daily(
        book, "lights-off", "lights_off", since, light.lights_off_h,
        f"{name}: lights off", "By its timer.",
    )  # fmt: skip


def _gas(book: _Book) -> Iterator[EntryView]:
    timer, rate = standing_timer(book.records), standing_rate(book.records)
    if timer is None:
        return
    needle = "" if rate is None else f" The needle stays at {rate_text(rate)}."
    for number, (opens_h, closes_h) in enumerate(timer.windows_h, start=1):
        yield _daily(
            book, f"gas-opens-{number}", "gas_opens", timer.at, opens_h,
            f"{book.tank.name}: gas opens", f"By its timer.{needle}",
        )  # fmt: skip
        yield _daily(
            book, f"gas-closes-{number}", "gas_closes", timer.at, closes_h,
            f"{book.tank.name}: gas closes",
            "By its timer. If bubbles still rise after this, close the cylinder by hand.",
        )  # fmt: skip


def _readings(book: _Book, *, settled: bool) -> Iterator[EntryView]:
    """Readings of the next tuning days, or the regular check of a settled tank."""
    timer = standing_timer(book.records)
    if timer is None:
        return
    if settled:
        yield from _check(book, timer)
        return
    for number, (clock_h, reason) in enumerate(reading_clock(book.tank, timer), start=1):
        details = (
            f"To see {reason}. Record it, and do what the advice of the day says. These readings are for "
            f"{_READ_DAYS} days; with more records, take the calendar again for the next ones."
        )
        yield EntryView(
            book.uid(f"reading-{number}"), "reading", f"{book.tank.name}: read pH", details,
            book.first_day(book.as_of, clock_h), clock_h, 1, _READ_DAYS, _AT_ONCE, withdrawn=False,
        )  # fmt: skip


def _check(book: _Book, timer: TimerSetting) -> Iterator[EntryView]:
    clock_h = check_clock(book.tank, timer)
    read = [one.at for one in book.records if isinstance(one, PhReading)]
    if clock_h is None or not read:
        return
    yield EntryView(
        book.uid("check"), "check", f"{book.tank.name}: read pH, the regular check",
        "The tank is settled. Record it; leave the needle unless the advice of the day says otherwise.",
        local_day(read[-1], book.zone) + timedelta(days=_CHECK_DAYS), clock_h, _CHECK_DAYS, None, _AT_ONCE,
        withdrawn=False,
    )  # fmt: skip


def _weekly(book: _Book) -> EntryView:
    clock_h = week_look_h(book.tank)
    day = book.first_day(book.versions[0].valid_from, clock_h)
    details = "\n".join(f"- {check}" for check in WEEKLY_CHECKS)
    title = f"{book.tank.name}: weekly checks"
    return EntryView(
        book.uid("weekly"), "weekly", title, details, day, clock_h, _WEEK, None, _AT_ONCE, withdrawn=False
    )


def _due(book: _Book) -> Iterator[EntryView]:
    for due in due_dates(book.tank, book.records, book.as_of):
        yield EntryView(
            book.uid(due.kind), due.kind, f"{book.tank.name}: {due.title}", due.text,
            due.day, None, None, None, _morning(due), withdrawn=False,
        )  # fmt: skip


def _morning(due: DueDate) -> int:
    """Minutes from the day's midnight to nine o'clock on the day to be reminded."""
    return 9 * 60 - due.ahead_days * 24 * 60


def _gone(book: _Book) -> Iterator[EntryView]:
    """Every entry that any earlier state of the records can have asked for, as withdrawn."""
    written = [one.record for one in book.history if one.record is not None]
    kinds: dict[str, str] = {}
    for timer in (one for one in written if isinstance(one, TimerSetting)):
        for number in range(1, len(timer.windows_h) + 1):
            kinds |= {f"gas-opens-{number}": "gas_opens", f"gas-closes-{number}": "gas_closes"}
        for version in book.versions:
            slots = len(reading_clock(version.tank, timer))
            kinds |= {f"reading-{number}": "reading" for number in range(1, slots + 1)}
    for sort, dues in _DUE_OF.items():
        if any(isinstance(one, sort) for one in written):
            kinds |= dict(zip(dues, dues, strict=True))
    if len({local_day(one.at, book.zone) for one in written if isinstance(one, PhReading)}) >= SETTLED_DAYS:
        kinds["check"] = "check"
    for key, kind in kinds.items():
        yield EntryView(
            book.uid(key), kind, f"{book.tank.name}: no longer", "Withdrawn.",
            local_day(book.as_of, book.zone), None, None, None, None, withdrawn=True,
        )  # fmt: skip
