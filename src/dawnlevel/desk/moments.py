"""Moments as people type them: a time on the wall, a day, or RFC 3339."""

import re
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from dawnlevel.desk.exchange.longtable import read_moment
from dawnlevel.desk.records import FUTURE_TOLERANCE
from dawnlevel.errors import BadInputError

_CLOCK = re.compile(r"(?:(today|yesterday|\d{4}-\d\d-\d\d)[ T]+)?(\d{1,2}):(\d\d)(?::(\d\d))?")
_DAY = re.compile(r"today|yesterday|\d{4}-\d\d-\d\d")
_CURE = "Write 09:30, 'yesterday 21:30', '2026-05-04 09:30', or 2026-05-04T09:30:00+02:00."


def _day(word: str, now: datetime, zone: ZoneInfo) -> date:
    today = now.astimezone(zone).date()
    if word == "today":
        return today
    if word == "yesterday":
        return today - timedelta(days=1)
    try:
        return date.fromisoformat(word)
    except ValueError as error:
        raise BadInputError(f"There is no day {word}.", where="time", cure=_CURE) from error


def _on_the_wall(day: date, shown: time, zone: ZoneInfo) -> datetime:
    """The moment when clocks in `zone` show `shown`; BadInputError where they do so twice or never."""
    first, second = (datetime.combine(day, shown, zone).replace(fold=fold) for fold in (0, 1))
    if first.utcoffset() != second.utcoffset():
        raise BadInputError(
            f"The clocks change that night: {shown:%H:%M} on {day} comes twice or not at all.",
            where="time",
            cure=f"Give it with its offset, for example {first.isoformat()}.",
        )
    return first.astimezone(UTC)


def read_at(text: str, now: datetime, zone: ZoneInfo) -> datetime:
    """The moment (UTC) that `text` names in `zone`: a time of today or another day, or RFC 3339.

    BadInputError for anything else, for a time that the clocks show twice or never, and for a bare time
    still to come today, which may be yesterday's or a slip.
    """
    stripped = text.strip()
    found = _CLOCK.fullmatch(stripped.lower()) or _CLOCK.fullmatch(stripped)
    if found is None:
        if "T" in stripped.upper():
            return read_moment(stripped)
        raise _no_time(stripped)
    try:
        shown = time(int(found[2]), int(found[3]), int(found[4] or 0))
    except ValueError as error:
        raise _no_time(stripped) from error
    moment = _on_the_wall(_day(found[1] or "today", now, zone), shown, zone)
    if found[1] is None and moment > now + FUTURE_TOLERANCE:
        raise BadInputError(
            f"The time {stripped} is still to come today.",
            where="time",
            cure=f"For last evening's write 'yesterday {stripped}'.",
        )
    return moment


def read_since(text: str, now: datetime, zone: ZoneInfo) -> datetime:
    """Like `read_at`; a day alone means its first moment in `zone`."""
    stripped = text.strip().lower()
    if _DAY.fullmatch(stripped):
        return day_start(_day(stripped, now, zone), zone)
    return read_at(text, now, zone)


def day_start(day: date, zone: ZoneInfo) -> datetime:
    """The first moment (UTC) of a day in `zone`."""
    return datetime.combine(day, time(0), zone).astimezone(UTC)


def _no_time(text: str) -> BadInputError:
    return BadInputError(f"{text!r} is no time.", where="time", cure=_CURE)
