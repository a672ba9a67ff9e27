"""The tank's calendar as data: what recurs by the clock on the wall, and what is due on a day."""

from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True, slots=True)
class EntryView:
    """One entry, in wall-clock time of the tank's zone: a series keeps its hour when the clocks change.

    Attributes:
        uid: its name for ever: an entry written again with the same one takes the old one's place.
        kind: `lights_on`, `lights_off`, `gas_opens`, `gas_closes`, `reading`, `check`, `weekly`,
            `cylinder`, `retest`, `buffers`, `solution` or `kh`.
        title: what to do, in a few words.
        details: how, and why.
        day: the day, or the first day of a series.
        clock_h: wall-clock hours since midnight [h]; None: the whole day.
        every_days: days from one to the next of a series; None: once.
        times: how often a series comes; None: until it is withdrawn.
        remind_min: when to remind, from the beginning, before it negative [min]; None: not at all.
        withdrawn: whether it stands no more; said once, so that calendars drop it.
    """

    uid: str
    kind: str
    title: str
    details: str
    day: date
    clock_h: float | None
    every_days: int | None
    times: int | None
    remind_min: int | None
    withdrawn: bool


@dataclass(frozen=True, slots=True)
class CalendarView:
    """The calendar of one tank, from its records alone: the same records give the same calendar.

    Attributes:
        revision: how much has been written down for the tank; it only grows.
        written: when the latest of it was written down.
        entries: what recurs first, then what is due.
    """

    tank: str
    timezone: str
    revision: int
    written: datetime
    entries: tuple[EntryView, ...]


@dataclass(frozen=True, slots=True)
class OwnerCalendarView:
    """The calendars of all tanks of one owner.

    Attributes:
        owner: whose they are.
        calendars: one a tank.
    """

    owner: str
    calendars: tuple[CalendarView, ...]
