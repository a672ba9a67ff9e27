"""Fleets for the tests: folders of Parquet files, written the way the documentation says."""

import json
from collections.abc import Sequence
from pathlib import Path
from urllib.parse import quote

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from watch_tanks import CARD, Course, log

DAY_0 = np.datetime64("2026-05-04T00:00")
WRITTEN_CARD = {
    "gas_on_h": CARD.gas_on_h, "gas_off_h": CARD.gas_off_h, "lights_on_h": CARD.lights_on_h,
    "lights_off_h": CARD.lights_off_h, "kh_dkh": 4.2, "timezone": "UTC",
}  # fmt: skip
WEAKER = Course(gain=lambda day: 8.0 if day < 15 else 5.0)
STEADY = Course()


def minutes_of(hours: np.ndarray) -> np.ndarray:
    """Whole minutes since 1970 of hours since midnight of day 0."""
    return DAY_0.astype(np.int64) + np.round(hours * 60.0).astype(np.int64)


def readings(course: Course, seed: int) -> pa.Table:
    """A tank's log as a table."""
    hours, ph, temp_c = log(course, seed)
    at = pa.array(minutes_of(hours) * 60, pa.timestamp("s", tz="UTC"))
    return pa.table({"minute_utc": at, "ph": ph, "temp_c": temp_c})


def write_tank(folder: Path, name: str, table: pa.Table, card: object = None) -> None:
    """One file of readings with its card beside it."""
    stem = quote(name, safe=" ")
    pq.write_table(table, folder / f"{stem}.parquet")
    text = json.dumps(WRITTEN_CARD if card is None else card)
    (folder / f"{stem}.json").write_text(text, encoding="utf-8")


def write_part(folder: Path, name: str, tables: Sequence[pa.Table]) -> None:
    """A partition: several files of readings and a card."""
    part = folder / f"tank={quote(name, safe='')}"
    part.mkdir()
    for number, table in enumerate(tables):
        pq.write_table(table, part / f"part-{number}.parquet")
    (part / "card.json").write_text(json.dumps(WRITTEN_CARD), encoding="utf-8")
