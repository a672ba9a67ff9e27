"""The statements on probe logs: each takes an open connection, none opens or commits anything.

A batch never crosses midnight UTC, so that a few days are read without the rest, and thinned by whole days.
"""

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from typing import Any

import numpy as np
import numpy.typing as npt
from sqlalchemy import ColumnElement, Connection, Select, delete, func, insert, select

from dawnlevel.errors import BadInputError
from dawnlevel.store.batches import FinerSamples, SampleBatch, SampleImport, SamplesAdded, Thinning
from dawnlevel.store.gathering import gather, newest_us
from dawnlevel.store.packing import Rows, as_samples, digest_of, digest_of_withdrawal, pack, rounded, unpack
from dawnlevel.store.schema import from_us, sample_batches, sample_thinnings, tanks, to_us
from dawnlevel.tank.samples import Samples

DAY_MIN = 1440
_MINUTE_US = 60_000_000
_FEW = 60  # readings at once, up to which they come from a live probe and are gathered later (judgement)
_SOURCE_LIMIT = 200  # characters of the sources of thinned readings (judgement)
_LAST = (1 << 62) // _MINUTE_US  # a minute after all others

_later = sample_batches.alias("later")
_STANDING: Select[Any] = (
    select(sample_batches.c.step_min, sample_batches.c.payload)
    .join_from(sample_batches, _later, _later.c.withdraws == sample_batches.c.id, isouter=True)
    .where(_later.c.id.is_(None), sample_batches.c.withdraws.is_(None))
    .order_by(sample_batches.c.recorded_at_us, sample_batches.c.id)
)


def to_minute(moment: datetime) -> int:
    """The minute since 1970-01-01T00:00Z in which an aware moment lies."""
    return to_us(moment) // _MINUTE_US


def hold(connection: Connection, tank_row: int) -> None:
    """Let nobody else write to the tank's log until the transaction ends."""
    connection.execute(select(tanks.c.id).where(tanks.c.id == tank_row).with_for_update(key_share=True)).one()


def standing(
    connection: Connection, tank_row: int, first: int, last: int
) -> tuple[Rows, npt.NDArray[np.int64]]:
    """Readings that count with first <= minute <= last: rows, shape (3, n), and each one's step [min]."""
    query = _STANDING.where(
        sample_batches.c.tank_id == tank_row,
        sample_batches.c.first_minute.between(first - DAY_MIN, last),
        sample_batches.c.last_minute >= first,
    )
    found = connection.execute(query).all()
    if not found:
        return np.zeros((3, 0), dtype=np.int64), np.zeros(0, dtype=np.int64)
    parts = [unpack(payload) for _, payload in found]
    rows = np.concatenate(parts, axis=1)
    steps = np.repeat([step for step, _ in found], [part.shape[1] for part in parts])
    order = np.argsort(rows[0], kind="stable")  # of a minute the one written down last comes last
    minutes = rows[0][order]
    counts = np.append(minutes[1:] != minutes[:-1], True) & (minutes >= first) & (minutes <= last)
    return rows[:, order[counts]], steps[order[counts]].astype(np.int64)


def samples(connection: Connection, tank_row: int, since: datetime | None, until: datetime | None) -> Samples:
    """The readings that count with since <= minute <= until."""
    first = -_LAST if since is None else -((-to_us(since)) // _MINUTE_US)
    last = _LAST if until is None else to_minute(until)
    return as_samples(standing(connection, tank_row, first, last)[0])


def add(
    connection: Connection, tank_row: int, new: Samples, source: str, recorded_at: datetime
) -> SamplesAdded:
    """Write down the readings that are not there yet, or are there with other values."""
    if not len(new):
        return SamplesAdded(0, 0, 0)
    hold(connection, tank_row)
    now_us = _not_before_last(connection, tank_row, recorded_at)
    added = _add_rows(connection, tank_row, rounded(new), source, 1, now_us)
    if len(new) <= _FEW and added.new + added.changed:
        gather(connection, tank_row, int(new.minute_utc[-1]), now_us)
    return added


def _not_before_last(connection: Connection, tank_row: int, recorded_at: datetime) -> int:
    """When it is written down, later than what was written down last: the last one counts, each is one."""
    return max(to_us(recorded_at), 1 + newest_us(connection, tank_row))


def _add_rows(
    connection: Connection, tank_row: int, rows: Rows, source: str, step_min: int, recorded_at_us: int
) -> SamplesAdded:
    days = rows[0, [0, -1]] // DAY_MIN
    there, steps = standing(connection, tank_row, int(days[0]) * DAY_MIN, int(days[1] + 1) * DAY_MIN - 1)
    covered = _is_covered(rows[0], step_min, there[0], steps)
    alike = there[:, steps == step_min]
    place = np.searchsorted(alike[0], rows[0])
    inside = np.minimum(place, max(alike.shape[1] - 1, 0))
    known = (alike[0][inside] == rows[0]) if alike.shape[1] else np.zeros(rows.shape[1], dtype=bool)
    same = known & (alike[:, inside] == rows).all(axis=0) if alike.shape[1] else known
    wanted = ~covered & ~same
    insert_batches(connection, tank_row, _batches(rows[:, wanted], source, step_min, recorded_at_us))
    return SamplesAdded(
        int((wanted & ~known).sum()),
        int((wanted & known).sum()),
        int(same.sum()),
        int((covered & ~same).sum()),
    )


def _is_covered(
    minutes: npt.NDArray[np.int64],
    step_min: int,
    there: npt.NDArray[np.int64],
    steps: npt.NDArray[np.int64],
) -> npt.NDArray[np.bool_]:
    """Which minutes lie in a time that has readings of another step already."""
    covered = np.zeros(minutes.size, dtype=bool)
    for other in np.unique(steps[steps != step_min]):
        width = max(int(other), step_min)
        covered |= np.isin(minutes // width, there[steps == other] // width)
    return covered


def _batches(rows: Rows, source: str, step_min: int, recorded_at_us: int) -> Iterator[dict[str, object]]:
    """A row for each UTC day of readings."""
    day = rows[0] // DAY_MIN
    for part in np.split(rows, np.flatnonzero(np.diff(day)) + 1, axis=1) if rows.shape[1] else []:
        yield {
            "source": source,
            "step_min": step_min,
            "first_minute": int(part[0, 0]),
            "last_minute": int(part[0, -1]),
            "readings": part.shape[1],
            "payload": pack(part),
            "recorded_at_us": recorded_at_us,
            "digest": digest_of(part, source, step_min, recorded_at_us),
        }


def insert_batches(connection: Connection, tank_row: int, new: Iterator[dict[str, object]]) -> None:
    """Rows for batches, in their order."""
    found = [{"tank_id": tank_row, **one} for one in new]
    if found:
        connection.execute(insert(sample_batches), found)


def batches(connection: Connection, tank_row: int) -> list[SampleBatch]:
    """Every batch of the tank, withdrawn ones and withdrawals too, in the order of their numbers."""
    table = sample_batches.c
    query = select(
        table.id, table.source, table.step_min, table.first_minute, table.last_minute, table.readings,
        table.payload, table.recorded_at_us, table.digest, table.withdraws,
    ).where(table.tank_id == tank_row)  # fmt: skip
    return [
        SampleBatch(*row[:6], bytes(row.payload), from_us(row.recorded_at_us), row.digest, row.withdraws)
        for row in connection.execute(query.order_by(table.id))
    ]


def span(connection: Connection, tank_row: int) -> tuple[datetime, datetime] | None:
    """The first and the last minute that counts (UTC); None without any."""
    query = _STANDING.with_only_columns(
        func.min(sample_batches.c.first_minute), func.max(sample_batches.c.last_minute)
    ).where(sample_batches.c.tank_id == tank_row)
    first, last = connection.execute(query.order_by(None)).one()
    return None if first is None else (from_us(first * _MINUTE_US), from_us(last * _MINUTE_US))


def imports(connection: Connection, tank_row: int) -> list[SampleImport]:
    """What was written down in one go and stands, in the order in which it was."""
    table = sample_batches.c
    together = (table.source, table.step_min, table.recorded_at_us)
    query = (
        _STANDING.with_only_columns(
            func.min(table.id), *together, func.min(table.first_minute), func.max(table.last_minute),
            func.sum(table.readings),
        )
        .where(table.tank_id == tank_row)
        .group_by(*together)
        .order_by(None)
        .order_by(table.recorded_at_us, func.min(table.id))
    )  # fmt: skip
    return [
        SampleImport(row[0], row[1], row[2], row[4], row[5], int(row[6]), from_us(row[3]))
        for row in connection.execute(query)
    ]


def withdraw(connection: Connection, batch_id: int, recorded_at: datetime) -> int:
    """Withdraw all that was written down together with a batch; how many minutes. BadInputError."""
    table = sample_batches.c
    asked = connection.execute(select(sample_batches).where(table.id == batch_id)).one_or_none()
    together: list[Any] = []
    if asked is not None and asked.withdraws is None:
        hold(connection, asked.tank_id)
        query = _STANDING.with_only_columns(*sample_batches.c).where(
            table.tank_id == asked.tank_id,
            table.source == asked.source,
            table.recorded_at_us == asked.recorded_at_us,
        )
        together = list(connection.execute(query))
    if not together:
        raise BadInputError(
            f"There is no import {batch_id}, or it is withdrawn already.",
            where="store",
            cure="List them with: dawnlevel probe list",
        )
    now_us = _not_before_last(connection, asked.tank_id, recorded_at) if asked is not None else 0
    for one in together:
        insert_withdrawal(connection, one.tank_id, one, now_us)
    return sum(int(one.readings) for one in together)


def insert_withdrawal(connection: Connection, tank_row: int, withdrawn: Any, recorded_at_us: int) -> None:  # noqa: ANN401 - a row or a batch
    """The row that withdraws a batch."""
    connection.execute(
        insert(sample_batches),
        {
            "tank_id": tank_row,
            "source": withdrawn.source,
            "step_min": withdrawn.step_min,
            "first_minute": withdrawn.first_minute,
            "last_minute": withdrawn.last_minute,
            "readings": withdrawn.readings,
            "payload": b"",
            "recorded_at_us": recorded_at_us,
            "digest": digest_of_withdrawal(withdrawn.digest, recorded_at_us),
            "withdraws": withdrawn.id,
        },
    )


def thinnings(connection: Connection, tank_row: int) -> list[Thinning]:
    """Every thinning of the tank's log, in the order in which they were done."""
    table = sample_thinnings.c
    query = select(
        table.before_minute, table.step_min, table.readings_before, table.readings_after, table.recorded_at_us
    ).where(table.tank_id == tank_row)
    return [Thinning(*row[:4], from_us(row[4])) for row in connection.execute(query.order_by(table.id))]


def finer(connection: Connection, tank_row: int, before: datetime, step_min: int) -> FinerSamples:
    """The readings of whole days before a midnight (UTC) that are finer than `step_min`."""
    rows, steps = standing(connection, tank_row, -_LAST, to_minute(before) - 1)
    query = select(func.sum(sample_batches.c.readings)).where(
        *_is_finer(tank_row, to_minute(before), step_min), sample_batches.c.withdraws.is_(None)
    )
    return FinerSamples(as_samples(rows[:, steps < step_min]), int(connection.scalar(query) or 0))


def _is_finer(tank_row: int, before_minute: int, step_min: int) -> tuple[ColumnElement[bool], ...]:
    table = sample_batches.c
    return table.tank_id == tank_row, table.last_minute < before_minute, table.step_min < step_min


def thin(
    connection: Connection,
    tank_row: int,
    before: datetime,
    step_min: int,
    thinned: Callable[[Samples], Samples],
    recorded_at: datetime,
) -> Thinning | None:
    """Put thinned readings in the place of finer ones before a midnight (UTC); None where there are none.

    First the new ones and the note of what is done, then the old ones go: the note is what lets them.
    """
    hold(connection, tank_row)
    found = finer(connection, tank_row, before, step_min)
    if not found.stored:
        return None
    table, before_minute = sample_batches.c, to_minute(before)
    are_finer = _is_finer(tank_row, before_minute, step_min)
    up_to = int(connection.scalar(select(func.max(table.id)).where(*are_finer)) or 0)
    sources = connection.scalars(select(table.source).where(*are_finer).distinct().order_by(table.source))
    source = f"thinned: {', '.join(sources)}"[:_SOURCE_LIMIT]
    now_us = _not_before_last(connection, tank_row, recorded_at)
    rows = rounded(thinned(found.samples)) if len(found.samples) else np.zeros((3, 0), dtype=np.int64)
    insert_batches(connection, tank_row, _batches(rows, source, step_min, now_us))
    done = Thinning(before_minute, step_min, len(found.samples), rows.shape[1], from_us(now_us))
    _insert_thinning(connection, tank_row, done, up_to)
    connection.execute(delete(sample_batches).where(*are_finer, table.id <= up_to))
    return done


def revision(connection: Connection, tank_row: int) -> int:
    """A number that grows with every batch written down for the tank; 0 without any."""
    query = select(func.max(sample_batches.c.id)).where(sample_batches.c.tank_id == tank_row)
    return connection.scalar(query) or 0


def merge(
    connection: Connection, tank_row: int, theirs: Sequence[SampleBatch], thinned: Sequence[Thinning]
) -> int:
    """Bring in what is new of another store's batches of the tank; how many readings.

    Batches are known by their digests; gathered in one store and not in the other, by their readings: all
    of them count here, or stand in one batch of the source that was written down then or later, withdrawn or
    not. A withdrawal of a batch that is part of a larger one here withdraws nothing here. A time that both
    keep, at different steps, stays as it is here.
    """
    hold(connection, tank_row)
    ours = batches(connection, tank_row)
    left: dict[str, list[SampleBatch]] = {}
    for one in ours:
        left.setdefault(one.digest, []).append(one)
    steps = {one.step_min for one in ours}
    taken_back = {one.withdraws for one in theirs}
    known: dict[int, SampleBatch] = {}
    brought = 0
    for batch in theirs:
        if left.get(batch.digest):
            known[batch.id] = left[batch.digest].pop(0)
        elif batch.withdraws is not None:
            if batch.withdraws in known:
                withdrawn = known[batch.withdraws]
                if not _is_withdrawn(connection, withdrawn.id):
                    insert_withdrawal(connection, tank_row, withdrawn, to_us(batch.recorded_at))
        elif batch.id not in taken_back and (
            _is_part(batch, ours) or (ours and _is_there(connection, tank_row, batch))
        ):
            continue
        elif steps - {batch.step_min}:
            if batch.id in taken_back:
                continue
            added = _add_rows(
                connection,
                tank_row,
                unpack(batch.payload),
                batch.source,
                batch.step_min,
                to_us(batch.recorded_at),
            )
            brought += added.new + added.changed
        else:
            known[batch.id] = _insert_known(connection, tank_row, batch)
            brought += batch.readings
    _merge_thinnings(connection, tank_row, thinned)
    return brought


def _is_part(batch: SampleBatch, ours: Sequence[SampleBatch]) -> bool:
    """Whether one of our batches says all that this one says; a later one says it anew."""
    alike = [
        one
        for one in ours
        if one.withdraws is None
        and (one.source, one.step_min) == (batch.source, batch.step_min)
        and one.recorded_at >= batch.recorded_at
        and one.first_minute <= batch.first_minute
        and one.last_minute >= batch.last_minute
    ]
    return any(_holds(unpack(one.payload), unpack(batch.payload)) for one in alike)


def _holds(there: Rows, rows: Rows) -> bool:
    """Whether `rows`, time by time, are among those that are there."""
    place = np.searchsorted(there[0], rows[0])
    inside = np.minimum(place, max(there.shape[1] - 1, 0))
    return bool(there.shape[1] and (there[:, inside] == rows).all())


def _is_there(connection: Connection, tank_row: int, batch: SampleBatch) -> bool:
    """Whether all that a batch says counts here already."""
    rows = unpack(batch.payload)
    there, steps = standing(connection, tank_row, batch.first_minute, batch.last_minute)
    return _holds(there[:, steps == batch.step_min], rows)


def _is_withdrawn(connection: Connection, batch_id: int) -> bool:
    query = select(func.count()).select_from(sample_batches).where(sample_batches.c.withdraws == batch_id)
    return bool(connection.scalar(query))


def _insert_known(connection: Connection, tank_row: int, batch: SampleBatch) -> SampleBatch:
    values = {
        "tank_id": tank_row,
        "source": batch.source,
        "step_min": batch.step_min,
        "first_minute": batch.first_minute,
        "last_minute": batch.last_minute,
        "readings": batch.readings,
        "payload": batch.payload,
        "recorded_at_us": to_us(batch.recorded_at),
        "digest": batch.digest,
    }
    row = connection.scalar(insert(sample_batches).returning(sample_batches.c.id), values)
    return SampleBatch(
        int(row or 0), batch.source, batch.step_min, batch.first_minute, batch.last_minute, batch.readings,
        batch.payload, batch.recorded_at, batch.digest,
    )  # fmt: skip


def _merge_thinnings(connection: Connection, tank_row: int, theirs: Sequence[Thinning]) -> None:
    """Write down what was thinned elsewhere; it takes nothing away here."""
    left = thinnings(connection, tank_row)
    for one in theirs:
        if one in left:
            left.remove(one)
            continue
        _insert_thinning(connection, tank_row, one, 0)


def _insert_thinning(connection: Connection, tank_row: int, done: Thinning, up_to_batch: int) -> None:
    connection.execute(
        insert(sample_thinnings),
        {
            "tank_id": tank_row,
            "before_minute": done.before_minute,
            "step_min": done.step_min,
            "up_to_batch": up_to_batch,
            "readings_before": done.readings_before,
            "readings_after": done.readings_after,
            "recorded_at_us": to_us(done.recorded_at),
        },
    )
