"""Folders of Parquet files as other programs write them: layouts, types, and what cannot be taken."""

import json
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest
from fleet_tanks import DAY_0, STEADY, WEAKER, WRITTEN_CARD, minutes_of, readings, write_part, write_tank
from watch_tanks import log

from dawnlevel.desk.fleet.parquet import ParquetSource
from dawnlevel.desk.steadiness.watch import WatchView, watch_view
from dawnlevel.errors import BadInputError, NotEnoughRecordsError, StoreUnreachableError

END = datetime(2026, 5, 28, tzinfo=UTC)
TABLE = readings(WEAKER, 3)


def judged(folder: Path, name: str, as_of: datetime = END) -> WatchView:
    return ParquetSource(str(folder)).watch(name, as_of)


def told(view: WatchView) -> str:
    return repr((view.findings, view.days, view.readings))


def test_a_table_says_what_the_same_log_says_as_text(tmp_path: Path) -> None:
    """The readers of CSV and of Parquet share nothing but what is judged."""
    hours, ph, temp_c = log(WEAKER, 3)
    stamps = DAY_0 + np.round(hours * 60.0).astype("timedelta64[m]")
    rows = "\n".join(f"{at}Z,{one:.2f},{warm}" for at, one, warm in zip(stamps, ph, temp_c, strict=True))
    card = json.dumps(WRITTEN_CARD).encode()
    text = watch_view(f"time,ph,temp_c\n{rows}\n".encode(), "log.csv", card, "card.json")
    write_tank(tmp_path, "Brook", TABLE)
    found = judged(tmp_path, "Brook")
    assert found.findings[0].kind == "injection_weaker"
    assert told(found) == told(text)


def test_however_it_is_laid_out_and_typed_it_says_the_same(tmp_path: Path) -> None:
    hours, ph, temp_c = log(WEAKER, 3)
    minutes = minutes_of(hours)
    plain = {"ph": ph, "temp_c": temp_c}
    write_tank(tmp_path, "stamps", TABLE)
    write_tank(tmp_path, "whole minutes", pa.table({"minute_utc": minutes, **plain}))
    naive = pa.array(minutes * 60_000_000_000, pa.timestamp("ns"))
    write_tank(tmp_path, "naive", pa.table({"minute_utc": naive, **plain}))
    elsewhere = pa.array(minutes * 60_000, pa.timestamp("ms", tz="America/Bogota"))
    write_tank(tmp_path, "another zone", pa.table({"minute_utc": elsewhere, **plain}))
    write_tank(tmp_path, "any order", TABLE.take(np.random.default_rng(5).permutation(len(TABLE))))
    write_tank(tmp_path, "Bay 7/left", TABLE)
    write_part(tmp_path, "Süd/1", [TABLE.slice(0, 9000), TABLE.slice(9000)])
    names = ParquetSource(str(tmp_path)).names()
    assert names == sorted(
        ["stamps", "whole minutes", "naive", "another zone", "any order", "Bay 7/left", "Süd/1"]
    )
    assert len({told(judged(tmp_path, name)) for name in names}) == 1


def test_doubles_gaps_and_lifted_probes_are_counted_and_left_out(tmp_path: Path) -> None:
    whole = TABLE.to_pydict()
    extra = {
        "minute_utc": whole["minute_utc"][:3] + whole["minute_utc"][-2:],
        "ph": [9.9, 9.9, None, 13.0, float("nan")],
        "temp_c": [24.0, None, 24.0, 24.0, 24.0],
    }
    first = pa.table(extra, schema=TABLE.schema)
    broken = TABLE.set_column(2, "temp_c", pa.array([-127.0] * 5 + whole["temp_c"][5:]))
    write_part(tmp_path, "Brook", [first, broken])
    write_tank(tmp_path, "Plain", TABLE)
    found = judged(tmp_path, "Brook")
    assert (found.readings, found.left_out, found.doubled) == (len(TABLE), 3, 2)
    assert found.findings == judged(tmp_path, "Plain").findings


def test_readings_after_the_moment_do_not_count(tmp_path: Path) -> None:
    write_tank(tmp_path, "Brook", TABLE)
    early = judged(tmp_path, "Brook", END - timedelta(days=12))
    assert early.readings == 12 * 1440 + 1
    assert not early.findings
    with pytest.raises(NotEnoughRecordsError, match="no readings"):
        judged(tmp_path, "Brook", END - timedelta(days=40))


def test_a_log_that_ended_long_ago_is_judged_by_its_last_400_days(tmp_path: Path) -> None:
    whole = TABLE.to_pydict()
    early = pa.table({**whole, "minute_utc": [at - timedelta(days=390) for at in whole["minute_utc"]]})
    write_part(tmp_path, "Brook", [early.cast(TABLE.schema), TABLE])
    assert judged(tmp_path, "Brook", END + timedelta(days=900)).readings == len(TABLE) + 10 * 1440 + 1


def test_a_log_without_temperatures_is_taken(tmp_path: Path) -> None:
    write_tank(tmp_path, "Brook", TABLE.drop_columns(["temp_c"]))
    assert judged(tmp_path, "Brook").findings[0].kind == "injection_weaker"


@pytest.mark.parametrize(
    ("table", "said"),
    [
        (pa.table({"time": [1], "ph": [7.0]}), "it has no column minute_utc"),
        (pa.table({"minute_utc": ["2026-05-04"], "ph": ["acid"]}), "minute_utc is string; ph is string"),
        (pa.table({"minute_utc": pa.array([None, 5], pa.int64()), "ph": [7.0, 7.0]}), "has empty cells"),
    ],
)
def test_columns_that_cannot_be_taken_are_told_together(tmp_path: Path, table: pa.Table, said: str) -> None:
    write_tank(tmp_path, "Brook", table)
    with pytest.raises(BadInputError, match=said) as caught:
        judged(tmp_path, "Brook")
    assert caught.value.where == "Brook"


def test_damaged_files_and_cards_are_told_with_their_cure(tmp_path: Path) -> None:
    (tmp_path / "Brook.parquet").write_bytes(b"PAR1 and then nothing")
    (tmp_path / "Brook.json").write_text(json.dumps(WRITTEN_CARD), encoding="utf-8")
    with pytest.raises(BadInputError, match=r"Brook\.parquet cannot be read as Parquet"):
        judged(tmp_path, "Brook")
    write_tank(tmp_path, "Brook", TABLE, {**WRITTEN_CARD, "kh_dkh": None})
    with pytest.raises(BadInputError, match="kh_dkh is missing"):
        judged(tmp_path, "Brook")
    (tmp_path / "Brook.json").unlink()
    with pytest.raises(BadInputError, match="Its card cannot be read"):
        judged(tmp_path, "Brook")


def test_a_place_without_tanks_is_told(tmp_path: Path) -> None:
    with pytest.raises(BadInputError, match="No tank is there"):
        ParquetSource(str(tmp_path)).names()
    with pytest.raises(StoreUnreachableError, match="cannot be read here"):
        ParquetSource(str(tmp_path / "nowhere")).names()
    write_tank(tmp_path, "Brook", TABLE)
    write_part(tmp_path, "Brook", [TABLE])
    with pytest.raises(BadInputError, match="there twice: Brook"):
        ParquetSource(str(tmp_path)).names()


WITHOUT = """
import sys
sys.modules[{0!r}] = None
from dawnlevel.cli.app import run
sys.exit(run({1!r}))
"""


@pytest.mark.parametrize(
    ("package", "asked"),
    [
        ("pyarrow", ["--parquet", "{0}"]),
        ("distributed", ["--parquet", "{0}", "--scheduler", "tcp://127.0.0.1:1"]),
    ],
)
def test_without_the_extra_the_cure_is_told(tmp_path: Path, package: str, asked: list[str]) -> None:
    write_tank(tmp_path, "Brook", readings(STEADY, 1))
    arguments = ["fleet", "--out", str(tmp_path / "out"), *(part.format(tmp_path) for part in asked)]
    done = subprocess.run(
        [sys.executable, "-c", WITHOUT.format(package, arguments)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 5, done.stderr
    assert f"needs {package}, which is not installed" in done.stderr
    assert "pip install 'dawnlevel[fleet]'" in done.stderr
