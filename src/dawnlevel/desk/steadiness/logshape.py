"""How a probe's log is written: its letters, separators, and which column is what."""

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from dawnlevel.errors import BadInputError, BadLine, BadLinesError

_TIMES = ("time", "timestamp", "datetime", "date_time", "date", "zeit", "datum", "when")
EMPTY = {"", "nan", "na", "n/a", "null", "none", "-", "--"}
WHAT = ("time", "clock", "ph", "temp")
"""What a column may be: the time or date, the time of day beside a date, pH, temperature."""


@dataclass(frozen=True, slots=True)
class Shape:
    """How a file is written: which column is what, whether commas are decimal, where readings begin.

    `columns`: which column was taken as what, by its name.
    """

    time: int
    clock: int | None
    ph: int
    temp: int | None
    is_fahrenheit: bool
    is_comma: bool
    first: int
    columns: dict[str, str]


def decoded(content: bytes, file: str) -> str:
    """The letters of a file: UTF-8, UTF-16 with its mark, or the old Windows set; BadLinesError."""
    for encoding in ("utf-8-sig", "utf-16" if content[:2] in {b"\xff\xfe", b"\xfe\xff"} else "cp1252"):
        try:
            return content.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise BadLinesError(file, [BadLine(1, "The file is no text.", "Save it as CSV in UTF-8.")], 1)


def table_of(text: str) -> list[list[str]]:
    """The cells of every line, by the separator that the first lines agree on."""
    lines = text.splitlines()
    return list(csv.reader(lines, delimiter=_delimiter(lines)))


def _delimiter(lines: Sequence[str]) -> str:
    sample = [line for line in lines[:20] if line.strip()]
    for mark in (";", "\t", "|", ","):
        counts = {line.count(mark) for line in sample}
        if counts and min(counts) >= 1:
            return mark
    return ","


def shape_of(rows: Sequence[Sequence[str]], named: Mapping[str, str], file: str) -> Shape:
    """Which column is what: as `named` (by name or number, counted from 1), by its name, else by order.

    BadInputError where a column that is named is not there; BadLinesError where time or pH cannot be told.
    """
    names = [cell.strip().lower() for cell in rows[0]]
    has_names = any(name and name[0].isalpha() and name not in EMPTY for name in names)
    found = _by_name(names) if has_names else {"time": 0, "ph": 1, "temp": 2 if len(names) > 2 else None}
    found |= {what: _named(names, what, column, file) for what, column in named.items()}
    if "clock" not in named and ("time" in named or "date" not in names):
        found["clock"] = None
    time, ph, temp = found["time"], found["ph"], found["temp"]
    if time is None or ph is None:
        missing = "time" if time is None else "pH"
        problem = f"No column is called after the {missing} (columns: {', '.join(rows[0])})."
        cure = "Call the columns time, ph, temp_c, or say which it is: --column ph=NAME"
        raise BadLinesError(file, [BadLine(1, problem, cure)], len(rows))
    shown = names if has_names else [f"column {number + 1}" for number in range(len(names))]
    columns = {what: shown[place] for what in WHAT if (place := found.get(what)) is not None}
    return Shape(
        time, found.get("clock"), ph, temp,
        temp is not None and names[temp].endswith(("_f", "(f)", "°f", "[f]")),
        any(_is_comma(row, place) for row in rows[has_names:200] for place in (ph, temp)),
        int(has_names), columns,
    )  # fmt: skip


def _by_name(names: list[str]) -> dict[str, int | None]:
    time = next((i for i, name in enumerate(names) if name.startswith(_TIMES)), None)
    ph = next((i for i, name in enumerate(names) if name.replace("_", " ").split()[:1] == ["ph"]), None)
    ph = ph if ph is not None else next((i for i, name in enumerate(names) if "ph" in name), None)
    temp = next((i for i, name in enumerate(names) if "temp" in name), None)
    has_clock = time is not None and names[time] == "date" and names[time + 1 : time + 2] == ["time"]
    return {
        "time": time,
        "clock": time + 1 if time is not None and has_clock else None,
        "ph": ph,
        "temp": temp,
    }


def _named(names: list[str], what: str, column: str, file: str) -> int:
    wanted = column.strip().lower()
    if wanted in names:
        return names.index(wanted)
    if wanted.isdigit() and 1 <= int(wanted) <= len(names):
        return int(wanted) - 1
    raise BadInputError(
        f"There is no column {column!r} for {what} (columns: {', '.join(names)}).",
        where=file,
        cure="Name one of these, or count it from 1: --column ph=2",
    )


def _is_comma(row: Sequence[str], place: int | None) -> bool:
    return place is not None and place < len(row) and "," in row[place]
