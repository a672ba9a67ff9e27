"""Rows of records in one go: PostgreSQL takes many as a COPY, SQLite as one prepared statement."""

from collections.abc import Sequence
from typing import NamedTuple

from sqlalchemy import Connection, func, insert, select, text
from sqlalchemy.exc import DBAPIError

from dawnlevel.store.schema import records

COPY_FROM = 50
"""From so many rows on a COPY is used on PostgreSQL: 10,000 records took 1.0 s, by INSERT 1.7 to 2.3 s
(measured on a busy machine); for a few rows an INSERT does as well."""


class RecordRow(NamedTuple):
    """A row of the table of records, its columns in order."""

    id: int
    tank_id: int
    kind: str
    at_us: int
    payload: str
    recorded_at_us: int
    supersedes: int | None


def reserve_ids(connection: Connection, count: int) -> list[int]:
    """Numbers for `count` new rows, rising; nobody else gets them.

    On SQLite the transaction must be one that writes: it holds the lock, so the next numbers are its own.
    """
    if connection.dialect.name == "postgresql":
        query = text(
            "SELECT nextval(pg_get_serial_sequence('records', 'id')) FROM generate_series(1, :count)"
        )
        return sorted(connection.scalars(query, {"count": count}))
    last = connection.scalar(select(func.max(records.c.id))) or 0
    return list(range(last + 1, last + 1 + count))


def insert_rows(connection: Connection, rows: Sequence[RecordRow]) -> None:
    """Put rows in; what a row supersedes must stand already or come before it."""
    if connection.dialect.name == "postgresql" and len(rows) >= COPY_FROM:
        _copy(connection, rows)
    elif rows:
        connection.execute(insert(records), [row._asdict() for row in rows])


def _copy(connection: Connection, rows: Sequence[RecordRow]) -> None:
    import psycopg  # noqa: PLC0415 - loaded only where a PostgreSQL store is written

    statement = f"COPY records ({', '.join(RecordRow._fields)}) FROM STDIN"
    raw = connection.connection.driver_connection
    try:
        with raw.cursor() as cursor, cursor.copy(statement) as copy:  # type: ignore[union-attr]
            for row in rows:
                copy.write_row(row)
    except psycopg.Error as error:  # told like any other statement's failure
        raise DBAPIError.instance(
            statement, None, error, psycopg.Error, dialect=connection.dialect
        ) from error
