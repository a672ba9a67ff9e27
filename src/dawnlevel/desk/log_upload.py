"""Use case: a probe's log on its way into the store: what it would bring, and bringing it in."""

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from dawnlevel.desk.logfile import ProbeLog, read_log
from dawnlevel.desk.records import check_not_future
from dawnlevel.store import Store
from dawnlevel.store.packing import rounded
from dawnlevel.tank import Tank
from dawnlevel.tank.clock import wall_clock
from dawnlevel.tank.samples import Samples

_SHOWN = 3


@dataclass(frozen=True, slots=True)
class ShownReading:
    """One reading as it was read: when (the tank's zone), pH, temperature [degC]."""

    at: datetime
    ph: float
    temp_c: float | None


@dataclass(frozen=True, slots=True)
class LogPreview:
    """What a file would bring.

    Attributes:
        file: its name.
        columns: what was taken from which column.
        sample: its first readings.
        first: its first moment, in the tank's zone.
        last: its last moment.
        new: readings of minutes that are not stored yet.
        changed: readings of minutes that are stored with other values.
        same: readings that are stored already.
        doubled: readings of a minute that stands in the file twice.
        left_out: readings without a pH that a tank shows.
    """

    file: str
    columns: tuple[tuple[str, str], ...]
    sample: tuple[ShownReading, ...]
    first: datetime
    last: datetime
    new: int
    changed: int
    same: int
    doubled: int
    left_out: int


def log_preview(store: Store, tank: Tank, content: bytes, file: str, now: datetime) -> LogPreview:
    """What a file would bring to the tank; nothing is stored.

    Raises BadLinesError with every line that cannot be taken; `file` names it there.
    """
    probe, samples, zone = _read(tank, content, file, now)
    first, last = _moment(int(samples.minute_utc[0]), zone), _moment(int(samples.minute_utc[-1]), zone)
    new, changed, same = _told_apart(samples, store.samples(tank.name, first, last))
    shown = tuple(
        ShownReading(_moment(int(minute), zone), float(ph), None if np.isnan(temp_c) else float(temp_c))
        for minute, ph, temp_c in zip(
            samples.minute_utc[:_SHOWN], samples.ph[:_SHOWN], samples.temp_c[:_SHOWN], strict=True
        )
    )
    return LogPreview(
        file,
        tuple(probe.columns.items()),
        shown,
        first,
        last,
        new,
        changed,
        same,
        probe.doubled,
        probe.left_out,
    )


def take_log(store: Store, tank: Tank, content: bytes, file: str, now: datetime) -> int:
    """Bring a file in, all or nothing; how many readings it brought. Errors as for `log_preview`."""
    _, samples, _ = _read(tank, content, file, now)
    added = store.add_samples(tank.name, samples, file)
    return added.new + added.changed


def _read(tank: Tank, content: bytes, file: str, now: datetime) -> tuple[ProbeLog, Samples, ZoneInfo]:
    """The log, its readings by the minute, and the tank's zone; BadInputError for a log from the future."""
    zone = ZoneInfo(tank.timezone)
    probe = read_log(content, file, zone)
    samples = _samples(probe, zone)
    check_not_future(_moment(int(samples.minute_utc[-1]), zone), now, zone, file)
    return probe, samples, zone


def _samples(probe: ProbeLog, zone: ZoneInfo) -> Samples:
    """A log on the wall clock as minutes since 1970 UTC; offsets are looked up once an hour of the wall."""
    minutes = np.floor(probe.hours * 60.0 + 1e-6).astype(np.int64)
    hours, place = np.unique(minutes // 60, return_inverse=True)
    begins = np.array(
        [int(wall_clock(probe.day_0.date(), float(hour), zone).timestamp()) // 60 for hour in hours.tolist()],
        dtype=np.int64,
    )
    return Samples.gathered(begins[place] + minutes % 60, probe.ph, probe.temp_c)


def _told_apart(samples: Samples, stored: Samples) -> tuple[int, int, int]:
    """How many readings are of new minutes, of stored ones with other values, and the same as stored."""
    given, there = rounded(samples), rounded(stored)
    place = np.searchsorted(there[0], given[0])
    known = place < there.shape[1]
    known[known] = there[0, place[known]] == given[0, known]
    same = np.zeros_like(known)
    same[known] = (there[1:, place[known]] == given[1:, known]).all(axis=0)
    return int((~known).sum()), int((known & ~same).sum()), int(same.sum())


def _moment(minute: int, zone: ZoneInfo) -> datetime:
    return datetime.fromtimestamp(60.0 * minute, zone)
