"""A data package on its way in: every row that cannot be taken told together, with its table and line."""

import csv
import io
import json
from collections.abc import Iterator, Mapping
from datetime import datetime

from dawnlevel.desk.advice.gathering import Gathering, RawEntry, linked
from dawnlevel.desk.exchange.archive import check_descriptions
from dawnlevel.desk.exchange.columns import RECORD_COLUMNS, TANK_COLUMNS, nested
from dawnlevel.desk.exchange.package import DESCRIPTOR, FORMAT, TANKS, WITHDRAWALS, fields_of
from dawnlevel.desk.exchange.package_log import LOG_FIELDS, LOG_TABLES, read_logs
from dawnlevel.errors import BadInputError
from dawnlevel.store import Merged, Store, TankArchive, TankVersion
from dawnlevel.store.codec import decode, moment_from_text
from dawnlevel.tank import RECORD_KINDS, Tank

Cells = dict[str, str]
_ALWAYS = {"id", "tank", "version", "at", "valid_from", "recorded_at", "supersedes", "withdraws"}


def import_package(store: Store, files: Mapping[str, bytes], folder: str) -> Merged:
    """Bring in what is new of a package's tables, by their file names, or nothing of it.

    BadInputError where they are no package; BadLinesError with every row that cannot be taken; errors of
    `Store.merge` where it contradicts the store.
    """
    _check_descriptor(files, folder)
    gathering = Gathering(folder, "row")
    versions = _versions(files, gathering)
    entries: dict[str, list[RawEntry]] = {name: [] for name in versions}
    for table in (*RECORD_KINDS, WITHDRAWALS):
        for place, line, cells in _rows(files, table, gathering):
            with gathering.at(place, line):
                entry = _entry(table, place, line, cells)
                _of_tank(cells, entries).append(entry)
    pasts = linked(entries, gathering)
    logs = read_logs({table: _log_rows(files, table, gathering) for table in LOG_TABLES}, versions, gathering)
    archives = [TankArchive(name, found, pasts[name], *logs[name]) for name, found in versions.items()]
    gathering.raise_bad()
    for archive in archives:
        check_descriptions(archive.name, archive.versions, f"{folder}, {TANKS}.csv")
    return store.merge(archives, folder)


def _log_rows(
    files: Mapping[str, bytes], table: str, gathering: Gathering
) -> Iterator[tuple[str, int, Cells]]:
    """The rows of a table of probe logs; a package that is older than they are has none."""
    if f"{table}.csv" in files:
        yield from _rows(files, table, gathering)


def _check_descriptor(files: Mapping[str, bytes], folder: str) -> None:
    try:
        found = json.loads(files.get(DESCRIPTOR, b""))
    except ValueError:
        found = None
    if not isinstance(found, dict) or found.get("format") != FORMAT:
        raise BadInputError(
            f"The folder holds no package this version reads ({DESCRIPTOR} with the format {FORMAT}).",
            where=folder,
            cure="Use a folder written by: dawnlevel export --package FOLDER",
        )


def _rows(files: Mapping[str, bytes], table: str, gathering: Gathering) -> Iterator[tuple[str, int, Cells]]:
    """Place, line and cells of each row; what is no row is noted."""
    name = f"{table}.csv"
    if name not in files:
        missing = BadInputError("The table is missing.", cure="Copy the whole folder, or export it anew.")
        gathering.refuse(name, 0, missing)
        return
    try:
        text = files[name].decode("utf-8-sig")
    except UnicodeDecodeError:
        gathering.refuse(name, 0, BadInputError("The text is not UTF-8.", cure="Save it as CSV in UTF-8."))
        return
    yield from _read_rows(text, table, gathering)


def _read_rows(text: str, table: str, gathering: Gathering) -> Iterator[tuple[str, int, Cells]]:
    name = f"{table}.csv"
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    header: list[str] = []
    line = 1
    try:
        for cells in reader:
            place = f"{name}, line {line}"
            if not header:
                header = cells
                if not _is_header(header, table, gathering):
                    return
            elif cells and len(cells) != len(header):
                with gathering.at(place, line):
                    raise BadInputError(
                        f"It has {len(cells)} cells where the first line has {len(header)}.",
                        cure="Put cells that hold commas in double quotes.",
                    )
            elif cells:
                yield place, line, dict(zip(header, cells, strict=True))
            line = reader.line_num + 1
    except csv.Error as error:
        with gathering.at(f"{name}, line {line}", line):
            raise BadInputError(f"The line is no CSV ({error}).", cure="Check its double quotes.") from error
    if not header:
        _is_header([], table, gathering)


def _is_header(header: list[str], table: str, gathering: Gathering) -> bool:
    """Whether the first line names the table's columns; noted where it does not.

    Fields of a record or tank may be missing: the file may be older than they are.
    """
    wanted = [str(field["name"]) for field in fields_of(table)]
    unknown = [one for one in header if one not in wanted]
    missing = [one for one in wanted if (one in _ALWAYS or table in LOG_FIELDS) and one not in header]
    if not unknown and not missing and len(set(header)) == len(header):
        return True
    told = (
        f"The columns {', '.join(missing)} are missing." if missing else "A column is unknown or there twice."
    )
    error = BadInputError(told, cure=f"Begin the table with the line {','.join(wanted)}")
    gathering.refuse(f"{table}.csv, line 1", 1, error)
    return False


def _versions(files: Mapping[str, bytes], gathering: Gathering) -> dict[str, list[TankVersion]]:
    numbered: dict[str, list[tuple[int, TankVersion]]] = {}
    for place, line, cells in _rows(files, TANKS, gathering):
        with gathering.at(place, line):
            found = numbered.setdefault(_filled(cells, "tank"), [])
            tank = decode(Tank, nested(TANK_COLUMNS, cells), "tank")
            version = TankVersion(tank, _moment(cells, "valid_from"), _moment(cells, "recorded_at"))
            number = _number(cells, "version")
            if number in {one for one, _ in found}:
                raise BadInputError(
                    f"The tank's description {number} is there twice.", where="version", cure="Leave one out."
                )
            found.append((number, version))
    return {
        name: [version for _, version in sorted(found, key=lambda pair: pair[0])]
        for name, found in numbered.items()
    }


def _entry(table: str, place: str, line: int, cells: Cells) -> RawEntry:
    number, recorded_at = _number(cells, "id"), _moment(cells, "recorded_at")
    if table == WITHDRAWALS:
        withdrawn = _number(cells, "withdraws")
        return RawEntry(place, line, number, None, recorded_at, withdrawn, cells.get("reason", ""))
    record = decode(RECORD_KINDS[table], nested(RECORD_COLUMNS[table], cells), "record")
    supersedes = _number(cells, "supersedes") if cells.get("supersedes") else None
    return RawEntry(place, line, number, record, recorded_at, supersedes)


def _of_tank(cells: Cells, entries: dict[str, list[RawEntry]]) -> list[RawEntry]:
    name = _filled(cells, "tank")
    if name not in entries:
        raise BadInputError(
            f"There is no tank {name!r} in {TANKS}.csv.",
            where="tank",
            cure="Check the name, or add the tank.",
        )
    return entries[name]


def _filled(cells: Cells, name: str) -> str:
    if not cells.get(name):
        raise BadInputError("The cell is empty.", where=name, cure="Fill it.")
    return cells[name]


def _number(cells: Cells, name: str) -> int:
    try:
        return int(_filled(cells, name))
    except ValueError as error:
        raise BadInputError(
            f"{cells[name]!r} is no whole number.", where=name, cure="Check the cell."
        ) from error


def _moment(cells: Cells, name: str) -> datetime:
    return moment_from_text(_filled(cells, name), name)
