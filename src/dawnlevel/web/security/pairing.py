"""Pairing: a short code shown in the terminal lets one device in, once, for ten minutes."""

import hmac
import secrets
import threading
from dataclasses import dataclass
from datetime import datetime, timedelta

from dawnlevel.web.security.limits import Limit
from dawnlevel.web.settings import Clock

VALID = timedelta(minutes=10)
_LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"  # none that is taken for another
_LENGTH = 8  # 31^8 codes, some 40 bits; with at most 40 guesses a code
_EACH, _ALL = 5, 40


@dataclass(frozen=True, slots=True)
class Code:
    """A pairing code and until when it holds."""

    text: str
    until: datetime


class Pairing:
    """The code that stands now, and the count of guesses at it."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._code: Code | None = None
        self._lock = threading.Lock()
        self._each = Limit(_EACH, VALID, clock)
        self._all = Limit(_ALL, VALID, clock)

    def code(self) -> tuple[Code, bool]:
        """The code that stands, made anew where the last is used or too old; whether it is new."""
        with self._lock:
            if self._code is not None and self._clock() < self._code.until:
                return self._code, False
            text = "".join(secrets.choice(_LETTERS) for _ in range(_LENGTH))
            self._code = Code(f"{text[:4]}-{text[4:]}", self._clock() + VALID)
            return self._code, True

    def wait(self, who: str) -> timedelta:
        """Count a guess by `who`; how long to wait where there were too many."""
        waits = self._each.wait(who) or self._all.wait("all")
        if waits:
            with self._lock:  # whoever guesses on guesses at a code that is gone
                self._code = None
        return waits

    def take(self, guess: str) -> bool:
        """Whether `guess` is the code; it is used up then."""
        wanted = "".join(letter for letter in guess.upper() if letter.isalnum())
        with self._lock:
            code = self._code
            if code is None or self._clock() >= code.until:
                return False
            if not hmac.compare_digest(wanted.encode(), code.text.replace("-", "").encode()):
                return False
            self._code = None
            return True
