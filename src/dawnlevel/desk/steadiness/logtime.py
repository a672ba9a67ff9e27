"""Times of a probe's log: what people and machines write, and the clock on the wall against UTC.

A local time in the hour that comes twice in autumn is placed by the order of the file; one in the hour that
is skipped in spring never was.
"""

import re
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from dawnlevel.tank.samples import Minutes

Mask = npt.NDArray[np.bool_]
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MINUTE = timedelta(minutes=1)

_QUARTER_MIN = 15
_DAY_MIN = 1440
_DATE = re.compile(r"(\d{4}|\d{1,2})([-./])(\d{1,2})\2(\d{4}|\d{1,2})")
_CLOCK = re.compile(
    r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,]\d+)?)?(?:\s*([AaPp])\.?[Mm]\.?)?(?:\s*(Z|z|UTC|[+-]\d{2}:?\d{2}))?"
)


class TimeReader:
    """Reads times as minutes since 1970; dates and clocks seen before are remembered.

    `day_first`: whether dates with slashes put the day first; None where the file does not tell.
    """

    def __init__(self, *, day_first: bool | None) -> None:
        self._day_first = day_first
        self._dates: dict[str, int] = {}
        self._clocks: dict[str, tuple[int, int | None]] = {}

    def read(self, text: str) -> tuple[int, bool]:
        """Whole minutes since 1970, and whether they are UTC (else of a clock on a wall); ValueError."""
        day, _, rest = text.replace("T", " ", 1).partition(" ")
        try:
            begins, (minute, offset) = self._dates[day], self._clocks[rest]
        except KeyError:
            return self._read_new(text, day, rest)
        return (begins + minute, False) if offset is None else (begins + minute - offset, True)

    def _read_new(self, text: str, day: str, rest: str) -> tuple[int, bool]:
        seconds = _seconds(text)
        if seconds is not None:
            return int(seconds // 60), True
        date_found, clock_found = _DATE.fullmatch(day), _CLOCK.fullmatch(rest.strip())
        if date_found is None or clock_found is None:
            return _iso(text)
        begins = _day(date_found, text, day_first=self._day_first) * _DAY_MIN
        minute, offset = clock = _clock(clock_found, text)
        self._dates[day], self._clocks[rest] = begins, clock
        return (begins + minute, False) if offset is None else (begins + minute - offset, True)


def _no_time(text: str) -> ValueError:
    return ValueError(f"{text!r} is no time.")


def _seconds(text: str) -> float | None:
    """Seconds since 1970 where the text is a count of them, or of milliseconds."""
    if not text.replace(".", "", 1).isdigit() or float(text) < 1e8:
        return None
    seconds = float(text)
    return seconds / 1000.0 if seconds > 1e11 else seconds


def _iso(text: str) -> tuple[int, bool]:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise _no_time(text) from None
    if moment.tzinfo is None:
        return (moment.replace(tzinfo=UTC) - EPOCH) // MINUTE, False
    return (moment - EPOCH) // MINUTE, True


def _day(found: re.Match[str], text: str, *, day_first: bool | None) -> int:
    """Days since 1970 of 2026-05-04, 2026/05/04, 4.5.2026, or 4/5/2026 where the file tells which."""
    first, mark, second, third = found[1], found[2], int(found[3]), found[4]
    if len(first) == 4:
        year, month, day = int(first), second, int(third)
    else:
        if len(third) == 1:
            raise _no_time(text)
        if mark != "." and day_first is None:
            said = f"{text!r} may be day first or month first; no date of the file tells which."
            raise ValueError(said)
        year = int(third) + (2000 if len(third) == 2 else 0)
        day, month = (int(first), second) if mark == "." or day_first else (second, int(first))
    try:
        return date(year, month, day).toordinal() - EPOCH.toordinal()
    except ValueError:
        raise _no_time(text) from None


def _clock(found: re.Match[str], text: str) -> tuple[int, int | None]:
    """Minutes since midnight, and the offset from UTC [min] where there is one."""
    hour, minute = int(found[1]), int(found[2])
    if found[4]:
        if not 1 <= hour <= 12:
            raise _no_time(text)
        hour = hour % 12 + 12 * (found[4] in "Pp")
    if hour > 23 or minute > 59 or int(found[3] or 0) > 59:
        raise _no_time(text)
    if found[5] is None:
        return 60 * hour + minute, None
    if found[5][0] in "Zz" or found[5] == "UTC":
        return 60 * hour + minute, 0
    digits = found[5].replace(":", "")
    ahead = 60 * int(digits[1:3]) + int(digits[3:5])
    return 60 * hour + minute, -ahead if digits[0] == "-" else ahead


def is_day_first(cells: list[str]) -> bool | None:
    """Whether dates with slashes put the day first; None where none of them tells."""
    for cell in cells:
        found = _DATE.match(cell.strip())
        if found is None or found[2] == "." or len(found[1]) == 4:
            continue
        if int(found[1]) > 12:
            return True
        if int(found[3]) > 12:
            return False
    return None


def wall_minutes(minute_utc: Minutes, zone: ZoneInfo) -> Minutes:
    """Minutes that a clock on the wall of `zone` counts since 1970, for minutes UTC, shape (n,).

    Offsets are looked up once a quarter of an hour: zones change their clocks at one.
    """
    quarters, place = np.unique(minute_utc // _QUARTER_MIN, return_inverse=True)
    offsets = [
        ((EPOCH + timedelta(minutes=_QUARTER_MIN * int(quarter))).astimezone(zone).utcoffset() or timedelta())
        // MINUTE
        for quarter in quarters
    ]
    return minute_utc + np.array(offsets, dtype=np.int64)[place]


def utc_minutes(wall: Minutes, zone: ZoneInfo) -> tuple[Minutes, Mask]:
    """Minutes UTC for minutes of a clock on the wall of `zone` in the file's order; which never were.

    What never was (clocks put forward) is placed as if they had not been.
    """
    quarters, place = np.unique(wall // _QUARTER_MIN, return_inverse=True)
    early, late = (_offsets(quarters, zone, fold)[place] for fold in (0, 1))
    is_second = _second_pass(wall, early - late)
    return wall - np.where(is_second, late, early), early < late


def _offsets(quarters: Minutes, zone: ZoneInfo, fold: int) -> Minutes:
    """Offsets from UTC [min] at local quarters of an hour; of a repeated hour its pass number `fold`."""
    found = []
    for quarter in quarters:
        local = (EPOCH + timedelta(minutes=_QUARTER_MIN * int(quarter))).replace(tzinfo=zone, fold=fold)
        found.append((local.utcoffset() or timedelta()) // MINUTE)
    return np.array(found, dtype=np.int64)


def _second_pass(wall: Minutes, repeated_min: Minutes) -> Mask:
    """Which local minutes belong to the second pass of an hour that comes twice, by the file's order.

    The clock steps back between the passes: by so much less than the log's usual step that only the
    repetition explains it. Where it never steps back, the pass is the one that joins on to the readings
    before or after.
    """
    is_second = np.zeros(wall.size, dtype=bool)
    if not (repeated_min > 0).any():
        return is_second
    backwards = wall.size > 1 and wall[0] > wall[-1]
    order = np.arange(wall.size)[::-1] if backwards else np.arange(wall.size)
    local, twice = wall[order], repeated_min[order]
    steps = np.diff(local)
    usual = float(np.median(steps[steps > 0])) if (steps > 0).any() else 1.0
    inside = np.flatnonzero(twice > 0)
    for run in np.split(inside, np.flatnonzero(np.diff(inside) > 1) + 1):
        length = float(twice[run[0]])
        back = np.flatnonzero(np.diff(local[run]) - usual <= -0.5 * length)
        if back.size:
            is_second[order[run[back[0] + 1 :]]] = True
        elif _joins_only_after(local, run, usual, length):
            is_second[order[run]] = True
    return is_second


def _joins_only_after(local: Minutes, run: Minutes, usual: float, length: float) -> bool:
    """Whether a run of minutes in a repeated hour follows on from nothing, and what follows joins it."""
    first, last = int(run[0]), int(run[-1])
    before = local[first] - local[first - 1] if first else np.inf
    after = local[last + 1] - local[last] if last + 1 < local.size else np.inf
    near = max(usual, 0.5 * length)
    return bool(not 0 <= before <= near and 0 <= after <= near)
