"""Published check values from `tests/tables/*.csv`; every row names its source and how far it was checked."""

import csv
from pathlib import Path

FOLDER = Path(__file__).parent / "tables"


def table(name: str, **wanted: str) -> list[dict[str, str]]:
    """Rows of `tables/<name>.csv`, only those whose columns hold the wanted text."""
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if all(row[key] == text for key, text in wanted.items())]
    assert rows, f"no row of {name} has {wanted}"
    return rows


def half_digit(printed: str) -> float:
    """Half a unit of the last printed digit: how near a right value must come to its printed form."""
    decimals = len(printed.partition(".")[2])
    return 0.5000001 * 10.0**-decimals
