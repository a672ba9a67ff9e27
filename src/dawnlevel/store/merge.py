"""Whole pasts of tanks brought into an open transaction, without duplicates."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from sqlalchemy import Connection
from sqlalchemy.exc import IntegrityError

from dawnlevel.errors import BadLine, BadLinesError, TankExistsError
from dawnlevel.store import rows
from dawnlevel.store.merging import Merged, home_of, match, new_versions
from dawnlevel.store.rows import TankArchive, TankVersion


@dataclass(slots=True)
class _Tally:
    tanks: list[str] = field(default_factory=list)
    entries: dict[str, int] = field(default_factory=dict)
    descriptions: dict[str, int] = field(default_factory=dict)
    readings: dict[str, int] = field(default_factory=dict)
    present: int = 0
    bad: list[BadLine] = field(default_factory=list)
    pasts: list[rows.NewPast] = field(default_factory=list)


def merge_archives(connection: Connection, archives: Sequence[TankArchive], file: str) -> Merged:
    """Write what is new of these pasts; see `Store.merge`. The caller commits, or rolls back on an error."""
    here = {name: rows.versions(connection, name) for name in rows.tank_names(connection)}
    tally = _Tally()
    for archive in archives:
        _merge_tank(connection, archive, here, tally)
    if tally.bad:
        total = sum(len(archive.entries) for archive in archives)
        raise BadLinesError(file, tally.bad, total, "record")
    rows.insert_pasts(connection, tally.pasts)
    return Merged(tuple(tally.tanks), tally.entries, tally.descriptions, tally.present, tally.readings)


def _merge_tank(
    connection: Connection, archive: TankArchive, here: dict[str, list[TankVersion]], tally: _Tally
) -> None:
    name = home_of(archive, here)
    if name is None and archive.name in here:
        raise TankExistsError(archive.name, is_another=True)
    if name is None:
        row, ours, versions = rows.insert_tank(connection, archive.name), [], []
        tally.tanks.append(archive.name)
    else:
        row = rows.tank_id(connection, name)
        ours, versions = rows.history(connection, row), here[name]
    matching = match(ours, archive.entries)
    tally.bad += matching.contradictions
    if tally.bad:
        return
    fresh = new_versions(versions, archive.versions)
    for version in fresh:
        rows.insert_version(connection, row, version)
    past = rows.NewPast(row, archive.entries, matching.known)
    tally.pasts.append(past)
    held = _settle_name(connection, row, name or archive.name)
    tally.present += len(matching.known)
    if past.missing:
        tally.entries[held] = len(past.missing)
    if fresh:
        tally.descriptions[held] = len(fresh)
    if archive.batches or archive.thinnings:
        _merge_log(connection, archive, row, held, tally)


def _merge_log(connection: Connection, archive: TankArchive, row: int, held: str, tally: _Tally) -> None:
    from dawnlevel.store import sampling  # noqa: PLC0415 - most archives hold no probe log

    brought = sampling.merge(connection, row, archive.batches, archive.thinnings)
    if brought:
        tally.readings[held] = brought


def _settle_name(connection: Connection, row: int, name: str) -> str:
    """Let the tank go by the name its last description gives it; that name."""
    latest = rows.latest_tank(connection, name).name
    if latest != name:
        try:
            rows.rename_tank(connection, row, latest)
        except IntegrityError as error:
            raise TankExistsError(latest) from error
    return latest
