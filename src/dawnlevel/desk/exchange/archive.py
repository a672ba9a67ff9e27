"""A tank's whole past as JSON-able data, and back: descriptions, records, what superseded what, probe log."""

import json
from collections.abc import Mapping, Sequence
from datetime import datetime

from dawnlevel.desk.advice.gathering import Gathering, RawEntry, linked
from dawnlevel.desk.exchange.archive_log import RawLog, log_from_dict, log_to_dict
from dawnlevel.desk.handover.owners import shown_to
from dawnlevel.errors import BadInputError
from dawnlevel.store import Merged, Store, TankArchive, TankVersion
from dawnlevel.store.codec import (
    moment_from_text,
    moment_to_text,
    record_from_dict,
    record_to_dict,
    tank_from_dict,
    tank_to_dict,
)

ARCHIVE_SCHEMA = "dawnlevel/archive/1"


def export_archive(store: Store, tank_names: Sequence[str], owner: str | None = None) -> dict[str, object]:
    """The whole past of these tanks: descriptions, records, corrections, probe logs. Times in UTC.

    For an `owner`: theirs, without the names of earlier owners.
    """
    return {"tanks": [_tank_to_dict(store, name, owner) for name in tank_names]}


def _tank_to_dict(store: Store, name: str, owner: str | None) -> dict[str, object]:
    versions = [
        {
            "valid_from": moment_to_text(version.valid_from),
            "recorded_at": moment_to_text(version.recorded_at),
            "tank": tank_to_dict(version.tank),
        }
        for version in shown_to(owner, store.tank_versions(name))
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
    return {"name": name, "versions": versions, "entries": entries, **log_to_dict(store, name)}


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
            cure="Use a file written by: dawnlevel export --archive FILE",
        )
    return found.get("data")


def import_archive(store: Store, data: object, file: str) -> Merged:
    """Bring every tank of an archive in, or nothing of it; what is there already is left as it is.

    BadInputError where `data` is no archive; BadLinesError with every entry that cannot be taken; errors
    of `Store.merge` where it contradicts the store.
    """
    gathering = Gathering(file, "record")
    versions: dict[str, list[TankVersion]] = {}
    entries: dict[str, list[RawEntry]] = {}
    logs: dict[str, RawLog] = {}
    for raw in _list(data, "tanks", file):
        name = str(_get(raw, "name", file))
        if name in versions:
            raise _unfit(file, f"The tank {name!r} is there twice.")
        versions[name] = _versions(raw, name, gathering)
        entries[name] = _entries(raw, name, gathering)
        logs[name] = log_from_dict(raw, name, gathering)
    pasts = linked(entries, gathering)
    gathering.raise_bad()
    for name, found in versions.items():
        check_descriptions(name, found, file)
    return store.merge(
        [TankArchive(name, found, pasts[name], *logs[name]) for name, found in versions.items()], file
    )


def _unfit(file: str, problem: str) -> BadInputError:
    return BadInputError(
        problem, where=file, cure="Use a file written by: dawnlevel export --archive, unchanged."
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
    return moment_from_text(_get(raw, name, file), name)


def _versions(raw: object, name: str, gathering: Gathering) -> list[TankVersion]:
    file = gathering.file
    versions = []
    for number, version in enumerate(_list(raw, "versions", file), 1):
        with gathering.at(f"tank {name}, description {number}", number):
            versions.append(
                TankVersion(
                    tank_from_dict(_get(version, "tank", file), "tank"),
                    _moment(version, "valid_from", file),
                    _moment(version, "recorded_at", file),
                )
            )
    return versions


def _entries(raw: object, name: str, gathering: Gathering) -> list[RawEntry]:
    entries = []
    for number, entry in enumerate(_list(raw, "entries", gathering.file), 1):
        place = f"tank {name}, entry {number}"
        with gathering.at(place, number):
            entries.append(_entry_from_dict(entry, place, number, gathering.file))
    return entries


def check_descriptions(name: str, versions: Sequence[TankVersion], file: str) -> None:
    """Raise BadInputError unless a tank has descriptions and the last one written down names it."""
    ordered = sorted(versions, key=lambda version: version.recorded_at)
    if not ordered or ordered[-1].tank.name != name:
        raise _unfit(file, f"The descriptions of the tank {name!r} are missing or name another tank.")


def _entry_from_dict(raw: object, place: str, line: int, file: str) -> RawEntry:
    number, replaced = _get(raw, "id", file), _get(raw, "supersedes", file)
    record_raw = _get(raw, "record", file)
    record = None if record_raw is None else record_from_dict(record_raw, "record")
    if not isinstance(number, int) or not (replaced is None or isinstance(replaced, int)):
        raise _unfit(file, f"The id {number!r} or what it supersedes, {replaced!r}, is no number.")
    reason = str(raw.get("reason", "")) if isinstance(raw, Mapping) and record is None else ""
    moment = _moment(raw, "recorded_at", file)
    return RawEntry(place, line, number, record, moment, replaced, reason)
