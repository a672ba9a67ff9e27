"""Tanks of a folder of Parquet files, as other programs write them: readings in columns, a card beside them.

    FOLDER/NAME.parquet and FOLDER/NAME.json, or FOLDER/tank=NAME/*.parquet and FOLDER/tank=NAME/card.json

Letters that file names do not take stand as %XX in NAME (RFC 3986), as partitioned data sets write them.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import unquote
from zoneinfo import ZoneInfo

import numpy as np

from dawnlevel.desk.optional import needed
from dawnlevel.desk.steadiness.logfile import PH_SHOWN, probe_log
from dawnlevel.desk.steadiness.watch import WatchView, read_card, watch_probe
from dawnlevel.desk.steadiness.watching import LONGEST
from dawnlevel.errors import BadInputError, NotEnoughRecordsError, StoreUnreachableError
from dawnlevel.store.schema import to_us
from dawnlevel.tank.samples import TEMP_MEASURED_C, Floats, Minutes, Samples
from dawnlevel.watch.days import Card

COLUMNS = ("minute_utc", "ph", "temp_c")
_MINUTE_US = 60_000_000
_PART = "tank="
_NUMBERS = ("double", "float", "halffloat", "int", "uint", "decimal", "null")
_KINDS = {"minute_utc": ("timestamp", "int", "uint"), "ph": _NUMBERS, "temp_c": _NUMBERS}


@dataclass(frozen=True, slots=True)
class ParquetSource:
    """The tanks of a folder; every worker must see it at this path."""

    place: str

    def names(self) -> list[str]:
        """Every tank with readings, sorted; BadInputError where there are none, or one is there twice."""
        needed("pyarrow.parquet", "Reading Parquet", "fleet")
        names = [name for name, _ in _tanks(Path(self.place))]
        doubled = sorted({name for name in names if names.count(name) > 1})
        if doubled or not names:
            what = f"These tanks are there twice: {', '.join(doubled)}." if doubled else "No tank is there."
            raise BadInputError(
                what,
                where=self.place,
                cure="One tank is NAME.parquet with NAME.json, or a folder tank=NAME.",
            )
        return sorted(names)

    def watch(self, name: str, as_of: datetime) -> WatchView:
        """What one tank's readings of the 400 days up to `as_of` (aware) say; see `Source`."""
        path = next((path for one, path in _tanks(Path(self.place)) if one == name), None)
        if path is None:
            raise BadInputError("Its files are gone.", where=name, cure="Put them back.")
        is_part = path.is_dir()
        card, zone = _card(path / "card.json" if is_part else path.with_suffix(".json"))
        files = sorted(path.glob("*.parquet")) if is_part else [path]
        samples, left_out, doubled = _samples(files, as_of, name) if files else (Samples.none(), 0, 0)
        if not len(samples):
            raise NotEnoughRecordsError("It has no readings.", where=name, cure="Add its readings.")
        probe = replace(probe_log(samples, zone), left_out=left_out, doubled=doubled)
        return watch_probe(probe, card, zone).view


def _tanks(folder: Path) -> Iterator[tuple[str, Path]]:
    """Each tank's name with its file or folder; StoreUnreachableError where the folder cannot be read."""
    try:
        for path in sorted(folder.iterdir()):
            if path.suffix == ".parquet" and path.is_file():
                yield unquote(path.stem), path
            elif path.name.startswith(_PART) and path.is_dir():
                yield unquote(path.name.removeprefix(_PART)), path
    except OSError as error:
        raise StoreUnreachableError(
            f"The folder cannot be read here ({error.strerror}).",
            where=str(folder),
            cure="Check its path; all workers must see it at the same one.",
        ) from error


def _card(file: Path) -> tuple[Card, ZoneInfo]:
    try:
        return read_card(file.read_bytes(), file.name)
    except OSError as error:
        raise BadInputError(
            f"Its card cannot be read ({error.strerror}).",
            where=file.name,
            cure="Put it beside the readings: the keys of `dawnlevel watch --card`.",
        ) from error


def _samples(files: Sequence[Path], as_of: datetime, name: str) -> tuple[Samples, int, int]:
    """The last 400 days up to `as_of`; how many had no pH that a tank shows, how many were there already."""
    parts = [_columns(file, name) for file in files]
    minute, ph, temp_c = (np.concatenate(column) for column in zip(*parts, strict=True))
    past = minute <= to_us(as_of) // _MINUTE_US
    in_time = past & (minute >= minute[past].max(initial=0) - LONGEST // timedelta(minutes=1))
    shown = in_time & (ph >= PH_SHOWN[0]) & (ph <= PH_SHOWN[1])
    measured = (temp_c >= TEMP_MEASURED_C[0]) & (temp_c <= TEMP_MEASURED_C[1])
    samples = Samples.gathered(minute[shown], ph[shown], np.where(measured, temp_c, np.nan)[shown])
    return samples, int((in_time & ~shown).sum()), int(shown.sum()) - len(samples)


def _columns(file: Path, name: str) -> tuple[Minutes, Floats, Floats]:
    """Minutes since 1970 UTC, pH, temperature [degC]; the latter two NaN where there is none."""
    parquet = needed("pyarrow.parquet", "Reading Parquet", "fleet")
    try:
        table = parquet.read_table(file, partitioning=None)
    except (OSError, ValueError) as error:
        raise BadInputError(
            f"{file.name} cannot be read as Parquet ({str(error).splitlines()[0]}).",
            where=name,
            cure="Write it again.",
        ) from error
    problems = [f"it has no column {column}" for column in COLUMNS[:2] if column not in table.column_names]
    kinds = {
        column: str(table.schema.field(column).type) for column in COLUMNS if column in table.column_names
    }
    problems += [
        f"{column} is {kind}" for column, kind in kinds.items() if not kind.startswith(_KINDS[column])
    ]
    if problems or table["minute_utc"].null_count:
        problems = problems or ["minute_utc has empty cells"]
        raise BadInputError(
            f"{file.name} cannot be taken: {'; '.join(problems)}.",
            where=name,
            cure="minute_utc is a timestamp or whole minutes since 1970 (UTC); ph and temp_c are numbers.",
        )
    values = [_numbers(table, column) for column in COLUMNS[1:]]
    return _minutes(table["minute_utc"]), values[0], values[1]


def _minutes(column: Any) -> Minutes:  # noqa: ANN401 - pyarrow has no types
    kind = str(column.type)
    if not kind.startswith("timestamp"):
        return np.asarray(column.to_numpy(), dtype=np.int64)
    moments = column.to_numpy().astype("datetime64[us]").astype(np.int64)
    return np.asarray(moments // _MINUTE_US)


def _numbers(table: Any, column: str) -> Floats:  # noqa: ANN401 - pyarrow has no types
    if column not in table.column_names:
        return np.full(table.num_rows, np.nan)
    return np.asarray(table[column].to_numpy(), dtype=np.float64)
