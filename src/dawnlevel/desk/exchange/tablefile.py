"""A CSV file of records on its way in: every good record with its line, every bad line with its cure."""

import csv
import dataclasses
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from dawnlevel.desk import amounts
from dawnlevel.desk.exchange.longtable import COLUMNS, TEMP, read_moment, read_row
from dawnlevel.desk.exchange.surveyfile import is_survey, row_of
from dawnlevel.desk.exchange.tablerow import TableRow
from dawnlevel.errors import BadInputError, BadLine, BadLinesError, DawnlevelError
from dawnlevel.tank import PhReading, Record

_OPTIONAL = {"unit", "method", "note"}


@dataclass(slots=True)
class TableReading:
    """What is good so far as (line, tank name, record), what is bad, and what waits for its pH."""

    records: list[tuple[int, str, Record]] = field(default_factory=list)
    bad: list[BadLine] = field(default_factory=list)
    ph_at: dict[tuple[str, datetime], list[int]] = field(default_factory=dict)
    temps: list[tuple[int, TableRow]] = field(default_factory=list)
    bad_ph: set[tuple[str, str]] = field(default_factory=set)
    total: int = 0

    def refuse(self, line: int, error: DawnlevelError) -> None:
        """Note a line that cannot be taken."""
        place = f"{error.where}: " if error.where else ""
        self.bad.append(BadLine(line, f"{place}{error.what}", error.cure))

    def raise_bad(self, file: str) -> None:
        """Raise BadLinesError with every refused line in order, if there is one."""
        if self.bad:
            raise BadLinesError(file, sorted(self.bad, key=lambda one: one.line), self.total)


def _decoded(content: bytes, file: str) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        bad = BadLine(line, "The text is not UTF-8.", "Save the file as CSV in UTF-8.")
        raise BadLinesError(file, [bad], content.count(b"\n") + 1) from error


def _check_header(header: Sequence[str], file: str) -> list[str]:
    names = [name.strip().lower() for name in header]
    if is_survey(names):
        return names
    missing = [name for name in COLUMNS if name not in names and name not in _OPTIONAL]
    unknown = [name for name in names if name not in COLUMNS]
    if not missing and not unknown and len(set(names)) == len(names):
        return names
    problem = (
        f"The columns {', '.join(missing)} are missing."
        if missing
        else f"The columns {', '.join(unknown) or ', '.join(names)} are unknown or there twice."
    )
    cure = f"Begin the file with the line {','.join(COLUMNS)} and separate cells with commas."
    raise BadLinesError(file, [BadLine(1, problem, cure)], 1)


def _rows(text: str, file: str, reading: TableReading) -> Iterator[tuple[int, TableRow]]:
    """Every line as a row with its number; malformed ones go to the bad lines."""
    lines = csv.reader(io.StringIO(text, newline=""), strict=True)
    names: list[str] | None = None
    line = 1
    try:
        for cells in lines:
            if names is None:
                names = _check_header(cells, file)
                line = lines.line_num + 1
                continue
            reading.total += bool(cells)
            if cells and len(cells) != len(names):
                problem = BadInputError(
                    f"It has {len(cells)} cells where the first line has {len(names)}.",
                    cure="Put cells that hold commas in double quotes; write numbers with a decimal point.",
                )
                reading.refuse(line, problem)
            elif cells:
                yield line, row_of(dict(zip(names, cells, strict=True)))
            line = lines.line_num + 1
    except csv.Error as error:
        reading.total += 1
        reading.refuse(line, BadInputError(f"The line is no CSV ({error}).", cure="Check its double quotes."))
    if names is None and not reading.bad:
        _check_header([], file)


def _take(line: int, row: TableRow, reading: TableReading) -> None:
    """Read one row into the records, the temperatures or the bad lines."""
    try:
        if not row.tank:
            raise BadInputError(
                "It names no tank.", where="tank", cure="Fill the column, or give --tank NAME."
            )
        at = read_moment(row.time)
        if row.quantity == TEMP:
            reading.temps.append((line, row))
            return
        record = read_row(row, at)
    except DawnlevelError as error:
        reading.refuse(line, error)
        if row.quantity == "ph":
            reading.bad_ph.add((row.tank, row.time))
        return
    if isinstance(record, PhReading):
        reading.ph_at.setdefault((row.tank, at), []).append(len(reading.records))
    reading.records.append((line, row.tank, record))


def _join_temperature(line: int, row: TableRow, reading: TableReading) -> None:
    """Give a temperature to the pH reading of the same time: the last one above it, else the first below."""
    if (row.tank, row.time) in reading.bad_ph:
        return  # that line is told already
    found = reading.ph_at.get((row.tank, read_moment(row.time)), [])
    above = [index for index in found if reading.records[index][0] < line]
    index = above[-1] if above else next(iter(found), None)
    temp_c = amounts.read_amount(amounts.TEMPERATURE, row.value, row.unit)
    reading_record = None if index is None else reading.records[index][2]
    if index is None or not isinstance(reading_record, PhReading):
        raise BadInputError(
            "There is no pH reading of that time to which the temperature belongs.",
            where=TEMP,
            cure="Give it the time of a pH reading in this file, or leave the line out.",
        )
    if reading_record.temp_c is not None or row.note or row.method:
        raise BadInputError(
            "A temperature belongs to one pH reading and has no note or method of its own.",
            where=TEMP,
            cure="Leave one of the two temperatures out, and put notes on the pH line.",
        )
    ph_line, tank_name, _ = reading.records[index]
    reading.records[index] = (ph_line, tank_name, dataclasses.replace(reading_record, temp_c=temp_c))


def read_table(content: bytes, file: str, default_tank: str | None = None) -> TableReading:
    """Everything a CSV file holds, good and bad; `file` names it in messages.

    Cells without a tank are `default_tank`'s. BadLinesError at once where the file as a whole cannot be
    read: it is no UTF-8 text, or its first line does not name the columns.
    """
    reading = TableReading()
    for line, raw in _rows(_decoded(content, file), file, reading):
        name = raw.tank.strip() or default_tank or ""
        _take(line, dataclasses.replace(raw, tank=name, quantity=raw.quantity.strip().lower()), reading)
    for line, row in reading.temps:
        try:
            _join_temperature(line, row, reading)
        except DawnlevelError as error:
            reading.refuse(line, error)
    return reading
