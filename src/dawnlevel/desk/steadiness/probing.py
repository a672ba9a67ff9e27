"""Use cases of keeping a probe's log: how a file was read, bringing it in, what is stored, taking it back."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import PurePath
from zoneinfo import ZoneInfo

import numpy as np

from dawnlevel.desk.records import FUTURE_TOLERANCE
from dawnlevel.desk.steadiness.logfile import Floats, LogFile, Progress, read_log_file
from dawnlevel.desk.steadiness.logtime import EPOCH
from dawnlevel.errors import BadInputError
from dawnlevel.store import Store

SOURCE_LIMIT = 200  # characters; a name, not a story (common practice, no source)


@dataclass(frozen=True, slots=True)
class ProbeFileView:
    """How a probe's log was read.

    Attributes:
        file: its name.
        timezone: the zone of its local times.
        columns: which column was taken as what.
        readings: how many minutes have one.
        first, last: moments of both ends; null without readings.
        ph_low, ph_median, ph_high: lowest, middle and highest pH.
        temp_low_c, temp_high_c: lowest and highest temperature; null where there is none.
        left_out: readings without a pH, or with one that no tank shows.
        doubled: readings of a minute that was there already; the last one counts.
    """

    file: str
    timezone: str
    columns: tuple[str, ...]
    readings: int
    first: datetime
    last: datetime
    ph_low: float
    ph_median: float
    ph_high: float
    temp_low_c: float | None
    temp_high_c: float | None
    left_out: int
    doubled: int


@dataclass(frozen=True, slots=True)
class ProbeImportView:
    """What bringing in a probe's log did.

    Attributes:
        tank: the tank's name.
        read: how the file was read.
        new: minutes that were not there.
        changed: minutes that were there with other values; what came in now counts.
        same: minutes that were there already.
        covered: minutes of a time that was thinned and has its readings.
    """

    tank: str
    read: ProbeFileView
    new: int
    changed: int
    same: int
    covered: int


@dataclass(frozen=True, slots=True)
class ProbePartView:
    """Readings that were brought in together.

    Attributes:
        id: its number, for taking it back.
        source: where they came from.
        recorded_at: when they were brought in.
        first, last: moments of both ends.
        readings: how many there are.
        step_min: how many minutes a reading stands for.
    """

    id: int
    source: str
    recorded_at: datetime
    first: datetime
    last: datetime
    readings: int
    step_min: int


@dataclass(frozen=True, slots=True)
class ProbeThinningView:
    """A thinning that was done.

    Attributes:
        recorded_at: when.
        before: readings earlier than this were thinned.
        step_min: to one for so many minutes.
        readings_before, readings_after: how many there were, and were left.
    """

    recorded_at: datetime
    before: datetime
    step_min: int
    readings_before: int
    readings_after: int


@dataclass(frozen=True, slots=True)
class ProbeListView:
    """What is stored of a tank's probe.

    Attributes:
        tank: the tank's name.
        timezone: IANA name of its time zone.
        readings: how many minutes count.
        parts: what was brought in together.
        thinnings: what was thinned.
    """

    tank: str
    timezone: str
    readings: int
    parts: tuple[ProbePartView, ...]
    thinnings: tuple[ProbeThinningView, ...]


def read_probe_file(
    content: bytes,
    file: str,
    zone: ZoneInfo,
    now: datetime,
    named: Mapping[str, str] | None = None,
    progress: Progress | None = None,
) -> LogFile:
    """The readings of a probe's log; local times are those of `zone`, none may be still to come.

    Raises BadLinesError with every line that cannot be taken, BadInputError for a column that is not there.
    """
    latest = now + FUTURE_TOLERANCE
    return read_log_file(content, file, zone, named=named, latest=latest, progress=progress)


def file_view(log: LogFile, file: str, zone: ZoneInfo) -> ProbeFileView:
    """How it was read, for a person to look at before it is brought in."""
    samples = log.samples
    low, high = _ends(samples.temp_c)
    return ProbeFileView(
        file, zone.key, tuple(f"{what}: {name}" for what, name in log.columns.items()), len(samples),
        moment_of(int(samples.minute_utc[0])), moment_of(int(samples.minute_utc[-1])),
        float(samples.ph.min()), float(np.median(samples.ph)), float(samples.ph.max()), low, high,
        log.left_out, log.doubled,
    )  # fmt: skip


def _ends(values: Floats) -> tuple[float | None, float | None]:
    known = values[~np.isnan(values)]
    return (float(known.min()), float(known.max())) if known.size else (None, None)


def moment_of(minute_utc: int) -> datetime:
    """The moment (UTC) at which a minute since 1970-01-01T00:00Z begins."""
    return EPOCH + timedelta(minutes=minute_utc)


def import_probe_log(store: Store, name: str, log: LogFile, file: str, zone: ZoneInfo) -> ProbeImportView:
    """Bring in what is new of a log, all or nothing; what it did."""
    added = store.add_samples(name, log.samples, source_name(file))
    view = file_view(log, file, zone)
    return ProbeImportView(name, view, added.new, added.changed, added.same, added.covered)


def source_name(file: str) -> str:
    """The name under which readings of a file are kept: its own, without folders."""
    name = "".join(letter for letter in PurePath(file).name if letter.isprintable())
    return name[:SOURCE_LIMIT] or "probe"


def list_probe(store: Store, name: str) -> ProbeListView:
    """What is stored of the tank's probe."""
    parts = tuple(
        ProbePartView(
            one.id, one.source, one.recorded_at, moment_of(one.first_minute), moment_of(one.last_minute),
            one.readings, one.step_min,
        )
        for one in store.sample_imports(name)
    )  # fmt: skip
    thinnings = tuple(
        ProbeThinningView(
            one.recorded_at,
            moment_of(one.before_minute),
            one.step_min,
            one.readings_before,
            one.readings_after,
        )
        for one in store.thinnings(name)
    )
    return ProbeListView(name, store.tank(name).timezone, len(store.samples(name)), parts, thinnings)


def withdraw_probe(store: Store, name: str, part_id: int) -> int:
    """Take back what was brought in together, by its number in the tank's list; how many readings."""
    if part_id not in {one.id for one in store.sample_imports(name)}:
        raise BadInputError(
            f"There is no part {part_id} of a probe's log.",
            where=name,
            cure="List them with: dawnlevel probe list",
        )
    return store.withdraw_samples(part_id)
