"""Probe logs in a data package: a table of batches, one of readings, one of thinnings."""

from collections.abc import Iterable, Iterator, Mapping, Sequence

from dawnlevel.desk.advice.gathering import Gathering
from dawnlevel.desk.exchange.archive_log import RawBatch, RawLog, checked_batch
from dawnlevel.errors import BadInputError
from dawnlevel.store import SampleBatch, Store, Thinning
from dawnlevel.store.codec import moment_from_text, moment_to_text
from dawnlevel.store.schema import to_us

BATCHES, READINGS, THINNINGS = LOG_TABLES = ("probe_batches", "probe_log", "probe_thinnings")
Field = dict[str, object]
Cells = dict[str, str]
Reading = tuple[int, float, float]
_NEEDED = {"required": True}


def _field(name: str, kind: str, description: str, **more: object) -> Field:
    return {"name": name, "type": kind, "description": description, "constraints": _NEEDED} | more


_TANK = _field("tank", "string", "The tank's name, as in the table of tanks.")
_RECORDED = _field("recorded_at", "datetime", "When it was written down.")

LOG_FIELDS: dict[str, list[Field]] = {
    BATCHES: [
        _field("id", "integer", "The batch's number.", constraints={"required": True, "unique": True}),
        _TANK,
        _field("source", "string", "Where the readings came from.", constraints={}),
        _field("step_min", "integer", "How many minutes a reading stands for.", unit="min"),
        _RECORDED,
        _field("digest", "string", "SHA-256 of what the batch says."),
        _field("withdraws", "integer", "The number of the batch that this one withdraws.", constraints={}),
    ],
    READINGS: [
        _field("batch", "integer", "The number of its batch."),
        _field("at", "datetime", "The minute of the reading."),
        _field("ph", "number", "pH.", unit="[pH]"),
        _field("temp_c", "number", "Temperature.", unit="Cel", constraints={}),
    ],
    THINNINGS: [
        _TANK,
        _field("before", "datetime", "Readings earlier than this were thinned."),
        _field("step_min", "integer", "To one reading for so many minutes.", unit="min"),
        _field("readings_before", "integer", "How many there were."),
        _field("readings_after", "integer", "How many were left."),
        _RECORDED,
    ],
}
LOG_TITLES = {
    BATCHES: "Batches in which a probe's readings were written down; of a minute the last batch counts.",
    READINGS: "A probe's pH and temperature by the minute.",
    THINNINGS: "What was thinned of the probe logs, by the keeper's choice.",
}


def log_rows(store: Store, names: Sequence[str]) -> dict[str, list[list[str]]]:
    """The rows of the three tables. Times in UTC."""
    rows: dict[str, list[list[str]]] = {table: [] for table in LOG_TABLES}
    for name in names:
        for batch in store.sample_batches(name):
            rows[BATCHES].append(_batch_row(name, batch))
            rows[READINGS] += _reading_rows(batch)
        for one in store.thinnings(name):
            before, recorded = _minute_text(one.before_minute), moment_to_text(one.recorded_at)
            counts = [str(one.readings_before), str(one.readings_after)]
            rows[THINNINGS].append([name, before, str(one.step_min), *counts, recorded])
    return rows


def _batch_row(name: str, batch: SampleBatch) -> list[str]:
    withdraws = "" if batch.withdraws is None else str(batch.withdraws)
    recorded = moment_to_text(batch.recorded_at)
    return [str(batch.id), name, batch.source, str(batch.step_min), recorded, batch.digest, withdraws]


def _minute_text(minute: int) -> str:
    import numpy as np  # noqa: PLC0415 - only probe logs need it

    return f"{np.datetime64(minute, 'm')}:00Z"


def _reading_rows(batch: SampleBatch) -> Iterator[list[str]]:
    if batch.withdraws is not None:
        return
    from dawnlevel.store.packing import NO_TEMP, PH_PARTS, TEMP_PARTS_C, unpack  # noqa: PLC0415 - the same

    rows = unpack(batch.payload)
    times = rows[0].astype("datetime64[m]").astype(str)
    for at, ph, temp in zip(times.tolist(), rows[1].tolist(), rows[2].tolist(), strict=True):
        warm = "" if temp == NO_TEMP else repr(temp / TEMP_PARTS_C)
        yield [str(batch.id), f"{at}:00Z", repr(ph / PH_PARTS), warm]


def read_logs(
    tables: Mapping[str, Iterable[tuple[str, int, Cells]]], names: Iterable[str], gathering: Gathering
) -> dict[str, RawLog]:
    """The probe log of each tank from the rows (place, line, cells) of the tables; bad rows are noted."""
    found = {name: RawLog([], []) for name in names}
    readings = _readings(tables[READINGS], gathering)
    for place, line, cells in tables[BATCHES]:
        with gathering.at(place, line):
            batches = _of(cells, found).batches
            raw = _raw_batch(cells, readings)
            batches.append(checked_batch(raw, batches))
    for place, line, cells in tables[THINNINGS]:
        with gathering.at(place, line):
            _of(cells, found).thinnings.append(_thinning(cells))
    return found


def _of(cells: Cells, logs: Mapping[str, RawLog]) -> RawLog:
    if cells["tank"] not in logs:
        raise BadInputError(
            f"There is no tank {cells['tank']!r} in the table of tanks.",
            where="tank",
            cure="Check the name, or add the tank.",
        )
    return logs[cells["tank"]]


def _whole(cells: Cells, name: str) -> int:
    try:
        return int(cells[name])
    except ValueError as error:
        raise BadInputError(f"{cells[name]!r} is no whole number.", where=name, cure="Check it.") from error


def _readings(rows: Iterable[tuple[str, int, Cells]], gathering: Gathering) -> dict[str, list[Reading]]:
    """Rows of readings by their batch; those that are no reading are noted."""
    found: dict[str, list[Reading]] = {}
    for place, line, cells in rows:
        try:
            at_us = to_us(moment_from_text(cells["at"], "at"))
            reading = (at_us // 60_000_000, float(cells["ph"]), float(cells["temp_c"] or "nan"))
        except BadInputError as error:
            gathering.refuse(place, line, error)
        except ValueError:
            bad = BadInputError("The pH or the temperature is no number.", cure="Check the cells.")
            gathering.refuse(place, line, bad)
        else:
            found.setdefault(cells["batch"], []).append(reading)
    return found


def _raw_batch(cells: Cells, readings: Mapping[str, list[Reading]]) -> RawBatch:
    withdraws = _whole(cells, "withdraws") if cells.get("withdraws") else None
    return RawBatch(
        _whole(cells, "id"),
        cells.get("source", ""),
        _whole(cells, "step_min"),
        moment_from_text(cells["recorded_at"], "recorded_at"),
        cells["digest"],
        b"" if withdraws is not None else _packed(readings.get(cells["id"], [])),
        withdraws,
    )


def _packed(readings: list[Reading]) -> bytes:
    import numpy as np  # noqa: PLC0415 - only probe logs need it

    from dawnlevel.store.packing import pack, rounded  # noqa: PLC0415 - the same
    from dawnlevel.tank.samples import Samples  # noqa: PLC0415 - the same

    if not readings:
        raise BadInputError("The batch has no readings.", cure="Export it anew.")
    minutes, ph, temp = zip(*readings, strict=True)
    return pack(rounded(Samples(np.array(minutes), np.array(ph), np.array(temp))))


def _thinning(cells: Cells) -> Thinning:
    before = moment_from_text(cells["before"], "before")
    return Thinning(
        int(before.timestamp()) // 60,
        _whole(cells, "step_min"),
        _whole(cells, "readings_before"),
        _whole(cells, "readings_after"),
        moment_from_text(cells["recorded_at"], "recorded_at"),
    )
