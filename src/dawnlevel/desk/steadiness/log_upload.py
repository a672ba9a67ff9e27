"""Use case: a probe's log sent by the browser: how it is read, what it would bring, and bringing it in."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from dawnlevel.desk.steadiness.logfile import LogFile
from dawnlevel.desk.steadiness.probing import (
    ProbeFileView,
    file_view,
    import_probe_log,
    moment_of,
    read_probe_file,
)
from dawnlevel.errors import BadInputError
from dawnlevel.store import Store
from dawnlevel.store.packing import rounded
from dawnlevel.tank import Tank
from dawnlevel.tank.samples import Samples

_SHOWN = 3


@dataclass(frozen=True, slots=True)
class ReadAs:
    """How a keeper wants a file read: columns by name or number, `{"ph": "probe 1"}`, the clock's zone.

    An empty zone is the tank's.
    """

    named: Mapping[str, str]
    zone: str = ""


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
        read: how it was read.
        columns: what was taken from which column.
        sample: its first readings.
        first: its first moment, in the tank's zone.
        last: its last moment.
        new: readings of minutes that are not stored yet.
        changed: readings of minutes that are stored with other values.
        same: readings that are stored already.
    """

    read: ProbeFileView
    columns: tuple[tuple[str, str], ...]
    sample: tuple[ShownReading, ...]
    first: datetime
    last: datetime
    new: int
    changed: int
    same: int


def log_preview(
    store: Store, tank: Tank, content: bytes, file: str, now: datetime, read_as: ReadAs
) -> LogPreview:
    """What a file would bring to the tank; nothing is stored.

    Raises BadLinesError with every line that cannot be taken, BadInputError for a column or a zone that is
    not there; `file` names it in messages.
    """
    log, zone = _read(tank, content, file, now, read_as)
    samples, own = log.samples, ZoneInfo(tank.timezone)
    first, last = (moment_of(int(samples.minute_utc[place])).astimezone(own) for place in (0, -1))
    shown = tuple(
        ShownReading(
            moment_of(int(minute)).astimezone(own), float(ph), None if np.isnan(temp_c) else float(temp_c)
        )
        for minute, ph, temp_c in zip(
            samples.minute_utc[:_SHOWN], samples.ph[:_SHOWN], samples.temp_c[:_SHOWN], strict=True
        )
    )
    told_apart = _told_apart(samples, store.samples(tank.name, first, last))
    return LogPreview(file_view(log, file, zone), tuple(log.columns.items()), shown, first, last, *told_apart)


def take_log(store: Store, tank: Tank, content: bytes, file: str, now: datetime, read_as: ReadAs) -> int:
    """Bring a file in, all or nothing; how many readings it brought. Errors as for `log_preview`."""
    log, zone = _read(tank, content, file, now, read_as)
    added = import_probe_log(store, tank.name, log, file, zone)
    return added.new + added.changed


def _read(tank: Tank, content: bytes, file: str, now: datetime, read_as: ReadAs) -> tuple[LogFile, ZoneInfo]:
    """The log, and the zone of its local times."""
    try:
        zone = ZoneInfo(read_as.zone or tank.timezone)
    except (OSError, ValueError, KeyError) as error:
        raise BadInputError(
            f"{read_as.zone!r} is no time zone.",
            where=file,
            cure="Give a name such as Europe/Madrid, or UTC.",
        ) from error
    return read_probe_file(content, file, zone, now, read_as.named), zone


def _told_apart(samples: Samples, stored: Samples) -> tuple[int, int, int]:
    """How many readings are of new minutes, of stored ones with other values, and the same as stored."""
    given, there = rounded(samples), rounded(stored)
    place = np.searchsorted(there[0], given[0])
    known = place < there.shape[1]
    known[known] = there[0, place[known]] == given[0, known]
    same = np.zeros_like(known)
    same[known] = (there[1:, place[known]] == given[1:, known]).all(axis=0)
    return int((~known).sum()), int((known & ~same).sum()), int(same.sum())
