"""Readings that came in one by one, gathered: many small batches of a day become one that says the same.

A live probe writes a batch a message, hundreds a day; gathered they are a few. Only neighbours in the order
in which they were written down are put together, of one source and none with a minute of another, so that
what counts stays what it was. Withdrawn batches and withdrawals are left alone. It happens in the transaction
that brings a reading in.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from sqlalchemy import Connection, delete, func, insert, select

from dawnlevel.store.packing import digest_of, pack, unpack
from dawnlevel.store.schema import sample_batches, sample_gatherings

_DAY_MIN = 1440
_MOST_TODAY, _MOST_BEFORE = 240, 24
"""So many batches of one source a day are gathered: of the newest day, and of days before it. Each gathering
is a row too; 240 small batches make a message cost some milliseconds (measured)."""

_LOOKED_AT_DAYS = 35  # days before the newest that are looked at (judgement): longer than a holiday

_later = sample_batches.alias("later")


def gather(connection: Connection, tank_row: int, last_minute: int, now_us: int) -> None:
    """Gather what is due up to the day (UTC) of a reading that came in now."""
    table = sample_batches.c
    today = last_minute // _DAY_MIN
    query = (
        select(table.first_minute, table.source)
        .where(
            table.tank_id == tank_row,
            table.first_minute.between((today - _LOOKED_AT_DAYS) * _DAY_MIN, (today + 1) * _DAY_MIN - 1),
            table.withdraws.is_(None),
        )
    )  # fmt: skip
    counts = Counter((first // _DAY_MIN, source) for first, source in connection.execute(query))
    due = {
        day for (day, _), count in counts.items() if count >= (_MOST_TODAY if day == today else _MOST_BEFORE)
    }
    for day in sorted(due):
        for run in _runs(_of_the_day(connection, tank_row, day)):
            _put_together(connection, tank_row, run, now_us)


def _of_the_day(connection: Connection, tank_row: int, day: int) -> Sequence[Any]:
    """The day's batches in the order in which they were written down; `gone` where withdrawn."""
    table = sample_batches.c
    query = (
        select(
            table.id, table.source, table.step_min, table.first_minute, table.payload, table.recorded_at_us,
            _later.c.id.label("gone"),
        )
        .join_from(sample_batches, _later, _later.c.withdraws == table.id, isouter=True)
        .where(
            table.tank_id == tank_row,
            table.first_minute.between(day * _DAY_MIN, (day + 1) * _DAY_MIN - 1),
            table.withdraws.is_(None),
        )
        .order_by(table.recorded_at_us, table.id)
    )  # fmt: skip
    return connection.execute(query).all()


def _runs(batches: Sequence[Any]) -> Iterator[list[Any]]:
    """Neighbours that may be put together, two at least."""
    run: list[Any] = []
    minutes: set[int] = set()
    for batch in batches:
        new = set(unpack(batch.payload)[0].tolist())
        is_alike = bool(run) and (batch.source, batch.step_min) == (run[-1].source, run[-1].step_min)
        if batch.gone is not None or not is_alike or minutes & new or batch.id < run[-1].id:
            if len(run) > 1:
                yield run
            run, minutes = [], set()
        if batch.gone is None:
            run.append(batch)
            minutes |= new
    if len(run) > 1:
        yield run


def _put_together(connection: Connection, tank_row: int, run: Sequence[Any], now_us: int) -> None:
    """One batch in the place of several, where the last one stood, and the note that lets them go."""
    rows = np.concatenate([unpack(one.payload) for one in run], axis=1)
    rows = rows[:, np.argsort(rows[0])]
    last = run[-1]
    values = {
        "tank_id": tank_row,
        "source": last.source,
        "step_min": last.step_min,
        "first_minute": int(rows[0, 0]),
        "last_minute": int(rows[0, -1]),
        "readings": rows.shape[1],
        "payload": pack(rows),
        "recorded_at_us": last.recorded_at_us,
        "digest": digest_of(rows, last.source, last.step_min, last.recorded_at_us),
    }
    whole = connection.scalar(insert(sample_batches).returning(sample_batches.c.id), values)
    numbers = [one.id for one in run]
    note = {
        "tank_id": tank_row,
        "from_batch": numbers[0],
        "up_to_batch": numbers[-1],
        "into_batch": whole,
        "batches": len(numbers),
        "recorded_at_us": now_us,
    }
    connection.execute(insert(sample_gatherings), note)
    connection.execute(delete(sample_batches).where(sample_batches.c.id.in_(numbers)))


def newest_us(connection: Connection, tank_row: int) -> int:
    """When the last of a tank's batches was written down [us]; 0 without any."""
    query = select(func.max(sample_batches.c.recorded_at_us)).where(sample_batches.c.tank_id == tank_row)
    return connection.scalar(query) or 0
