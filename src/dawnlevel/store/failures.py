"""The one place where a database driver's error becomes one of ours, with its cure."""

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import exc

from dawnlevel.errors import (
    DamagedStoreError,
    StoreError,
    StoreFullError,
    StoreLockedError,
    StoreReadOnlyError,
    StoreUnreachableError,
)

_CURES: dict[type[StoreError], tuple[str, str]] = {
    StoreLockedError: (
        "Another program holds the store; nothing was changed.",
        "Close the other program, or wait for it to finish, then try again.",
    ),
    StoreReadOnlyError: (
        "The store cannot be written; nothing was changed.",
        "Give yourself the right to write to the file and its folder, or choose another store with --store.",
    ),
    StoreFullError: (
        "The disk that holds the store is full or refuses to write; nothing was changed.",
        "Make room on the disk, then enter it again.",
    ),
    StoreUnreachableError: (
        "The store cannot be opened.",
        "Check the path or address given with --store, DAWNLEVEL_STORE or DAWNLEVEL_DATA.",
    ),
}

# SQLite's result codes by name: primary codes stand for their extended ones (SQLite documentation,
# "Result and Error Codes"). A write that fails for a quota or a limit comes as an I/O error.
_SQLITE_NAMES: tuple[tuple[str, type[StoreError]], ...] = (
    ("SQLITE_BUSY", StoreLockedError),
    ("SQLITE_LOCKED", StoreLockedError),
    ("SQLITE_READONLY", StoreReadOnlyError),
    ("SQLITE_FULL", StoreFullError),
    ("SQLITE_IOERR_WRITE", StoreFullError),
    ("SQLITE_IOERR_TRUNCATE", StoreFullError),
    ("SQLITE_IOERR_FSYNC", StoreFullError),
    ("SQLITE_IOERR_SHMSIZE", StoreFullError),
    ("SQLITE_IOERR_SHMOPEN", StoreReadOnlyError),
)

# SQLSTATE codes (PostgreSQL documentation, appendix "PostgreSQL Error Codes").
_SQLSTATES: dict[str, type[StoreError]] = {
    "55P03": StoreLockedError,  # lock not available
    "40P01": StoreLockedError,  # deadlock detected
    "40001": StoreLockedError,  # serialization failure
    "25006": StoreReadOnlyError,  # read-only transaction
    "42501": StoreReadOnlyError,  # insufficient privilege
    "53100": StoreFullError,  # disk full
}

_OS_ERRORS: dict[int, type[StoreError]] = {
    errno.EACCES: StoreReadOnlyError,
    errno.EPERM: StoreReadOnlyError,
    errno.EROFS: StoreReadOnlyError,
    errno.ENOSPC: StoreFullError,
    errno.EDQUOT: StoreFullError,
}


def _kind_of_failure(cause: BaseException | None) -> type[StoreError]:
    if isinstance(cause, OSError):
        return _OS_ERRORS.get(cause.errno or 0, StoreUnreachableError)
    if isinstance(cause, sqlite3.Error):
        name = getattr(cause, "sqlite_errorname", "")
        return next((kind for start, kind in _SQLITE_NAMES if name.startswith(start)), StoreUnreachableError)
    return _SQLSTATES.get(getattr(cause, "sqlstate", None) or "", StoreUnreachableError)


def store_error(cause: BaseException | None, place: str) -> StoreError:
    """The error of ours for a driver's or the system's error at `place` (a path or an address)."""
    name = str(getattr(cause, "sqlite_errorname", ""))
    if name.startswith("SQLITE_CORRUPT"):
        return DamagedStoreError(place, str(cause))
    kind = _kind_of_failure(cause)
    what, cure = _CURES[kind]
    if kind is StoreUnreachableError and cause is not None:
        said = cause.strerror if isinstance(cause, OSError) else str(cause)
        reason = (said or "").strip().splitlines()
        what = f"The store cannot be opened or read ({reason[0] if reason else type(cause).__name__})."
    if name == "SQLITE_NOTADB":
        cure += " If it was your store, put back its latest copy: dawnlevel restore FILE --replace"
    return kind(what, where=place, cure=cure)


@contextmanager
def translated(place: str) -> Iterator[None]:
    """Turn any driver's or system error inside the block into a StoreError that names `place`.

    A broken constraint passes through: it says something about the data, not about the store.
    """
    try:
        yield
    except exc.IntegrityError:
        raise
    except exc.DBAPIError as error:
        raise store_error(error.orig, place) from error
    except (sqlite3.Error, OSError) as error:
        raise store_error(error, place) from error
