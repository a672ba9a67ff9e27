"""Entries are taken exactly once, however often they are sent: by a double tap, late, or after a crash.

Every entry carries a token made with the form. Before the records are stored, token and records are noted in
the web's own file; after, the records' numbers. A token that has numbers gives them back. One that has none
was cut off half-way: if its records are in the store they are found there by kind, value and exact moment,
else they are stored now, with the moment they had.
"""

import json
import secrets
import threading
from collections.abc import Sequence
from datetime import datetime, timedelta

from dawnlevel.desk.records import record_all
from dawnlevel.errors import BadInputError
from dawnlevel.store import Store
from dawnlevel.store.codec import record_from_dict, record_to_dict
from dawnlevel.store.merging import record_key
from dawnlevel.tank import Record
from dawnlevel.web.kept import Kept
from dawnlevel.web.settings import Clock

KEPT_FOR = timedelta(days=180)  # longer than any device keeps an entry it could not send


def new_token() -> str:
    """A token for one entry."""
    return secrets.token_urlsafe(16)


class Entries:
    """Takes records under a token, once."""

    def __init__(self, store: Store, kept: Kept, clock: Clock) -> None:
        self._store = store
        self._kept = kept
        self._clock = clock
        self._lock = threading.Lock()

    def take(
        self, tank: str, token: str, new: Sequence[Record], now: datetime, *, force: bool = False
    ) -> tuple[list[int], bool]:
        """Store `new` for `tank` unless `token` was taken before; the numbers, and whether they are new.

        Errors as for `record_all`; a token whose records are refused may be used again.
        """
        with self._lock:
            known = self._known(token)
            if known is not None:
                return self._again(tank, token, known, now, force=force), False
            self._note(tank, token, new)
            return self._store_now(tank, token, new, now, force=force), True

    def _known(self, token: str) -> tuple[str, str, str | None] | None:
        query = "SELECT tank, records, ids FROM entries WHERE token = ?"
        with self._kept.changing() as connection:
            found: tuple[str, str, str | None] | None = connection.execute(query, (token,)).fetchone()
        return found

    def _note(self, tank: str, token: str, new: Sequence[Record]) -> None:
        row = (token, tank, json.dumps([record_to_dict(one) for one in new]), self._clock().isoformat())
        oldest = (self._clock() - KEPT_FOR).isoformat()
        with self._kept.changing() as connection:
            connection.execute("DELETE FROM entries WHERE taken_at < ?", (oldest,))
            connection.execute(
                "INSERT INTO entries (token, tank, records, taken_at) VALUES (?, ?, ?, ?)", row
            )

    def _store_now(
        self, tank: str, token: str, new: Sequence[Record], now: datetime, *, force: bool
    ) -> list[int]:
        try:
            ids = [stored.id for stored in record_all(self._store, tank, new, now, force=force)]
        except Exception:
            with self._kept.changing() as connection:
                connection.execute("DELETE FROM entries WHERE token = ?", (token,))
            raise
        self._number(token, ids)
        return ids

    def _again(
        self, tank: str, token: str, known: tuple[str, str, str | None], now: datetime, *, force: bool
    ) -> list[int]:
        its_tank, records, ids = known
        if its_tank != tank:
            raise BadInputError(
                "This entry was recorded for another tank already.",
                where="entry",
                cure="Open the page anew, then enter it again.",
            )
        if ids is not None:
            return [int(one) for one in json.loads(ids)]
        new = [record_from_dict(one) for one in json.loads(records)]
        found = self._in_store(tank, new)
        if found is None:
            return self._store_now(tank, token, new, now, force=force)
        self._number(token, found)
        return found

    def _in_store(self, tank: str, new: Sequence[Record]) -> list[int] | None:
        """The numbers of exactly these records, also where they were corrected since; None unless all."""
        there = {
            record_key(entry.record): entry.id
            for entry in self._store.history(tank)
            if entry.record is not None
        }
        ids = [there[record_key(one)] for one in new if record_key(one) in there]
        return ids if len(ids) == len(new) else None

    def _number(self, token: str, ids: Sequence[int]) -> None:
        with self._kept.changing() as connection:
            connection.execute("UPDATE entries SET ids = ? WHERE token = ?", (json.dumps(list(ids)), token))
