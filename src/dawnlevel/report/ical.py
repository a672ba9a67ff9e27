"""The tank's calendar as an iCalendar file (RFC 5545), for any calendar program."""

from collections.abc import Iterator, Sequence
from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from dawnlevel.desk.handover.calendar_views import CalendarView, EntryView

if TYPE_CHECKING:
    from icalendar import Alarm, Calendar, Event, TimezoneDaylight, TimezoneStandard

_PRODUCT = "-//Dawnlevel//Calendar of a tank//EN"
_READING = timedelta(minutes=5)
"""How long a reading takes; the rest are moments."""


def calendar_ics(view: CalendarView) -> bytes:
    """The calendar of one tank as a file; see `calendars_ics`."""
    return calendars_ics([view], f"Tank {view.tank}")


def calendars_ics(views: Sequence[CalendarView], title: str) -> bytes:
    """The calendars of several tanks as one file called `title`: the same views give the same bytes.

    Every entry keeps its UID (RFC 5545 3.8.4.7), and its SEQUENCE (3.8.7.4) grows with what is written down
    for the tank, so that a file read again takes the place of the old entries. DTSTAMP is when the latest
    record was written down. Times are local times with a TZID, so that they keep the wall clock.
    """
    from icalendar import Calendar  # noqa: PLC0415 - takes a moment to load

    made = Calendar()
    made.add("prodid", _PRODUCT)
    made.add("version", "2.0")
    made.add("calscale", "GREGORIAN")
    made.add("method", "PUBLISH")
    made.add("name", title)
    made.add("x-wr-calname", title)
    for view in views:
        for entry in view.entries:
            made.add_component(_event(view, entry))
    _add_zones(made, min(entry.day for view in views for entry in view.entries))
    return bytes(made.to_ical())


def _add_zones(made: "Calendar", first: date) -> None:
    """The rules of the tanks' zones, from the year before the first entry on (RFC 5545 3.6.5)."""
    from icalendar import TimezoneDaylight, TimezoneStandard  # noqa: PLC0415 - takes a moment to load

    made.add_missing_timezones(first_date=date(first.year - 1, 1, 1))
    for rules in made.timezones:
        for observance in rules.walk():
            if isinstance(observance, TimezoneStandard | TimezoneDaylight):
                _mend_onsets(observance, ZoneInfo(rules.tz_name))


def _mend_onsets(observance: "TimezoneStandard | TimezoneDaylight", zone: ZoneInfo) -> None:
    """Tell when clocks go forward by the time shown before (RFC 5545 3.6.5); the library tells it after."""
    to = observance.TZOFFSETTO
    forward = to - observance.TZOFFSETFROM
    if forward <= timedelta(0):
        return

    def onset(shown: datetime) -> datetime:
        return shown - forward if shown.replace(tzinfo=zone).utcoffset() == to else shown

    again = [onset(shown) for shown, _ in observance.rdates if isinstance(shown, datetime)]
    observance.DTSTART = onset(observance.DTSTART)
    observance.pop("RDATE", None)
    if again:
        observance.add("RDATE", again)


def _event(view: CalendarView, entry: EntryView) -> "Event":
    from icalendar import Event  # noqa: PLC0415 - takes a moment to load

    made = Event()
    made.add("uid", entry.uid)
    made.add("sequence", view.revision)
    made.add("dtstamp", view.written.astimezone(UTC))
    made.add("last-modified", view.written.astimezone(UTC))
    made.add("summary", entry.title)
    made.add("description", entry.details)
    made.add("categories", [entry.kind.replace("_", " ")])
    made.add("dtstart", _starts(view, entry))
    if entry.kind in {"reading", "check"} and not entry.withdrawn:
        made.add("duration", _READING)
    if entry.every_days is not None:
        made.add("rrule", _rule(entry.every_days, entry.times))
    made.add("transp", "TRANSPARENT")
    made.add("status", "CANCELLED" if entry.withdrawn else "CONFIRMED")
    for alarm in _alarms(entry):
        made.add_component(alarm)
    return made


def _starts(view: CalendarView, entry: EntryView) -> date | datetime:
    """The beginning: a day, or a moment by the clock on the tank's wall."""
    if entry.clock_h is None:
        return entry.day
    shown = datetime.combine(entry.day, time(0)) + timedelta(seconds=round(entry.clock_h * 3600.0))
    return shown.replace(tzinfo=ZoneInfo(view.timezone))


def _rule(days: int, times: int | None) -> dict[str, str | int]:
    """A recurrence rule; COUNT needs no moment in UTC, which would move against the wall clock."""
    weeks, odd = divmod(days, 7)
    rule: dict[str, str | int] = {"freq": "DAILY" if odd else "WEEKLY", "interval": days if odd else weeks}
    return rule if times is None else rule | {"count": times}


def _alarms(entry: EntryView) -> Iterator["Alarm"]:
    from icalendar import Alarm  # noqa: PLC0415 - takes a moment to load

    if entry.remind_min is None:
        return
    made = Alarm()
    made.add("action", "DISPLAY")
    made.add("description", entry.title)
    made.add("trigger", timedelta(minutes=entry.remind_min))
    yield made
