"""From a path or an address to a database engine with the settings a record deserves."""

import errno
import os
import sqlite3
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError
from sqlalchemy.pool import StaticPool

from dawnlevel.errors import StoreUnreachableError
from dawnlevel.store.failures import translated
from dawnlevel.store.patience import LOOK_S, Patience

STORE_FILE = "dawnlevel.sqlite3"
_WRITES = "dawnlevel_writes"


def default_folder() -> Path:
    """The folder of the default store: DAWNLEVEL_DATA, else the user's data folder."""
    chosen = os.environ.get("DAWNLEVEL_DATA")
    if chosen:
        return Path(chosen).expanduser()
    from platformdirs import user_data_path  # noqa: PLC0415 - not needed where a place is given

    return user_data_path("dawnlevel", appauthor=False)


def store_url(url_or_path: str | None) -> URL:
    """The database address for what the user gave: a URL, a path, a folder, or nothing.

    Nothing means DAWNLEVEL_STORE, else the default folder, which is made when it is not there.
    """
    given = url_or_path or os.environ.get("DAWNLEVEL_STORE")
    if not given:
        folder = default_folder()
        with translated(str(folder)):
            folder.mkdir(parents=True, exist_ok=True)
        return URL.create("sqlite", database=str(folder / STORE_FILE))
    if "://" in given:
        return _checked_url(given)
    path = Path(given).expanduser()
    return URL.create("sqlite", database=str(path / STORE_FILE if path.is_dir() else path))


def _checked_url(given: str) -> URL:
    try:
        url = make_url(given)
    except (ArgumentError, ValueError) as error:
        raise StoreUnreachableError(
            "The address of the store cannot be read.",
            where="store",
            cure="Give a path, or an address such as postgresql://user@host/database.",
        ) from error
    backend = url.drivername.partition("+")[0]
    if backend in {"postgresql", "postgres"}:
        return url.set(drivername="postgresql+psycopg")
    if backend == "sqlite":
        return url
    raise StoreUnreachableError(
        f"{backend!r} is no kind of store Dawnlevel knows.",
        where="store",
        cure="Give a path, or an address that begins with sqlite:// or postgresql://.",
    )


def place_of(url: URL) -> str:
    """How a store is named in messages: its path, or its address without the password."""
    if url.get_backend_name() == "sqlite":
        return url.database or "store in memory"
    return url.render_as_string(hide_password=True)


def _sqlite_arguments(url: URL) -> tuple[URL, dict[str, Any]]:
    """Address and engine arguments; OSError where there is no folder for a store, or none to make it in.

    A store in a folder that cannot be written is opened as an unchanging file. Without that, SQLite could
    not even read it: its write-ahead log wants a file beside the store.
    """
    database = url.database
    connect: dict[str, Any] = {"timeout": LOOK_S, "check_same_thread": False}
    if not database or database == ":memory:":
        return url, {"connect_args": connect, "poolclass": StaticPool}
    path = Path(database).absolute()
    if not path.parent.is_dir():
        raise FileNotFoundError(errno.ENOENT, f"there is no folder {path.parent}")
    if os.access(path.parent, os.W_OK):
        return url, {"connect_args": connect}
    if not path.exists():
        raise PermissionError(errno.EACCES, f"the folder {path.parent} cannot be written")
    if not path.with_name(path.name + "-wal").exists():
        unchanging = f"{path.as_uri()}?mode=ro&immutable=1"
        return URL.create("sqlite", database=unchanging, query={"uri": "true"}), {"connect_args": connect}
    return url, {"connect_args": connect}


def _settle_sqlite(engine: Engine, patience: Patience) -> None:
    """Leave transactions to us, sync every commit to the disk, hold rows to their tanks, wait for locks."""

    def prepare(connection: sqlite3.Connection, _: object) -> None:
        connection.isolation_level = None
        connection.execute("PRAGMA foreign_keys=ON")
        patience.until_free(lambda: connection.execute("PRAGMA synchronous=FULL"))

    def begin(connection: Connection) -> None:
        raw: Any = connection.connection.driver_connection
        patience.begin(raw, writes=connection.get_execution_options().get(_WRITES, False))

    event.listen(engine, "connect", prepare)
    event.listen(engine, "begin", begin)


def make_engine(url: URL, patience: Patience) -> Engine:
    """An engine for `url`: SQLite synced and checked; both wait for locks as long as `patience` says."""
    if url.get_backend_name() == "sqlite":
        url, arguments = _sqlite_arguments(url)
        engine = create_engine(url, **arguments)
        _settle_sqlite(engine, patience)
        return engine
    waits = f"-c lock_timeout={round(patience.wait_s * 1000)}"
    return create_engine(url, connect_args={"connect_timeout": 5, "options": waits})


def keep_write_ahead_log(engine: Engine, patience: Patience) -> None:
    """Let readers and a writer of an SQLite store work at once; the file remembers it."""
    raw = engine.raw_connection()
    try:
        patience.until_free(lambda: raw.cursor().execute("PRAGMA journal_mode=WAL"))
    finally:
        raw.close()


def writer_of(engine: Engine) -> Engine:
    """The same engine, for transactions that write."""
    return engine.execution_options(**{_WRITES: True})
