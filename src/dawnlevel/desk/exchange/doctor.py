"""`doctor`: is everything well with the store? It looks and changes nothing."""

import os
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from itertools import pairwise
from pathlib import Path

from sqlalchemy import Engine, text
from sqlalchemy.engine import URL

from dawnlevel.desk.exchange.backup_schedule import read_state
from dawnlevel.desk.records import FUTURE_TOLERANCE
from dawnlevel.errors import DamagedStoreError, DawnlevelError
from dawnlevel.store import Patience, Store
from dawnlevel.store.copying import content_of, file_of
from dawnlevel.store.engine import make_engine, place_of, store_url
from dawnlevel.store.failures import translated
from dawnlevel.store.migrate import stored_version
from dawnlevel.store.schema import CURRENT_VERSION, KNOWN_VERSIONS

_ROOM_LOW = 100_000_000  # bytes; room for years of records and some copies (common practice, no source)
_ROOM_NONE = 5_000_000  # bytes; a write-ahead log of this size is usual (SQLite documentation, WAL)
_LATE_TIMES = 3  # so many times the hours between copies without one is late (own choice)
_SQLITE_NEEDED = (3, 35)  # INSERT ... RETURNING (SQLite release history)
_POSTGRESQL_NEEDED = 12  # the oldest that the tests' statements need; older ones are out of support

_GUARDS = {
    "sqlite": (
        r"SELECT count(*) FROM sqlite_master WHERE type = 'trigger' AND name LIKE :name ESCAPE '\'",
        10,
    ),
    "postgresql": ("SELECT count(*) FROM pg_trigger WHERE tgname LIKE :name", 5),
}
"""How the triggers of the migrations are counted, and how many there are."""


class Health(StrEnum):
    """How one thing is."""

    WELL = "well"
    WATCH = "watch"
    ILL = "ill"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at.

    Attributes:
        name: what was looked at.
        health: how it is.
        found: what was found, in words.
        cure: what to do; empty where it is well.
    """

    name: str
    health: Health
    found: str
    cure: str = ""


@dataclass(frozen=True, slots=True)
class DoctorView:
    """Everything that was looked at.

    Attributes:
        store: where the store is.
        health: the worst that was found.
        findings: each thing, in the order in which it was looked at.
    """

    store: str
    health: Health
    findings: tuple[Finding, ...]


_NO_STORE = Finding("version", Health.ILL, "It is no Dawnlevel store, or an empty one.", "Check --store.")


def examine(place: str | None, now: datetime) -> DoctorView:
    """Look at the store at `place`: database, version, damage, records, clock, disk, rights."""
    url = store_url(place)
    findings = tuple(_findings(url, now))
    order = list(Health)
    worst = max((one.health for one in findings), key=order.index)
    return DoctorView(place_of(url), worst, findings)


def _findings(url: URL, now: datetime) -> Iterator[Finding]:
    is_file = url.get_backend_name() == "sqlite"
    if is_file:
        path = file_of(url)
        yield _disk(path)
        yield _rights(path)
        yield from _copies(str(path), now)
        if not path.exists():
            yield Finding(
                "store", Health.ILL, "There is no store yet.", "Check --store, or describe a tank first."
            )
            return
    engine = None
    try:
        with translated(place_of(url)):
            engine = make_engine(url, Patience())
            yield _database(engine)
            version = _version(engine)
            yield version
            if is_file and version is not _NO_STORE:
                yield _damage(file_of(url))
            if version.health is Health.WELL:
                yield _guards(engine)
                store = Store(engine, place_of(url), lambda: now)
                yield _told("records", lambda: _records(store))
                yield _told("clock", lambda: _clock(store, now))
    except DawnlevelError as error:
        yield Finding("store", Health.ILL, error.what, error.cure)
    finally:
        if engine is not None:
            engine.dispose()


def _entries(count: int) -> str:
    return "1 entry" if count == 1 else f"{count} entries"


def _told(name: str, look: Callable[[], Finding]) -> Finding:
    """What a look finds; an error of ours is a finding too."""
    try:
        return look()
    except DawnlevelError as error:
        place = f"{error.where}: " if error.where else ""
        return Finding(name, Health.ILL, f"{place}{error.what}", error.cure)


def _copies(place: str, now: datetime) -> Iterator[Finding]:
    """What became of the copies that a schedule makes; nothing where none ever ran."""
    state = read_state(place)
    if state is None:
        return
    cure = f"Check the folder {state.folder} and the room there; then: dawnlevel backup --into {state.folder}"
    made = datetime.fromisoformat(state.made_at) if state.made_at else None
    last = "There is no copy yet." if made is None else f"Last copy {made:%Y-%m-%d %H:%M} UTC: {state.file}."
    if state.failure:
        yield Finding("copies", Health.ILL, f"{last} The next one failed: {state.failure}", cure)
    elif made is None or not Path(state.file).is_file():
        yield Finding("copies", Health.ILL, f"{last} It is not there.", cure)
    elif now - made > _LATE_TIMES * timedelta(hours=state.every_h):
        again = f"Serve with --backup-every {state.every_h:g}h --backup-to {state.folder}, or copy by hand."
        yield Finding("copies", Health.WATCH, f"{last} One every {state.every_h:g} h was asked for.", again)
    else:
        yield Finding("copies", Health.WELL, f"{last} One every {state.every_h:g} h.")


def _disk(path: Path) -> Finding:
    folder = next(one for one in path.parents if one.exists())
    free = shutil.disk_usage(folder).free
    size = path.stat().st_size if path.exists() else 0
    said = f"{free / 1e6:,.0f} MB free; the store takes {size / 1e6:.1f} MB."
    if free < max(_ROOM_NONE, 2 * size):
        return Finding("disk", Health.ILL, said, "Make room: the next record, or the next copy, may not fit.")
    if free < _ROOM_LOW:
        return Finding("disk", Health.WATCH, said, "Make room before the disk is full.")
    return Finding("disk", Health.WELL, said)


def _rights(path: Path) -> Finding:
    cure = "Give yourself the right to write to the file and its folder."
    if not path.parent.is_dir():
        return Finding(
            "rights", Health.ILL, f"There is no folder {path.parent}.", "Make it, or check --store."
        )
    if not os.access(path.parent, os.W_OK | os.X_OK):
        return Finding("rights", Health.ILL, "The folder cannot be written; records cannot be added.", cure)
    if path.exists() and not os.access(path, os.R_OK | os.W_OK):
        return Finding("rights", Health.ILL, "The file cannot be written; records cannot be added.", cure)
    if path.exists() and path.stat().st_mode & 0o002:
        return Finding("rights", Health.WATCH, "Anybody on this computer may change it.", f"chmod o-w {path}")
    return Finding("rights", Health.WELL, "It can be read and written.")


def _database(engine: Engine) -> Finding:
    if engine.dialect.name == "sqlite":
        has = sqlite3.sqlite_version_info
        said, is_old = f"SQLite {sqlite3.sqlite_version}.", has < _SQLITE_NEEDED
        needed = ".".join(map(str, _SQLITE_NEEDED))
    else:
        with engine.connect() as connection:
            version = str(connection.scalar(text("SHOW server_version")))
            number = int(connection.scalar(text("SHOW server_version_num")) or 0)
        said, is_old, needed = (
            f"PostgreSQL {version}.",
            number < _POSTGRESQL_NEEDED * 10000,
            str(_POSTGRESQL_NEEDED),
        )
    if is_old:
        return Finding("database", Health.ILL, said, f"Update it: {needed} or newer is needed.")
    return Finding("database", Health.WELL, said)


def _version(engine: Engine) -> Finding:
    with engine.connect() as connection:
        version = stored_version(connection)
    if version == CURRENT_VERSION:
        return Finding("version", Health.WELL, f"Schema {version}, the newest.")
    if version in KNOWN_VERSIONS:
        return Finding(
            "version",
            Health.WATCH,
            f"Schema {version}; this program's is {CURRENT_VERSION}.",
            "Nothing: the next command brings it up to date. A copy first does no harm: dawnlevel backup",
        )
    if version is None:
        return _NO_STORE
    return Finding(
        "version", Health.ILL, f"Schema {version}: a newer Dawnlevel wrote it.", "Update Dawnlevel."
    )


def _damage(path: Path) -> Finding:
    try:
        rows = content_of(path).rows
    except DamagedStoreError as error:
        return Finding("damage", Health.ILL, error.what, error.cure)
    return Finding("damage", Health.WELL, f"None found in {_entries(rows['records'])}.")


def _guards(engine: Engine) -> Finding:
    """Whether the database itself still refuses to change or delete facts."""
    query, wanted = _GUARDS[engine.dialect.name]
    with engine.connect() as connection:
        found = int(connection.scalar(text(query), {"name": r"%\_no\_%"}) or 0)
    if found < wanted:
        return Finding(
            "guards",
            Health.WATCH,
            "The guards that keep records from being changed are not all there; another program took them.",
            "Export an archive and import it into a new store.",
        )
    return Finding("guards", Health.WELL, "The database itself refuses to change or delete a record.")


def _records(store: Store) -> Finding:
    names = store.tank_names()
    count = 0
    for name in names:
        store.tank_versions(name)
        count += len(store.history(name))
    return Finding("records", Health.WELL, f"Everything can be read: {_entries(count)}.")


def _clock(store: Store, now: datetime) -> Finding:
    latest = now + FUTURE_TOLERANCE
    future, stepped = 0, 0
    for name in store.tank_names():
        entries = sorted(store.history(name), key=lambda entry: entry.id)
        future += sum(
            (entry.record is not None and entry.stands and entry.record.at > latest)
            or entry.recorded_at > latest
            for entry in entries
        )
        stepped += sum(
            later.recorded_at < earlier.recorded_at - FUTURE_TOLERANCE for earlier, later in pairwise(entries)
        )
    said = f"It is {now:%Y-%m-%d %H:%M} UTC by this computer."
    if future:
        return Finding(
            "clock",
            Health.WATCH,
            f"{said} {_entries(future)} {'is' if future == 1 else 'are'} from a time still to come.",
            "Set this computer's clock. If it is right, it was wrong then: correct or void these records.",
        )
    if stepped:
        return Finding(
            "clock",
            Health.WATCH,
            f"{said} {stepped} times an entry was written down earlier than the one before it: the clock was "
            "set back, or records were brought in from elsewhere.",
            "Check the times of the records about then: dawnlevel log",
        )
    return Finding("clock", Health.WELL, f"{said} No record is from a time still to come.")
