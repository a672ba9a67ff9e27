"""A probe's log on its way in: separators, columns and times found out, bad lines told together."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from dawnlevel.desk.steadiness.logshape import EMPTY, Shape, decoded, shape_of, table_of
from dawnlevel.desk.steadiness.logtime import EPOCH, TimeReader, is_day_first, utc_minutes, wall_minutes
from dawnlevel.errors import BadLine, BadLinesError
from dawnlevel.tank.samples import TEMP_MEASURED_C, Samples
from dawnlevel.units import fahrenheit_to_celsius

Floats = npt.NDArray[np.float64]
Progress = Callable[[int, int], None]
"""Told how many of how many lines are read."""

PH_SHOWN = (3.0, 11.0)
"""A probe in tank water shows no other pH; outside it is lifted, dry or unplugged (judgement)."""

_EVERY = 20_000
_MEND = "Mend the line or take it out."


@dataclass(frozen=True, slots=True)
class ProbeLog:
    """A log in order of time: wall-clock hours since midnight of `day_0` [h], pH, temperature [degC] or NaN.

    `columns`: which column was taken as what; `left_out`: readings without a pH or with one no tank shows;
    `doubled`: readings of a minute that was there already.
    """

    day_0: datetime
    hours: Floats
    ph: Floats
    temp_c: Floats
    columns: dict[str, str]
    left_out: int
    doubled: int


@dataclass(frozen=True, slots=True)
class LogFile:
    """What a file holds: its readings, which column was taken as what, its `lines`, what did not count.

    `left_out`: readings without a pH or with one no tank shows; `doubled`: of a minute that was there.
    `day_first`: whether dates with slashes put the day first, where the file tells; `bad`: lines left out.
    """

    samples: Samples
    columns: dict[str, str]
    lines: int
    left_out: int
    doubled: int
    day_first: bool | None = None
    bad: tuple[BadLine, ...] = ()


def read_log(content: bytes, file: str, zone: ZoneInfo, of_clock: ZoneInfo | None = None) -> ProbeLog:
    """A CSV of times, pH and perhaps temperature, on the wall clock of `zone`.

    Times without offset are those of a clock on the wall of `of_clock`, by default `zone`. Raises
    BadLinesError with every line that cannot be taken, local times that never were among them; `file` names
    it in messages.
    """
    log = read_log_file(content, file, of_clock or zone)
    return replace(
        probe_log(log.samples, zone), columns=log.columns, left_out=log.left_out, doubled=log.doubled
    )


def probe_log(samples: Samples, zone: ZoneInfo) -> ProbeLog:
    """Readings, one at least, on the wall clock of `zone`."""
    wall = wall_minutes(samples.minute_utc, zone)
    first = int(wall.min()) // 1440 * 1440
    day_0 = (EPOCH + timedelta(minutes=first)).replace(tzinfo=None)
    return ProbeLog(day_0, (wall - first) / 60.0, samples.ph, samples.temp_c, {}, 0, 0)


def read_log_file(
    content: bytes,
    file: str,
    zone: ZoneInfo,
    *,
    named: Mapping[str, str] | None = None,
    latest: datetime | None = None,
    progress: Progress | None = None,
) -> LogFile:
    """The readings of a CSV; times without offset are those of a clock on the wall of `zone`.

    `named`: columns by hand, `{"ph": "probe 1"}`; `latest`: no reading may be later (aware). Raises
    BadLinesError with every line that cannot be taken, a local time that the clocks skipped among them,
    BadInputError for a column that is not there.
    """
    log = read_lines(content, file, zone, named=named, latest=latest, progress=progress)
    if log.bad:
        raise BadLinesError(file, log.bad, log.lines)
    if not len(log.samples):
        problem = BadLine(1, "No line holds a pH between 3 and 11.", "Check which column is the pH.")
        raise BadLinesError(file, [problem], log.lines)
    return log


def read_lines(
    content: bytes,
    file: str,
    zone: ZoneInfo,
    *,
    named: Mapping[str, str] | None = None,
    latest: datetime | None = None,
    progress: Progress | None = None,
    day_first: bool | None = None,
) -> LogFile:
    """The same, with the lines that cannot be taken beside the readings of all others.

    `day_first`: how dates with slashes are read where the lines themselves do not tell.
    """
    rows = table_of(decoded(content, file))
    if len(rows) < 2:
        raise BadLinesError(file, [BadLine(1, "The log holds no readings.", "Export it again.")], len(rows))
    shape = shape_of(rows, named or {}, file)
    told = is_day_first([row[shape.time] for row in rows[shape.first :] if shape.time < len(row)])
    day_first = day_first if told is None else told
    taken = _take(rows, shape, TimeReader(day_first=day_first), progress)
    minutes, bad = _placed(taken, zone, latest)
    unfit = {one.line for one in bad}
    good = np.array([line not in unfit for line in taken.lines], dtype=bool)
    samples = Samples.gathered(minutes[good], np.array(taken.ph)[good], np.array(taken.temp_c)[good])
    return LogFile(
        samples, shape.columns, len(rows) - shape.first, taken.left_out, int(good.sum()) - len(samples),
        day_first, tuple(sorted(bad, key=lambda one: one.line)),
    )  # fmt: skip


@dataclass(slots=True)
class _Taken:
    """What was read so far: of each reading its line, minutes since 1970, whether they are UTC, pH, degC."""

    lines: list[int] = field(default_factory=list)
    minutes: list[int] = field(default_factory=list)
    is_utc: list[bool] = field(default_factory=list)
    ph: list[float] = field(default_factory=list)
    temp_c: list[float] = field(default_factory=list)
    left_out: int = 0
    bad: list[BadLine] = field(default_factory=list)


def _take(
    rows: Sequence[Sequence[str]], shape: Shape, times: TimeReader, progress: Progress | None
) -> _Taken:
    taken = _Taken()
    read = _RowReader(shape, times)
    for number in range(shape.first, len(rows)):
        row = rows[number]
        try:
            read.into(taken, number + 1, row)
        except ValueError as error:
            if any(cell.strip() for cell in row):
                taken.bad.append(BadLine(number + 1, str(error), _MEND))
        if progress is not None and number % _EVERY == 0:
            progress(number, len(rows))
    if progress is not None:
        progress(len(rows), len(rows))
    return taken


class _RowReader:
    """Reads a line's cells by the shape of the file."""

    def __init__(self, shape: Shape, times: TimeReader) -> None:
        self._shape = shape
        self._times = times
        self._needed = max(shape.time, shape.ph, shape.clock or 0)

    def into(self, taken: _Taken, line: int, cells: Sequence[str]) -> None:
        """Add the reading of a line, or count it as left out; ValueError in plain words."""
        shape = self._shape
        if len(cells) <= self._needed:
            raise ValueError(f"It has {len(cells)} cells; the pH stands in cell {shape.ph + 1}.")
        text = cells[shape.time].strip()
        if shape.clock is not None:
            text = f"{text} {cells[shape.clock].strip()}"
        minute, is_utc = self._times.read(text)
        ph = _number(cells[shape.ph], "pH", is_comma=shape.is_comma)
        temp = self._temp(cells)
        if not PH_SHOWN[0] <= ph <= PH_SHOWN[1]:
            taken.left_out += 1
            return
        taken.lines.append(line)
        taken.minutes.append(minute)
        taken.is_utc.append(is_utc)
        taken.ph.append(ph)
        taken.temp_c.append(temp)

    def _temp(self, cells: Sequence[str]) -> float:
        """The temperature [degC]; NaN where there is none, or one that no thermometer in a tank shows."""
        place = self._shape.temp
        if place is None or place >= len(cells):
            return float("nan")
        temp = _number(cells[place], "temperature", is_comma=self._shape.is_comma)
        if self._shape.is_fahrenheit:
            temp = float(fahrenheit_to_celsius(temp))
        return temp if TEMP_MEASURED_C[0] <= temp <= TEMP_MEASURED_C[1] else float("nan")


def _number(cell: str, name: str, *, is_comma: bool) -> float:
    try:
        return float(cell.replace(",", ".") if is_comma else cell)
    except ValueError:
        if cell.strip().lower() in EMPTY:
            return float("nan")
        raise ValueError(f"{cell.strip()!r} is no {name}.") from None


def _placed(
    taken: _Taken, zone: ZoneInfo, latest: datetime | None
) -> tuple[npt.NDArray[np.int64], list[BadLine]]:
    """Minutes UTC of the readings, in the file's order; every bad line, those that never were included."""
    minutes = np.array(taken.minutes, dtype=np.int64)
    is_local = ~np.array(taken.is_utc, dtype=bool)
    bad = list(taken.bad)
    if is_local.any():
        wall = minutes[is_local]
        minutes[is_local], skipped = utc_minutes(wall, zone)
        lines = np.array(taken.lines)[is_local]
        bad += [_skipped(int(lines[i]), int(wall[i]), zone) for i in np.flatnonzero(skipped)]
    if latest is not None:
        too_late = np.flatnonzero(minutes > (latest - EPOCH) // timedelta(minutes=1))
        bad += [_to_come(taken.lines[i], int(minutes[i]), zone) for i in too_late]
    return minutes, bad


def _skipped(line: int, wall: int, zone: ZoneInfo) -> BadLine:
    shown = EPOCH + timedelta(minutes=wall)
    problem = f"{shown:%Y-%m-%d %H:%M} never was: the clocks of {zone.key} were put forward over it."
    return BadLine(
        line, problem, "If the probe's clock does not follow them, name the zone it keeps: --zone UTC"
    )


def _to_come(line: int, minute: int, zone: ZoneInfo) -> BadLine:
    shown = (EPOCH + timedelta(minutes=minute)).astimezone(zone)
    problem = f"{shown:%Y-%m-%d %H:%M} ({zone.key}) is still to come."
    return BadLine(line, problem, "Check the date, the order of day and month, and the clock.")
