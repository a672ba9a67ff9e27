"""Use case: everything ever written down for a tank, by day, newest first, with what became of it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from zoneinfo import ZoneInfo

from dawnlevel.desk.exchange.longtable import write_rows
from dawnlevel.desk.saying import say
from dawnlevel.store import HistoryEntry, Store
from dawnlevel.store.codec import kind_of
from dawnlevel.tank import Record

SHELF_KINDS = frozenset({"cylinder", "weight", "gauge", "buffers", "solution"})
"""Kinds of record about cylinder, buffers and solutions: told as a line of the table that is exported."""


@dataclass(frozen=True, slots=True)
class DiaryLine:
    """One thing written down.

    Attributes:
        id: its number.
        kind: its machine name.
        at: when it was seen or done, in the tank's zone.
        said: what, in words; `note` is the keeper's own remark.
        stands: whether it counts.
        fate: what became of it or what it replaces, in words; empty where nothing did.
        replaced_by: the number of the record in its place, if there is one.
    """

    id: int
    kind: str
    at: datetime
    said: str
    note: str
    stands: bool
    fate: str
    replaced_by: int | None


@dataclass(frozen=True, slots=True)
class DiaryDay:
    """A day's lines, newest first."""

    day: date
    lines: tuple[DiaryLine, ...]


@dataclass(frozen=True, slots=True)
class DiaryPage:
    """Some days, newest first; `kinds` are all the tank has; `older` is the next day further back, if any."""

    days: tuple[DiaryDay, ...]
    kinds: tuple[str, ...]
    older: date | None


def diary(
    store: Store, tank_name: str, kind: str = "", until: date | None = None, days: int = 14
) -> DiaryPage:
    """The last `days` days on which something was written down, up to `until` (None: the latest).

    `kind` limits it to one kind of record (machine name). NoSuchTankError for an unknown name.
    """
    zone = ZoneInfo(store.tank(tank_name).timezone)
    entries = {entry.id: entry for entry in store.history(tank_name)}
    lines = [_line(entry, entries, zone) for entry in entries.values() if entry.record is not None]
    kinds = tuple(sorted({line.kind for line in lines}))
    wanted = [
        line
        for line in lines
        if (not kind or line.kind == kind) and (until is None or line.at.date() <= until)
    ]
    wanted.sort(key=lambda line: (line.at.timestamp(), line.id), reverse=True)
    found = [DiaryDay(day, tuple(group)) for day, group in groupby(wanted, key=lambda line: line.at.date())]
    return DiaryPage(tuple(found[:days]), kinds, found[days].day if len(found) > days else None)


def words_of(record: Record, zone: ZoneInfo) -> str:
    """What was seen or done, without its moment and note."""
    if kind_of(record) not in SHELF_KINDS:
        return say(record)
    row = write_rows("", record, zone)[0]
    return " ".join(cell for cell in (row.quantity, row.value, row.unit, row.method) if cell)


def _line(entry: HistoryEntry, entries: Mapping[int, HistoryEntry], zone: ZoneInfo) -> DiaryLine:
    record = entry.record
    if record is None:
        raise TypeError(entry)  # withdrawals are told with what they withdraw
    later = None if entry.superseded_by is None else entries[entry.superseded_by]
    is_corrected = later is not None and later.record is not None
    return DiaryLine(
        id=entry.id,
        kind=kind_of(record),
        at=record.at.astimezone(zone),
        said=words_of(record, zone),
        note=record.note,
        stands=entry.stands,
        fate=_fate(entry, later, zone),
        replaced_by=later.id if later is not None and is_corrected else None,
    )


def _fate(entry: HistoryEntry, later: HistoryEntry | None, zone: ZoneInfo) -> str:
    if later is None:
        return "" if entry.supersedes is None else f"in the place of record {entry.supersedes}"
    when = f"{later.recorded_at.astimezone(zone):%Y-%m-%d %H:%M}"
    if later.record is not None:
        return f"corrected {when}: {words_of(later.record, zone)}"
    return f"withdrawn {when}{f': {later.reason}' if later.reason else ''}"
