"""The statements: each takes an open connection, none opens or commits anything."""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, Select, and_, func, insert, select, update

from dawnlevel.errors import BadInputError, NoSuchTankError
from dawnlevel.store.batches import SampleBatch, Thinning
from dawnlevel.store.bulk import RecordRow, insert_rows, reserve_ids
from dawnlevel.store.codec import (
    kind_of,
    record_payload,
    records_from_payloads,
    tank_from_json,
    tank_to_json,
)
from dawnlevel.store.schema import VOID, from_us, records, tank_versions, tanks, to_us
from dawnlevel.tank import Record, Tank


@dataclass(frozen=True, slots=True)
class StoredRecord:
    """A record that stands: its number, itself, when it was written down, which record it corrects."""

    id: int
    record: Record
    recorded_at: datetime
    supersedes: int | None = None


@dataclass(frozen=True, slots=True)
class HistoryEntry:
    """Anything ever written down for a tank; without `record` it withdraws `supersedes`, for `reason`."""

    id: int
    record: Record | None
    recorded_at: datetime
    supersedes: int | None
    superseded_by: int | None
    reason: str = ""

    @property
    def stands(self) -> bool:
        """Whether the science sees this entry."""
        return self.record is not None and self.superseded_by is None


@dataclass(frozen=True, slots=True)
class TankVersion:
    """One description of a tank, valid from a moment, written down at another; both UTC."""

    tank: Tank
    valid_from: datetime
    recorded_at: datetime


@dataclass(frozen=True, slots=True)
class TankArchive:
    """A tank's whole past: descriptions, entries, probe log; `superseded_by` is not looked at."""

    name: str
    versions: Sequence[TankVersion]
    entries: Sequence[HistoryEntry]
    batches: Sequence[SampleBatch] = ()
    thinnings: Sequence[Thinning] = ()


_later = records.alias("later")
_HISTORY: Select[Any] = (  # the first six columns in this order: _stored counts on it
    select(
        records.c.id,
        records.c.kind,
        records.c.at_us,
        records.c.payload,
        records.c.recorded_at_us,
        records.c.supersedes,
        _later.c.id.label("superseded_by"),
    )
    .join_from(records, _later, _later.c.supersedes == records.c.id, isouter=True)
    .order_by(records.c.at_us, records.c.id)
)
_STANDING = _HISTORY.where(and_(_later.c.id.is_(None), records.c.kind != VOID))


def tank_names(connection: Connection) -> list[str]:
    """The names of all tanks, in the order in which they were described."""
    return list(connection.scalars(select(tanks.c.name).order_by(tanks.c.id)))


def tank_id(connection: Connection, name: str) -> int:
    """The row of the tank `name`; NoSuchTankError where there is none."""
    found = connection.scalar(select(tanks.c.id).where(tanks.c.name == name))
    if found is None:
        raise NoSuchTankError(name, tank_names(connection))
    return int(found)


def insert_tank(connection: Connection, name: str) -> int:
    """A new tank's row; the driver's IntegrityError where the name is taken."""
    return int(connection.scalar(insert(tanks).returning(tanks.c.id), {"name": name}))


def rename_tank(connection: Connection, tank_row: int, name: str) -> None:
    """Give a tank's row another name; the driver's IntegrityError where it is taken."""
    connection.execute(update(tanks).where(tanks.c.id == tank_row), {"name": name})


def insert_version(connection: Connection, tank_row: int, version: TankVersion) -> None:
    """One more description of a tank."""
    connection.execute(
        insert(tank_versions),
        {
            "tank_id": tank_row,
            "valid_from_us": to_us(version.valid_from),
            "recorded_at_us": to_us(version.recorded_at),
            "description": tank_to_json(version.tank),
        },
    )


def latest_tank(connection: Connection, name: str) -> Tank:
    """The description written down last."""
    query = (
        select(tank_versions.c.description)
        .where(tank_versions.c.tank_id == tank_id(connection, name))
        .order_by(tank_versions.c.recorded_at_us.desc(), tank_versions.c.id.desc())
        .limit(1)
    )
    return tank_from_json(connection.execute(query).scalar_one(), f"tank {name}")


def described_at(connection: Connection, name: str) -> datetime:
    """The moment (UTC) from which the tank has a description."""
    query = select(func.min(tank_versions.c.valid_from_us)).where(
        tank_versions.c.tank_id == tank_id(connection, name)
    )
    return from_us(connection.scalar(query) or 0)


def versions(connection: Connection, name: str) -> list[TankVersion]:
    """Every description of the tank, in the order in which they were written down."""
    query = (
        select(tank_versions.c.description, tank_versions.c.valid_from_us, tank_versions.c.recorded_at_us)
        .where(tank_versions.c.tank_id == tank_id(connection, name))
        .order_by(tank_versions.c.recorded_at_us, tank_versions.c.id)
    )
    return [
        TankVersion(tank_from_json(row[0], f"tank {name}"), from_us(row[1]), from_us(row[2]))
        for row in connection.execute(query)
    ]


def insert_records(
    connection: Connection,
    tank_row: int,
    new: Sequence[Record],
    recorded_at: datetime,
    supersedes: int | None = None,
) -> list[int]:
    """Rows for new records; their ids in the order of `new`."""
    if not new:
        return []
    ids = reserve_ids(connection, len(new))
    recorded_at_us = to_us(recorded_at)
    insert_rows(
        connection,
        [
            _record_row(row_id, tank_row, record, recorded_at_us, supersedes)
            for row_id, record in zip(ids, new, strict=True)
        ],
    )
    return ids


def _record_row(
    row_id: int, tank_row: int, record: Record, recorded_at_us: int, supersedes: int | None
) -> RecordRow:
    return RecordRow(
        row_id,
        tank_row,
        kind_of(record),
        to_us(record.at),
        record_payload(record),
        recorded_at_us,
        supersedes,
    )


def insert_void(
    connection: Connection,
    tank_row: int,
    withdrawn: int,
    at_us: int,
    recorded_at: datetime,
    reason: str = "",
) -> int:
    """The row that withdraws record `withdrawn`; its id. It keeps the moment of what it withdraws."""
    (row_id,) = reserve_ids(connection, 1)
    row = _void_row(row_id, tank_row, withdrawn, at_us, to_us(recorded_at), reason)
    insert_rows(connection, [row])
    return row_id


def _void_row(
    row_id: int, tank_row: int, withdrawn: int, at_us: int, recorded_at_us: int, reason: str
) -> RecordRow:
    payload = json.dumps({"reason": reason} if reason else {}, ensure_ascii=False)
    return RecordRow(row_id, tank_row, VOID, at_us, payload, recorded_at_us, withdrawn)


@dataclass(frozen=True, slots=True)
class NewPast:
    """Entries for a tank's row; `known` names the row of each entry that is there already."""

    tank_row: int
    entries: Sequence[HistoryEntry]
    known: Mapping[int, int]

    @property
    def missing(self) -> list[HistoryEntry]:
        """The entries that are not there yet."""
        return [entry for entry in self.entries if entry.id not in self.known]


def insert_pasts(connection: Connection, pasts: Sequence[NewPast]) -> None:
    """Rows for what is missing of several tanks' pasts, under new ids in the order of the old ones.

    What superseded what is kept; an entry must come with all that it supersedes, and no two of the entries
    may have the same id.
    """
    missing = sorted(entry.id for past in pasts for entry in past.missing)
    new_ids = dict(zip(missing, reserve_ids(connection, len(missing)), strict=True))
    new = [row for past in pasts for row in _past_rows(past, {**past.known, **new_ids})]
    insert_rows(connection, sorted(new))


def _past_rows(past: NewPast, rows_of: Mapping[int, int]) -> Iterator[RecordRow]:
    moments_us = {entry.id: to_us(entry.record.at) for entry in past.entries if entry.record is not None}
    for entry in past.missing:
        row_id, recorded_at_us = rows_of[entry.id], to_us(entry.recorded_at)
        replaced = None if entry.supersedes is None else rows_of[entry.supersedes]
        if entry.record is not None:
            yield _record_row(row_id, past.tank_row, entry.record, recorded_at_us, replaced)
        elif replaced is not None and entry.supersedes is not None:
            at_us = moments_us[entry.supersedes]
            yield _void_row(row_id, past.tank_row, replaced, at_us, recorded_at_us, entry.reason)


def _stored(found: Sequence[Row[Any]]) -> list[StoredRecord]:
    unpacked = [tuple(row) for row in found]
    known = records_from_payloads([(row[0], row[1], from_us(row[2]), row[3]) for row in unpacked])
    return [
        StoredRecord(row[0], record, from_us(row[4]), row[5])
        for row, record in zip(unpacked, known, strict=True)
    ]


def standing_records(
    connection: Connection, tank_row: int, since: datetime | None, until: datetime | None
) -> list[StoredRecord]:
    """The tank's records that stand with since <= at <= until, by time, then by id."""
    query: Select[Any] = _STANDING.where(records.c.tank_id == tank_row)
    if since is not None:
        query = query.where(records.c.at_us >= to_us(since))
    if until is not None:
        query = query.where(records.c.at_us <= to_us(until))
    return _stored(connection.execute(query).all())


def revision(connection: Connection, tank_row: int) -> int:
    """A number that grows with everything written down for the tank, descriptions too."""
    counts = [
        select(func.count()).select_from(table).where(table.c.tank_id == tank_row).scalar_subquery()
        for table in (records, tank_versions)
    ]
    return int(connection.execute(select(counts[0] + counts[1])).scalar_one())


def history(connection: Connection, tank_row: int) -> list[HistoryEntry]:
    """Everything ever written down for the tank, by time, then by id."""
    found = connection.execute(_HISTORY.where(records.c.tank_id == tank_row)).all()
    stored = {row.id: row for row in _stored([row for row in found if row.kind != VOID])}
    return [
        HistoryEntry(
            row.id,
            stored[row.id].record if row.id in stored else None,
            from_us(row.recorded_at_us),
            row.supersedes,
            row.superseded_by,
            "" if row.id in stored else str(json.loads(row.payload).get("reason", "")),
        )
        for row in found
    ]


def standing_row(connection: Connection, record_id: int) -> tuple[str, StoredRecord]:
    """The tank's name and the record `record_id`, which must stand; BadInputError says why it does not."""
    query = _HISTORY.add_columns(tanks.c.name).join(tanks, tanks.c.id == records.c.tank_id)
    row = connection.execute(query.where(records.c.id == record_id)).one_or_none()
    if row is None or row.kind == VOID:
        raise BadInputError(
            f"There is no record {record_id}.", where="store", cure="List them with: dawnlevel log"
        )
    if row.superseded_by is not None:
        kind = connection.scalar(select(records.c.kind).where(records.c.id == row.superseded_by))
        was, cure = (
            ("withdrawn", "Enter it anew if it was right after all.")
            if kind == VOID
            else (f"corrected by record {row.superseded_by}", f"Correct record {row.superseded_by} instead.")
        )
        raise BadInputError(f"Record {record_id} has been {was} already.", where="store", cure=cure)
    return row.name, _stored([row])[0]
