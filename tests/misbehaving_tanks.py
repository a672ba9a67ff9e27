"""Tanks that misbehave: what their names say befalls the process that judges them."""

import os
import signal
import time
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from dawnlevel.desk.steadiness.watch import WatchView
from dawnlevel.errors import NotEnoughRecordsError, StoreUnreachableError

NOW = datetime(2026, 5, 28, 12, tzinfo=UTC)


def a_view() -> WatchView:
    """What is said of a tank of which nothing is said."""
    return WatchView((), (), (), 0, 0, 0, 0, is_long_enough=False, timezone="UTC")


@dataclass(frozen=True)
class Misbehaving:
    """Tanks by number; what their names say befalls the process that judges them.

    `once`: killed the first time; `always`: killed every time; `raises`: an error nobody foresaw; `empty`:
    no log; `gone`: the whole place cannot be read; `slow`: takes a second.
    """

    folder: str
    tanks: tuple[str, ...]
    place: str = "nowhere"

    def names(self) -> list[str]:
        """The names given."""
        return list(self.tanks)

    def watch(self, name: str, as_of: datetime) -> WatchView:
        """Misbehave as the name says."""
        del as_of
        with (Path(self.folder) / "seen").open("a", encoding="utf-8") as seen:
            seen.write(f"{name}\n")
        mark = Path(self.folder) / f"{name}.mark"
        is_first = not mark.exists()
        mark.touch()
        if "always" in name or ("once" in name and is_first):
            os.kill(os.getpid(), signal.SIGKILL)
        if "raises" in name:
            raise ZeroDivisionError(name)
        if "empty" in name:
            raise NotEnoughRecordsError("No probe's log is stored.", where=name, cure="Bring one in.")
        if "gone" in name:
            raise StoreUnreachableError("The disk is gone.", where="disk", cure="Plug it in.")
        if "slow" in name:
            time.sleep(1.0)
        return a_view()
