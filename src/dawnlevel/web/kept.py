"""What the web keeps for itself, beside the records and never among them.

Records are facts about tanks: immutable, exported, moved to other computers, perhaps shared in PostgreSQL.
That a device may enter this server is none of that: it is taken back, and means nothing elsewhere. So
devices, the tokens of entries that were already taken, and files that wait for a yes live in a small SQLite
file of the web's own, and the key that signs cookies in another; both can be read and written by their owner
alone.
"""

import hashlib
import os
import secrets
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from dawnlevel.store.engine import default_folder, store_url
from dawnlevel.store.failures import translated
from dawnlevel.store.patience import Patience

_KEY_BYTES = 32
_TABLES = """
CREATE TABLE IF NOT EXISTS devices (
    id TEXT PRIMARY KEY, name TEXT NOT NULL, is_local INTEGER NOT NULL,
    paired_at TEXT NOT NULL, seen_at TEXT NOT NULL
);
CREATE TABLE IF NOT EXISTS entries (
    token TEXT PRIMARY KEY, tank TEXT NOT NULL, records TEXT NOT NULL, ids TEXT, taken_at TEXT NOT NULL
);
CREATE TABLE IF NOT EXISTS uploads (
    token TEXT PRIMARY KEY, device TEXT NOT NULL, tank TEXT NOT NULL, name TEXT NOT NULL,
    content BLOB, taken INTEGER, sent_at TEXT NOT NULL
);
"""


def keep_for(store: str | None) -> Path:
    """Folder and first letters of the web's own files for a store's path or address."""
    url = store_url(store)
    if url.get_backend_name() == "sqlite" and url.database and url.database != ":memory:":
        return Path(url.database).expanduser().absolute().with_suffix(".web")
    named = hashlib.sha256(url.render_as_string(hide_password=True).encode()).hexdigest()[:12]
    return default_folder() / f"web-{named}"


def _own(path: Path) -> None:
    """Make `path` where it is not there, and let nobody but its owner read or write it."""
    os.close(os.open(path, os.O_RDWR | os.O_CREAT, 0o600))
    path.chmod(0o600)


class Kept:
    """The web's own file, open. One connection, one caller at a time."""

    def __init__(self, keep: Path) -> None:
        self.place = str(keep)
        file = keep.with_suffix(keep.suffix + ".sqlite3")
        with translated(self.place):
            keep.parent.mkdir(parents=True, exist_ok=True)
            self.key = _read_key(keep.with_suffix(keep.suffix + ".key"))
            _own(file)
            self._connection = sqlite3.connect(file, timeout=2.0, check_same_thread=False)
            Patience().until_free(lambda: self._connection.executescript(_TABLES))
        self._lock = threading.Lock()

    @contextmanager
    def changing(self) -> Iterator[sqlite3.Connection]:
        """One transaction; StoreError where the file cannot be used."""
        with self._lock, translated(self.place), self._connection:
            yield self._connection

    def close(self) -> None:
        """Close the file."""
        with self._lock:
            self._connection.close()


def _read_key(path: Path) -> str:
    """The key that signs cookies and forms, made at the first start."""
    _own(path)
    found = path.read_text(encoding="ascii")
    if len(found) < 2 * _KEY_BYTES:
        found = secrets.token_hex(_KEY_BYTES)
        path.write_text(found, encoding="ascii")
    return found
