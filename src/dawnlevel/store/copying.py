"""Copies of an SQLite store: made while others use it, and never believed before they were read again.

The copy is SQLite's own online backup (https://www.sqlite.org/backup.html): one consistent moment of the
store, whoever reads or writes meanwhile.
"""

import hashlib
import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy.engine import URL

from dawnlevel.errors import BadInputError, DamagedStoreError, StoreUnreachableError
from dawnlevel.store.failures import translated
from dawnlevel.store.patience import LOOK_S, Patience
from dawnlevel.store.schema import CURRENT_VERSION, KNOWN_VERSIONS, TABLES, VERSION_TABLE

_PATIENCE = Patience()


@dataclass(frozen=True, slots=True)
class Content:
    """What a store holds: its schema version, rows by table, and a digest (SHA-256) over every row."""

    version: str
    rows: dict[str, int]
    digest: str


def file_of(url: URL) -> Path:
    """The file of an SQLite store; BadInputError where the store is in memory or a PostgreSQL database."""
    if url.get_backend_name() != "sqlite":
        address = url.set(drivername="postgresql").render_as_string(hide_password=True)
        raise BadInputError(
            "A PostgreSQL store is copied by its own tools.",
            where=address,
            cure=f"Write: pg_dump --format=custom --file=dawnlevel.dump '{address}'; back: pg_restore.",
        )
    if not url.database or url.database == ":memory:":
        raise BadInputError(
            "A store in memory has no file to copy.", where="store", cure="Name a file with --store."
        )
    return Path(url.database).absolute()


@contextmanager
def _opened(path: Path, *, is_writing: bool = False) -> Iterator[sqlite3.Connection]:
    """A connection of our own; a file that is not there is made only for writing."""
    mode = "rwc" if is_writing else "rw" if os.access(path.parent, os.W_OK) else "ro"
    connection = sqlite3.connect(
        f"{path.as_uri()}?mode={mode}", uri=True, timeout=LOOK_S, isolation_level=None
    )
    with closing(connection):
        yield connection


def content_of(path: Path, patience: Patience = _PATIENCE) -> Content:
    """What the store at `path` holds; DamagedStoreError where SQLite finds it damaged."""
    with translated(str(path)), _opened(path) as connection:
        return _content(connection, path, patience)


def _content(connection: sqlite3.Connection, path: Path, patience: Patience) -> Content:
    """From the first look on it is one moment of the store, until the connection is closed."""
    try:
        patience.begin(connection, writes=False)
        (verdict,) = connection.execute("PRAGMA integrity_check(1)").fetchone()
        broken = connection.execute("PRAGMA foreign_key_check").fetchone()
    except sqlite3.DatabaseError as error:
        if getattr(error, "sqlite_errorname", "").startswith(("SQLITE_BUSY", "SQLITE_CANTOPEN")):
            raise
        verdict, broken = str(error), None
    if verdict != "ok" or broken is not None:
        raise DamagedStoreError(str(path), verdict if verdict != "ok" else f"a row of {broken[0]} hangs")
    digest, rows = hashlib.sha256(), {}
    try:
        (version,) = connection.execute(f"SELECT version_num FROM {VERSION_TABLE}").fetchone()  # noqa: S608 - ours
        for table in TABLES.get(version, TABLES[CURRENT_VERSION]):
            rows[table] = 0
            for row in connection.execute(f"SELECT * FROM {table} ORDER BY id"):  # noqa: S608 - a name of ours
                digest.update(repr(row).encode())
                rows[table] += 1
    except (sqlite3.OperationalError, TypeError) as error:
        raise StoreUnreachableError(
            "The file is no Dawnlevel store.",
            where=str(path),
            cure="Name a file that dawnlevel backup wrote.",
        ) from error
    return Content(str(version), rows, digest.hexdigest())


def copy_store(source: Path, target: Path, patience: Patience = _PATIENCE) -> Content:
    """Copy the store at `source` to a new file `target`, while others use it; what the copy holds.

    The copy is read again and compared, row by row, with what the source held at that moment; it appears
    under its name only then. BadInputError where `target` is there already; StoreError where it cannot be
    read or written.
    """
    if target.exists():
        raise BadInputError("It is there already.", where=str(target), cure="Choose another name.")
    part = target.with_name(target.name + ".part")
    part.unlink(missing_ok=True)
    try:
        with translated(str(source)), _opened(source) as connection:
            held = _content(connection, source, patience)
            with translated(str(target)):
                with _opened(part, is_writing=True) as copy:
                    connection.backup(copy, progress=patience.while_copying())
                    copy.execute("PRAGMA journal_mode=DELETE")  # one file alone, to be carried anywhere
                _sync(part)
        _check_same(part, held)
        with translated(str(target)):
            part.rename(target)
            _sync(target.parent)
    except BaseException:
        with suppress(OSError):
            part.unlink()
        raise
    return held


def _sync(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def pour(source: Path, target: Path, patience: Patience = _PATIENCE) -> None:
    """Put what the store at `source` holds in the place of all that the store at `target` holds.

    In one transaction of `target`'s, so that programs that have it open see the old or the new, whole.
    """
    held = content_of(source)
    check_version(held, source)
    with translated(str(target)), _opened(source) as connection, _opened(target, is_writing=True) as live:
        connection.backup(live, progress=patience.while_copying())
        patience.until_free(lambda: live.execute("PRAGMA journal_mode=WAL"))
    _check_same(target, held)


def _check_same(path: Path, held: Content) -> None:
    if content_of(path) != held:
        raise DamagedStoreError(str(path), "it does not hold what it was copied from")


def check_version(held: Content, path: Path) -> None:
    """Raise StoreUnreachableError for a copy of a newer version."""
    if held.version not in KNOWN_VERSIONS:
        raise StoreUnreachableError(
            f"It was written by a newer Dawnlevel (schema {held.version}); nothing was changed.",
            where=str(path),
            cure="Update Dawnlevel.",
        )
