"""A probe's log on its way in: separators, columns and times found out, bad lines told together."""

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from dawnlevel.errors import BadLine, BadLinesError
from dawnlevel.units import fahrenheit_to_celsius

Floats = npt.NDArray[np.float64]

PH_SHOWN = (3.0, 11.0)
"""A probe in tank water shows no other pH; outside it is lifted, dry or unplugged (judgement)."""

_TIMES = ("time", "timestamp", "datetime", "date_time", "date", "zeit", "datum", "when")
_EMPTY = {"", "nan", "na", "n/a", "null", "none", "-", "--"}


@dataclass(frozen=True, slots=True)
class ProbeLog:
    """A log in order of time: wall-clock hours since midnight of `day_0` [h], pH, temperature [degC] or NaN.

    `first`, `last`: moments of both ends; `columns`: which column was taken as what; `left_out`: readings
    without a pH or with one no tank shows; `doubled`: readings of a minute that was there already.
    """

    day_0: datetime
    hours: Floats
    ph: Floats
    temp_c: Floats
    columns: dict[str, str]
    left_out: int
    doubled: int


@dataclass(frozen=True, slots=True)
class _Shape:
    """How a file is written: which column is what, whether commas are decimal, how dates are ordered."""

    time: int
    clock: int | None
    ph: int
    temp: int | None
    is_fahrenheit: bool
    is_comma: bool
    columns: dict[str, str]


def read_log(content: bytes, file: str, zone: ZoneInfo) -> ProbeLog:
    """A CSV of times, pH and perhaps temperature; times without offset are wall-clock times of `zone`.

    Raises BadLinesError with every line that cannot be taken; `file` names it in messages.
    """
    lines = _decoded(content, file).splitlines()
    delimiter = _delimiter(lines)
    rows = list(csv.reader(lines, delimiter=delimiter))
    if len(rows) < 2:
        raise BadLinesError(file, [BadLine(1, "The log holds no readings.", "Export it again.")], len(rows))
    shape, first = _shape(rows, delimiter, file)
    bad: list[BadLine] = []
    left_out = 0
    moments, readings = [], []
    day_first = _is_day_first(rows[first:], shape)
    for number, cells in enumerate(rows[first:], start=first + 1):
        if not any(cell.strip() for cell in cells):
            continue
        try:
            moment, ph, temp = _read_row(cells, shape, zone, day_first=day_first)
        except ValueError as error:
            bad.append(BadLine(number, str(error), "Mend the line or take it out."))
            continue
        if not PH_SHOWN[0] <= ph <= PH_SHOWN[1]:
            left_out += 1
            continue
        moments.append(moment)
        readings.append((ph, temp))
    if bad:
        raise BadLinesError(file, bad, len(rows) - first)
    if not moments:
        problem = BadLine(1, "No line holds a pH between 3 and 11.", "Check which column is the pH.")
        raise BadLinesError(file, [problem], len(rows) - first)
    return _ordered(moments, readings, shape, left_out)


def _ordered(
    moments: list[datetime], readings: list[tuple[float, float]], shape: _Shape, left_out: int
) -> ProbeLog:
    """Sorted by the wall clock, each minute once (the last reading given counts)."""
    day_0 = min(moments).replace(hour=0, minute=0, second=0, microsecond=0)
    hours = np.array([(one - day_0).total_seconds() for one in moments]) / 3600.0
    order = np.argsort(hours, kind="stable")
    hours, values = hours[order], np.array(readings)[order]
    minute = np.floor(hours * 60.0 + 1e-6).astype(np.int64)
    last = np.append(minute[1:] != minute[:-1], True)
    return ProbeLog(
        day_0, hours[last], values[last, 0], values[last, 1], shape.columns, left_out, int((~last).sum())
    )


def _decoded(content: bytes, file: str) -> str:
    for encoding in ("utf-8-sig", "utf-16" if content[:2] in {b"\xff\xfe", b"\xfe\xff"} else "cp1252"):
        try:
            return content.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise BadLinesError(file, [BadLine(1, "The file is no text.", "Save it as CSV in UTF-8.")], 1)


def _delimiter(lines: Sequence[str]) -> str:
    """The separator that the first lines agree on."""
    sample = [line for line in lines[:20] if line.strip()]
    for mark in (";", "\t", "|", ","):
        counts = {line.count(mark) for line in sample}
        if counts and min(counts) >= 1:
            return mark
    return ","


def _shape(rows: list[list[str]], delimiter: str, file: str) -> tuple[_Shape, int]:
    """Which column is what, by name or, without names, by order; and the first line with readings."""
    names = [cell.strip().lower() for cell in rows[0]]
    is_comma = delimiter != "," and any("," in cell for row in rows[1:20] for cell in row)
    if any(name and name[0].isalpha() and name not in _EMPTY for name in names):
        time = next((i for i, name in enumerate(names) if name.startswith(_TIMES)), None)
        ph = next((i for i, name in enumerate(names) if name.replace("_", " ").split()[:1] == ["ph"]), None)
        ph = ph if ph is not None else next((i for i, name in enumerate(names) if "ph" in name), None)
        temp = next((i for i, name in enumerate(names) if "temp" in name), None)
        if time is None or ph is None:
            missing = "time" if time is None else "pH"
            problem = f"No column is called after the {missing} (columns: {', '.join(rows[0])})."
            raise BadLinesError(file, [BadLine(1, problem, "Call the columns time, ph, temp_c.")], len(rows))
        clock = time + 1 if names[time] == "date" and names[time + 1 : time + 2] == ["time"] else None
        first = 1
    else:
        time, ph, temp, clock, first = 0, 1, 2 if len(names) > 2 else None, None, 0
        names = ["first column", "second column", "third column"]
    warm = "" if temp is None else names[temp]
    columns = {"time": names[time], "ph": names[ph]} | ({} if temp is None else {"temp": warm})
    is_fahrenheit = warm.endswith(("_f", "(f)", "°f", "[f]"))
    return _Shape(time, clock, ph, temp, is_fahrenheit, is_comma, columns), first


def _is_day_first(rows: list[list[str]], shape: _Shape) -> bool | None:
    """Whether dates with slashes put the day first; None where no date tells."""
    for row in rows:
        cell = row[shape.time] if shape.time < len(row) else ""
        parts = cell.split()[0].split("/") if cell.strip() else []
        if len(parts) == 3 and parts[0].isdigit() and parts[1].isdigit():
            if int(parts[0]) > 12:
                return True
            if int(parts[1]) > 12:
                return False
    return None


def _read_row(
    cells: list[str], shape: _Shape, zone: ZoneInfo, *, day_first: bool | None
) -> tuple[datetime, float, float]:
    """Wall-clock time, pH (NaN where empty), temperature (NaN where empty); ValueError in plain words."""
    wanted = max(shape.time, shape.ph)
    if len(cells) <= wanted:
        raise ValueError(f"It has {len(cells)} cells; the pH stands in cell {shape.ph + 1}.")
    text = cells[shape.time].strip()
    if shape.clock is not None:
        text = f"{text} {cells[shape.clock].strip()}"
    moment = _moment(text, zone, day_first=day_first)
    ph = _number(cells[shape.ph], "pH", is_comma=shape.is_comma)
    temp = float("nan")
    if shape.temp is not None and shape.temp < len(cells):
        temp = _number(cells[shape.temp], "temperature", is_comma=shape.is_comma)
        temp = float(fahrenheit_to_celsius(temp)) if shape.is_fahrenheit else temp
    return moment, ph, temp


def _number(cell: str, name: str, *, is_comma: bool) -> float:
    text = cell.strip()
    if text.lower() in _EMPTY:
        return float("nan")
    try:
        return float(text.replace(",", ".") if is_comma else text)
    except ValueError as error:
        raise ValueError(f"{text!r} is no {name}.") from error


def _moment(text: str, zone: ZoneInfo, *, day_first: bool | None) -> datetime:
    """Wall-clock time of `zone` without zone: an instant is converted, a local time taken as it stands."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        if "/" in text and day_first is None:
            said = f"{text!r} may be day first or month first; no date of the file tells which."
            raise ValueError(said) from None
        moment = _other_moment(text, day_first=day_first is not False)
    if moment.tzinfo is not None:
        moment = moment.astimezone(zone).replace(tzinfo=None)
    return moment


def _other_moment(text: str, *, day_first: bool) -> datetime:
    """Seconds since 1970, 31.12.2026 23:59, or 12/31/2026 23:59 where the file tells day from month."""
    try:
        if text.replace(".", "", 1).isdigit() and float(text) > 1e8:
            seconds = float(text)
            return datetime.fromtimestamp(seconds / 1000.0 if seconds > 1e11 else seconds, UTC)
        mark = "/" if "/" in text else "."
        date = "%d.%m.%Y" if mark == "." else "%d/%m/%Y" if day_first else "%m/%d/%Y"
        clock = "%H:%M:%S" if text.count(":") > 1 else "%H:%M"
        return datetime.strptime(text, f"{date} {clock}")  # noqa: DTZ007 - a time on the wall has no zone yet
    except (OverflowError, OSError, ValueError) as error:
        raise ValueError(f"{text!r} is no time.") from error
