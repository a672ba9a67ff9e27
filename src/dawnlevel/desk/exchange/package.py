"""Everything of some tanks as tables with a description beside them: a Frictionless data package.

One table of tanks (a row for each description), one for each kind of record, one of withdrawals, three of
probe logs; what each column holds stands in `datapackage.json`. Nothing is lost: records that were corrected
or withdrawn are there too, and `stands` tells them apart. The same records always give the same letters.
"""

import csv
import hashlib
import inspect
import io
import json
from collections.abc import Iterable, Sequence

from dawnlevel.desk.exchange.columns import TANK_COLUMNS, Column, columns_of_record, write_cell
from dawnlevel.desk.exchange.package_log import BATCHES, LOG_FIELDS, LOG_TITLES, READINGS, THINNINGS, log_rows
from dawnlevel.desk.handover.owners import shown_to
from dawnlevel.store import HistoryEntry, Store
from dawnlevel.store.codec import encode, kind_of, moment_to_text
from dawnlevel.tank import RECORD_KINDS, Tank

FORMAT = "dawnlevel/package/1"
DESCRIPTOR = "datapackage.json"
TANKS, WITHDRAWALS = "tanks", "withdrawals"
NEEDED = {"required": True}
_OF_TANK = {"fields": "tank", "reference": {"resource": TANKS, "fields": "tank"}}
Field = dict[str, object]
_ID: Field = {"name": "id", "type": "integer", "constraints": {"required": True, "unique": True}}
_RECORDED: Field = {
    "name": "recorded_at",
    "type": "datetime",
    "description": "When it was written down.",
    "constraints": NEEDED,
}


def _tank_field(description: str) -> Field:
    return {"name": "tank", "type": "string", "description": description, "constraints": NEEDED}


def record_fields(kind: str) -> list[Field]:
    """The Table Schema fields of a kind of record, in order."""
    return [
        dict(_ID, description="The record's number in the store it comes from."),
        _tank_field("The tank's name, as in the table of tanks."),
        {"name": "at", "type": "datetime", "description": "When it was seen or done.", "constraints": NEEDED},
        *(column.field() for column in columns_of_record(kind)),
        {"name": "note", "type": "string"},
        _RECORDED,
        {
            "name": "supersedes",
            "type": "integer",
            "description": "The number of the record, of any kind, that this one corrects.",
        },
        {
            "name": "stands",
            "type": "boolean",
            "description": "Whether it holds: false where it was corrected or withdrawn since.",
            "constraints": NEEDED,
        },
    ]


def tank_fields() -> list[Field]:
    """The Table Schema fields of the tanks' descriptions."""
    return [
        _tank_field("The name the tank goes by now."),
        {
            "name": "version",
            "type": "integer",
            "description": "1 for its first description; the last one holds.",
            "constraints": {"required": True, "minimum": 1},
        },
        dict(_RECORDED, name="valid_from", description="From when on it is described so."),
        _RECORDED,
        *(column.field() for column in TANK_COLUMNS),
    ]


def withdrawal_fields() -> list[Field]:
    """The Table Schema fields of the withdrawals."""
    return [
        dict(_ID, description="The withdrawal's number in the store it comes from."),
        _tank_field("The tank's name, as in the table of tanks."),
        {
            "name": "withdraws",
            "type": "integer",
            "description": "The number of the record, of any kind, that is withdrawn.",
            "constraints": {"required": True, "unique": True},
        },
        {"name": "reason", "type": "string"},
        _RECORDED,
    ]


def fields_of(table: str) -> list[Field]:
    """The fields of any table of a package."""
    if table == TANKS:
        return tank_fields()
    if table in LOG_FIELDS:
        return LOG_FIELDS[table]
    return withdrawal_fields() if table == WITHDRAWALS else record_fields(table)


def _cells(columns: Iterable[Column], value: object) -> list[str]:
    encoded = encode(value)
    return [write_cell(column, encoded) for column in columns]


def _tank_rows(store: Store, names: Sequence[str], owner: str | None) -> Iterable[list[str]]:
    for name in names:
        for number, version in enumerate(shown_to(owner, store.tank_versions(name)), 1):
            moments = [moment_to_text(version.valid_from), moment_to_text(version.recorded_at)]
            yield [name, str(number), *moments, *_cells(TANK_COLUMNS, version.tank)]


def _entry_row(name: str, entry: HistoryEntry) -> tuple[str, list[str]]:
    """The table of an entry, and its row there."""
    recorded_at = moment_to_text(entry.recorded_at)
    if entry.record is None:
        return WITHDRAWALS, [str(entry.id), name, str(entry.supersedes), entry.reason, recorded_at]
    kind = kind_of(entry.record)
    values = _cells(columns_of_record(kind), entry.record)
    supersedes = "" if entry.supersedes is None else str(entry.supersedes)
    stands = "true" if entry.stands else "false"
    head = [str(entry.id), name, moment_to_text(entry.record.at)]
    return kind, [*head, *values, entry.record.note, recorded_at, supersedes, stands]


def write_package(store: Store, names: Sequence[str], owner: str | None = None) -> dict[str, bytes]:
    """The files of a package by their names: what was ever written down for these tanks. Times in UTC.

    For an `owner`: theirs, without the names of earlier owners.
    """
    rows: dict[str, list[list[str]]] = {TANKS: list(_tank_rows(store, names, owner))}
    rows |= {table: [] for table in (*RECORD_KINDS, WITHDRAWALS)}
    for name in names:
        for entry in sorted(store.history(name), key=lambda entry: entry.id):
            table, row = _entry_row(name, entry)
            rows[table].append(row)
    rows |= log_rows(store, names)
    files = {f"{table}.csv": _table(table, found) for table, found in rows.items()}
    descriptor = json.dumps(_descriptor(files), ensure_ascii=False, indent=1) + "\n"
    return {DESCRIPTOR: descriptor.encode(), **files}


def _table(table: str, rows: Sequence[Sequence[str]]) -> bytes:
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow([str(field["name"]) for field in fields_of(table)])
    writer.writerows(rows)
    return out.getvalue().encode()


def _descriptor(files: dict[str, bytes]) -> dict[str, object]:
    return {
        "name": "dawnlevel-records",
        "profile": "tabular-data-package",
        "title": "Records of planted freshwater aquaria",
        "description": "Written by `dawnlevel export --package`; `dawnlevel import` takes the folder back. "
        "Moments are RFC 3339 in UTC. A field's `unit` is a UCUM code; hours without a date are wall-clock "
        "hours since midnight in the tank's time zone.",
        "format": FORMAT,
        "resources": [_resource(path, content) for path, content in files.items()],
    }


def _resource(path: str, content: bytes) -> dict[str, object]:
    table = path.removesuffix(".csv")
    schema: dict[str, object] = {"fields": fields_of(table)}
    if table == TANKS:
        schema["primaryKey"] = ["tank", "version"]
    elif table == READINGS:
        schema["primaryKey"] = ["batch", "at"]
        schema["foreignKeys"] = [{"fields": "batch", "reference": {"resource": BATCHES, "fields": "id"}}]
    elif table == THINNINGS:
        schema["foreignKeys"] = [_OF_TANK]
    else:
        schema["primaryKey"] = "id"
        schema["foreignKeys"] = [_OF_TANK]
    return {
        "name": table,
        "path": path,
        "profile": "tabular-data-resource",
        "title": _title(table),
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": len(content),
        "hash": f"sha256:{hashlib.sha256(content).hexdigest()}",
        "schema": schema,
    }


def _title(table: str) -> str:
    if table in LOG_TITLES:
        return LOG_TITLES[table]
    if table == WITHDRAWALS:
        return "Records withdrawn, and why."
    said = inspect.getdoc(Tank if table == TANKS else RECORD_KINDS[table]) or ""
    return " ".join(said.partition("\n\n")[0].split())
