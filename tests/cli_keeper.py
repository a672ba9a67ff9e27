"""A keeper at the command line of their own store, for the tests of the shelf's commands."""

import json
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from dawnlevel.cli.app import run
from dawnlevel.store import open_store
from dawnlevel.tank import Record

# Wednesday 6 May 2026, 12:30 in Madrid.
NOW = datetime(2026, 5, 6, 10, 30, tzinfo=UTC)
DESCRIBE = (
    "tank describe Brook --volume 180L --depth 45cm --lights 13:00-21:00 --timezone Europe/Madrid "
    "--since 2026-01-01"
)


@dataclass
class Outcome:
    """What a command left behind."""

    code: int
    out: str
    err: str

    @property
    def data(self) -> Any:
        return json.loads(self.out)["data"]

    @property
    def error(self) -> Any:
        return json.loads(self.out)["error"]


class Keeper:
    """Types commands at a frozen time."""

    def __init__(
        self, place: Path, patch: pytest.MonkeyPatch, said: pytest.CaptureFixture[str], now: datetime = NOW
    ) -> None:
        self.place = str(place / "records.db")
        self.said = said
        patch.setenv("DAWNLEVEL_NOW", now.isoformat())
        patch.setenv("DAWNLEVEL_STORE", self.place)
        patch.delenv("DAWNLEVEL_TANK", raising=False)

    def __call__(self, line: str, *whole: str) -> Outcome:
        """What a line, split at blanks, and arguments taken whole left behind."""
        self.said.readouterr()
        code = run([*line.split(), *whole])
        told = self.said.readouterr()
        return Outcome(code, told.out, told.err)

    def standing(self) -> list[Record]:
        with open_store(self.place) as store:
            return [stored.record for stored in store.records("Brook")]
