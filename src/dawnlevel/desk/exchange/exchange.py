"""Files of records in and out: one long table (CSV), all of it or nothing, and again without harm."""

import csv
import io
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from dawnlevel.desk.exchange.longtable import COLUMNS, write_rows
from dawnlevel.desk.exchange.tablefile import TableReading, read_table
from dawnlevel.desk.records import check_record
from dawnlevel.errors import DawnlevelError, NoSuchTankError
from dawnlevel.store import Store
from dawnlevel.store.merging import RecordKey, record_key
from dawnlevel.tank import Record, Tank


@dataclass(frozen=True, slots=True)
class ImportReport:
    """What an import did: records added by tank, lines that stand already, lines superseded since."""

    added: dict[str, int]
    duplicates: int
    superseded: int

    @property
    def added_total(self) -> int:
        """How many records are new."""
        return sum(self.added.values())


@dataclass(frozen=True, slots=True)
class _Known:
    """What the store holds of a tank: its description, since when, how often each entry stands or stood."""

    tank: Tank
    described_at: datetime
    standing: Counter[RecordKey]
    superseded: Counter[RecordKey]


def _known(store: Store, tank_name: str) -> _Known:
    standing: Counter[RecordKey] = Counter()
    superseded: Counter[RecordKey] = Counter()
    described_at = store.tank_described_at(tank_name)
    for entry in store.history(tank_name):
        if entry.record is not None:
            (standing if entry.stands else superseded)[record_key(entry.record)] += 1
    return _Known(store.tank(tank_name), described_at, standing, superseded)


def _check(reading: TableReading, store: Store, now: datetime) -> dict[str, _Known]:
    """What is known of every tank the file names; lines the store could not take become bad lines."""
    known: dict[str, _Known] = {}
    strangers: dict[str, NoSuchTankError] = {}
    for line, name, record in reading.records:
        if name not in known and name not in strangers:
            try:
                known[name] = _known(store, name)
            except NoSuchTankError as error:
                strangers[name] = error
        try:
            if name in strangers:
                raise strangers[name]
            check_record(record, known[name].tank, known[name].described_at, now)
        except DawnlevelError as error:
            reading.refuse(line, error)
    return known


def import_table(
    store: Store, content: bytes, file: str, now: datetime, default_tank: str | None = None
) -> ImportReport:
    """Store every record of a CSV file, or none; `file` names it in messages.

    Lines that stand already are skipped, and so are lines whose record has been corrected or withdrawn
    since: importing a file again changes nothing. Cells without a tank are `default_tank`'s.
    BadLinesError with every line that cannot be taken, each with its number and cure.
    """
    reading = read_table(content, file, default_tank)
    known = _check(reading, store, now)
    reading.raise_bad(file)
    new: dict[str, list[Record]] = {}
    duplicates = superseded = 0
    for _, name, record in reading.records:
        key = record_key(record)
        if known[name].standing[key] > 0:
            known[name].standing[key] -= 1
            duplicates += 1
        elif known[name].superseded[key] > 0:
            known[name].superseded[key] -= 1
            superseded += 1
        else:
            new.setdefault(name, []).append(record)
    if new:
        store.add_records_of_tanks(new)
    return ImportReport({name: len(added) for name, added in new.items()}, duplicates, superseded)


def export_table(store: Store, tank_names: Sequence[str]) -> str:
    """What stands for these tanks as CSV text (RFC 4180), by tank, then by time in the tank's own zone."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for name in tank_names:
        zone = ZoneInfo(store.tank(name).timezone)
        for stored in store.records(name):
            writer.writerows(row.cells() for row in write_rows(name, stored.record, zone))
    return out.getvalue()
