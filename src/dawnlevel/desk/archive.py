"""A tank's whole past as JSON-able data, and back: every description, every record, what superseded what."""

import json
from collections.abc import Mapping, Sequence
from datetime import datetime

from dawnlevel.errors import BadInputError, TankExistsError
from dawnlevel.store import HistoryEntry, Store, TankArchive, TankVersion
from dawnlevel.store.codec import (
    moment_from_text,
    moment_to_text,
    record_from_dict,
    record_to_dict,
    tank_from_dict,
    tank_to_dict,
)
from dawnlevel.tank import Record

ARCHIVE_SCHEMA = "dawnlevel/archive/1"


def export_archive(store: Store, tank_names: Sequence[str]) -> dict[str, object]:
    """The whole past of these tanks: descriptions, records, corrections, withdrawals. Times in UTC."""
    return {"tanks": [_tank_to_dict(store, name) for name in tank_names]}


def _tank_to_dict(store: Store, name: str) -> dict[str, object]:
    versions = [
        {
            "valid_from": moment_to_text(version.valid_from),
            "recorded_at": moment_to_text(version.recorded_at),
            "tank": tank_to_dict(version.tank),
        }
        for version in store.tank_versions(name)
    ]
    entries = [
        {
            "id": entry.id,
            "recorded_at": moment_to_text(entry.recorded_at),
            "supersedes": entry.supersedes,
            "record": None if entry.record is None else record_to_dict(entry.record),
            **({"reason": entry.reason} if entry.reason else {}),
        }
        for entry in sorted(store.history(name), key=lambda entry: entry.id)
    ]
    return {"name": name, "versions": versions, "entries": entries}


def read_archive(content: bytes, file: str) -> object:
    """The data of an archive file; BadInputError where it is none that this version reads."""
    try:
        found = json.loads(content)
    except ValueError as error:
        raise BadInputError(f"The file is no JSON ({error}).", where=file, cure="Export it anew.") from error
    if not isinstance(found, dict) or found.get("schema") != ARCHIVE_SCHEMA:
        raise BadInputError(
            f"The file is no archive this version reads ({ARCHIVE_SCHEMA}).",
            where=file,
            cure="Use a file written by: dawnlevel export --json",
        )
    return found.get("data")


def import_archive(store: Store, data: object, file: str) -> list[str]:
    """Restore every tank of an archive, or none; the names of those that were not there yet.

    A tank that stands in the store with exactly this past is skipped. TankExistsError where its past is
    another; BadInputError where `data` is no archive.
    """
    tanks = [_tank_from_dict(raw, file) for raw in _list(data, "tanks", file)]
    present = set(store.tank_names())
    new = []
    for tank in tanks:
        if tank.name not in present:
            new.append(tank)
        elif _past(tank) != _past(
            TankArchive(tank.name, store.tank_versions(tank.name), store.history(tank.name))
        ):
            raise TankExistsError(tank.name)
    store.restore(new)
    return [tank.name for tank in new]


def _past(
    tank: TankArchive,
) -> tuple[list[TankVersion], list[tuple[Record | None, datetime, int | None, str]]]:
    """A tank's past with entries numbered from 0: the same for two stores that number differently."""
    ordered = sorted(tank.entries, key=lambda entry: entry.id)
    numbers: dict[int | None, int | None] = {entry.id: number for number, entry in enumerate(ordered)}
    numbers[None] = None
    entries = [
        (entry.record, entry.recorded_at, numbers[entry.supersedes], entry.reason) for entry in ordered
    ]
    return list(tank.versions), entries


def _unfit(file: str, problem: str) -> BadInputError:
    return BadInputError(
        problem, where=file, cure="Use a file written by: dawnlevel export --json, unchanged."
    )


def _list(raw: object, name: str, file: str) -> list[object]:
    found = raw.get(name) if isinstance(raw, Mapping) else None
    if not isinstance(found, list):
        raise _unfit(file, f"The list {name!r} is missing.")
    return found


def _get(raw: object, name: str, file: str) -> object:
    if not isinstance(raw, Mapping) or name not in raw:
        raise _unfit(file, f"The field {name!r} is missing.")
    return raw[name]


def _moment(raw: object, name: str, file: str) -> datetime:
    return moment_from_text(_get(raw, name, file), f"{file}, {name}")


def _tank_from_dict(raw: object, file: str) -> TankArchive:
    name = str(_get(raw, "name", file))
    versions = [
        TankVersion(
            tank_from_dict(_get(version, "tank", file), file),
            _moment(version, "valid_from", file),
            _moment(version, "recorded_at", file),
        )
        for version in _list(raw, "versions", file)
    ]
    if not versions or any(version.tank.name != name for version in versions):
        raise _unfit(file, f"The descriptions of the tank {name!r} are missing or name another tank.")
    return TankArchive(name, versions, _entries(_list(raw, "entries", file), file))


def _entries(raw_entries: list[object], file: str) -> list[HistoryEntry]:
    entries: dict[int, HistoryEntry] = {}
    superseded: set[int] = set()
    for raw in raw_entries:
        number, replaced = _get(raw, "id", file), _get(raw, "supersedes", file)
        record_raw = _get(raw, "record", file)
        record = None if record_raw is None else record_from_dict(record_raw, f"{file}, record {number}")
        if not isinstance(number, int) or number in entries:
            raise _unfit(file, f"The id {number!r} is no number, or is there twice.")
        if replaced is not None or record is None:
            old = entries.get(replaced) if isinstance(replaced, int) else None
            if old is None or old.record is None or old.id in superseded:
                raise _unfit(file, f"Record {number} supersedes {replaced!r}, which it cannot.")
            superseded.add(old.id)
        entries[number] = HistoryEntry(
            number,
            record,
            _moment(raw, "recorded_at", file),
            replaced if isinstance(replaced, int) else None,
            None,
            str(raw.get("reason", "")) if isinstance(raw, Mapping) and record is None else "",
        )
    return list(entries.values())
