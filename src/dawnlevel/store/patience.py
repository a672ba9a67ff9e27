"""Waiting for a store that another program holds: in short waits, so that Ctrl-C is heard at once."""

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from time import monotonic, sleep
from typing import TypeVar

WAIT_S = 30.0  # a small machine at work on a large log holds a store for some seconds (judgement)
LOOK_S = 0.1  # SQLite's own wait, during which Python hears no Ctrl-C (judgement)
_PAUSE_S = 0.05  # where SQLite refuses without waiting: it saw that nobody would give way
_TOLD_AFTER_S = 2.0  # so long is not noticed by a person at a prompt (judgement)

_HELD = ("SQLITE_BUSY", "SQLITE_LOCKED")
_HELD_CODES = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)

_Given = TypeVar("_Given")


def _silent() -> None:
    """Tell nobody."""


@dataclass(frozen=True, slots=True)
class Patience:
    """How long a held store is waited for [s], and whom to tell, once, that it takes more than a moment."""

    wait_s: float = WAIT_S
    tell: Callable[[], None] = _silent

    def until_free(self, act: Callable[[], _Given]) -> _Given:
        """What `act` gives once the store lets it; SQLite's own error where it is held for too long.

        `act` is done again and again, so it must do nothing where it fails.
        """
        wait = _Wait(self)
        while True:
            try:
                return act()
            except sqlite3.Error as error:
                if not getattr(error, "sqlite_errorname", "").startswith(_HELD) or wait.is_over():
                    raise
            sleep(_PAUSE_S)

    def begin(self, connection: sqlite3.Connection, *, writes: bool) -> None:
        """Begin a transaction once the store lets it, with every lock that can be waited for.

        Writers take theirs at once, for one taken half-way cannot be waited for; readers take their look.
        """
        self.until_free(
            lambda: connection.execute("BEGIN IMMEDIATE") if writes else _begin_reading(connection)
        )

    def while_copying(self) -> Callable[[int, int, int], None]:
        """For `sqlite3.Connection.backup`, which would else wait for ever: called after each of its tries.

        Raises sqlite3.OperationalError where the store is held for too long.
        """
        wait = _Wait(self)

        def check(status: int, _left: int, _total: int) -> None:
            if status & 0xFF in _HELD_CODES and wait.is_over():
                error = sqlite3.OperationalError("database is locked")
                error.sqlite_errorcode, error.sqlite_errorname = status, "SQLITE_BUSY"
                raise error

        return check


class _Wait:
    """One wait, from now on."""

    def __init__(self, patience: Patience) -> None:
        self._patience = patience
        self._begun_s = monotonic()
        self._is_told = False

    def is_over(self) -> bool:
        """Whether it has lasted long enough; whoever waits is told of it in between."""
        waited_s = monotonic() - self._begun_s
        if waited_s >= self._patience.wait_s:
            return True
        if waited_s >= _TOLD_AFTER_S and not self._is_told:
            self._is_told = True
            self._patience.tell()
        return False


def _begin_reading(connection: sqlite3.Connection) -> None:
    connection.execute("BEGIN")
    try:
        connection.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchall()
    except BaseException:
        connection.rollback()
        raise
