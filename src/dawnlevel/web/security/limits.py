"""How often something may be tried."""

import threading
from collections import deque
from collections.abc import Callable
from datetime import datetime, timedelta


class Limit:
    """At most `most` tries within `within`, counted for each who tries."""

    def __init__(self, most: int, within: timedelta, clock: Callable[[], datetime]) -> None:
        self.most = most
        self.within = within
        self._clock = clock
        self._tries: dict[str, deque[datetime]] = {}
        self._lock = threading.Lock()

    def wait(self, who: str) -> timedelta:
        """Count a try; how long `who` must wait if it is one too many, else nought."""
        now = self._clock()
        with self._lock:
            self._drop_old(now)
            tries = self._tries.setdefault(who, deque())
            if len(tries) >= self.most:
                return tries[0] + self.within - now
            tries.append(now)
        return timedelta(0)

    def _drop_old(self, now: datetime) -> None:
        for who in list(self._tries):
            tries = self._tries[who]
            while tries and now - tries[0] >= self.within:
                tries.popleft()
            if not tries:
                del self._tries[who]
