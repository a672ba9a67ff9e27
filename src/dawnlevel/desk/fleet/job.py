"""One tank's watching as a job that any process can do: a name in, one line of JSON out."""

import json
import time
import traceback
from dataclasses import asdict, dataclass
from datetime import datetime
from importlib.metadata import version
from pathlib import Path
from typing import Protocol

from dawnlevel.desk.as_json import Json, view_to_json
from dawnlevel.desk.steadiness.watch import WatchView
from dawnlevel.errors import BadInputError, DawnlevelError, NotInstalledError, StoreError, StoreLockedError
from dawnlevel.store.codec import moment_to_text

SCHEMA = "dawnlevel/fleet/1"
_WAITS_S = (1.0, 3.0, 9.0)  # a store that somebody else holds is asked again after these (judgement)


class Source(Protocol):
    """Where tanks and their logs are; travels to every worker, so it holds an address and nothing open."""

    @property
    def place(self) -> str:
        """How messages name it."""

    def names(self) -> list[str]:
        """Every tank. StoreError where the place cannot be read, BadInputError where it holds none."""

    def watch(self, name: str, as_of: datetime) -> WatchView:
        """What one tank's readings up to `as_of` (aware) say.

        StoreError or NotInstalledError where no tank can be read; any other DawnlevelError is about this one.
        """


@dataclass(frozen=True, slots=True)
class Problem:
    """Why a tank could not be judged: machine name, what was wrong, where, and the cure."""

    slug: str
    message: str
    where: str
    cure: str

    @classmethod
    def of(cls, error: DawnlevelError) -> "Problem":
        """One of our errors, as it can travel between processes."""
        return cls(error.slug, error.what, error.where, error.cure)

    def as_error(self) -> DawnlevelError:
        """The error again, of its own kind; a StoreError where the kind is not known."""
        kinds: list[type[DawnlevelError]] = [StoreError, *StoreError.__subclasses__()]
        kinds += [BadInputError, NotInstalledError]
        kind = next((one for one in kinds if one.slug == self.slug), StoreError)
        error = kind.__new__(kind)
        DawnlevelError.__init__(error, self.message, where=self.where, cure=self.cure)
        return error


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one tank: its line; or `lost`: its workers died; or `stop`: no tank can be judged."""

    tank: str
    line: str = ""
    lost: Problem | None = None
    stop: Problem | None = None


@dataclass(frozen=True, slots=True)
class TankJob:
    """Judges a tank of `source` by its readings up to `as_of` (aware); `program` is the version that asks."""

    source: Source
    as_of: datetime
    program: str

    def __call__(self, name: str) -> Outcome:
        """The tank's line; never raises, whatever its records hold."""
        here = program_version()
        if here != self.program:
            return Outcome(name, stop=_other_version(here, self.program))
        try:
            return Outcome(name, self._line(name, watch=view_to_json(self._patiently(name))))
        except (StoreError, NotInstalledError) as error:
            return Outcome(name, stop=Problem.of(error))
        except DawnlevelError as error:
            return Outcome(name, self._line(name, problem=Problem.of(error)))
        except Exception as error:  # noqa: BLE001 - whatever befalls one tank, the others go on
            return Outcome(name, self._line(name, problem=_unexpected(error)))

    def _patiently(self, name: str) -> WatchView:
        for wait_s in _WAITS_S:
            try:
                return self.source.watch(name, self.as_of)
            except StoreLockedError:
                time.sleep(wait_s)
        return self.source.watch(name, self.as_of)

    def _line(self, name: str, watch: Json = None, problem: Problem | None = None) -> str:
        line = {
            "schema": SCHEMA,
            "tank": name,
            "as_of": moment_to_text(self.as_of),
            "watch": watch,
            "problem": None if problem is None else asdict(problem),
        }
        return json.dumps(line, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def program_version() -> str:
    """The version of Dawnlevel that runs here."""
    return version("dawnlevel")


def _other_version(here: str, asked: str) -> Problem:
    return Problem(
        "bad-input",
        f"A worker runs Dawnlevel {here}, this computer {asked}.",
        "worker",
        "Install the same version on every worker, so that every tank is judged alike.",
    )


def _unexpected(error: Exception) -> Problem:
    frames = traceback.extract_tb(error.__traceback__)
    place = f"{Path(frames[-1].filename).name}, line {frames[-1].lineno}" if frames else ""
    said = f"Something went wrong that should not have: {type(error).__name__}: {error}."
    return Problem("unexpected", said, place, "Keep this tank's records, and report it with them.")
