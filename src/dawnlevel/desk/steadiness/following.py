"""Use case: a folder into which probes write their logs; what is new or has grown goes into the store.

Nothing is remembered between runs but what the store holds: all files are read again at the start, and
readings that are there already are not stored twice. So whatever happens between two looks, each reading
comes in at least once and is there once.
"""

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from dawnlevel.desk.records import FUTURE_TOLERANCE
from dawnlevel.desk.steadiness.logfile import LogFile, read_lines
from dawnlevel.desk.steadiness.probing import source_name
from dawnlevel.errors import BadInputError, BadLinesError, DawnlevelError
from dawnlevel.store import Store

_FEWEST = 2  # lines; a name and a reading, or two readings
_SHOWN = 60  # characters of a line that are told
_BEHIND = 1500
"""Lines that are read again with new ones, so that a clock put back is seen: a day of minutes (judgement)."""


@dataclass(frozen=True, slots=True)
class FollowedView:
    """What a look at a file brought.

    Attributes:
        file: its name.
        tank: the tank's name.
        new: minutes that were not there.
        changed: minutes that were there with other values; what came in now counts.
        bad: lines that cannot be taken, in words; each is told once.
        problem: why the file as a whole is left alone; empty where it is not.
    """

    file: str
    tank: str
    new: int = 0
    changed: int = 0
    bad: tuple[str, ...] = ()
    problem: str = ""


@dataclass(slots=True)
class _File:
    """What is known of a file.

    `key`: identity, size and time at the last look; `taken`: bytes that were taken, and their `digest`;
    `day_first`: the order of day and month; `told`: what was told of it.
    """

    key: tuple[int, int, int] = (0, 0, 0)
    taken: int = 0
    digest: bytes = b""
    day_first: bool | None = None
    told: set[str] = field(default_factory=set)


class Folder:
    """A folder that is looked at again and again.

    Files in it are of `tank`; those in a folder inside it that bears a tank's name are of that one. Files
    whose names begin with a dot are left alone. `named`: columns by hand; `zone`: of the probes' clocks,
    by default each tank's.
    """

    def __init__(
        self,
        store: Store,
        folder: Path,
        tank: str | None,
        zone: ZoneInfo | None = None,
        named: Mapping[str, str] | None = None,
    ) -> None:
        self._store = store
        self._folder = folder
        self._tank = tank
        self._zone = zone
        self._named = named or {}
        self._files: dict[Path, _File] = {}

    def look(self, now: datetime) -> Iterator[FollowedView]:
        """Take in what is new, file by file; a view for each with anything to tell.

        Raises StoreError where the store cannot be written: the next look takes it in. BadInputError where
        the folder cannot be read.
        """
        for path, tank in self._paths():
            known = self._files.setdefault(path, _File())
            try:
                status = path.stat()
                key = (status.st_ino, status.st_size, status.st_mtime_ns)
                if key == known.key:
                    continue
                content = _whole_lines(path.read_bytes())
            except OSError as error:
                yield FollowedView(path.name, tank, problem=f"it cannot be read ({error.strerror}).")
                continue
            view = self._take(path, tank, known, content, now)
            known.key = key
            if view is not None:
                yield view

    def _paths(self) -> list[tuple[Path, str]]:
        """The files to look at and whose they are."""
        try:
            names = set(self._store.tank_names())
            inside = [one for one in sorted(self._folder.iterdir()) if one.name in names and one.is_dir()]
            places = [(self._folder, self._tank)] if self._tank is not None else []
            return [
                (path, tank)
                for folder, tank in places + [(one, one.name) for one in inside]
                for path in sorted(folder.iterdir())
                if path.is_file() and not path.name.startswith(".")
            ]
        except OSError as error:
            raise BadInputError(
                f"The folder cannot be read ({error.strerror}).",
                where=str(self._folder),
                cure="Check its path and your rights.",
            ) from error

    def _take(
        self, path: Path, tank: str, known: _File, content: bytes, now: datetime
    ) -> FollowedView | None:
        zone = self._zone or ZoneInfo(self._store.tank(tank).timezone)
        is_grown = 0 < known.taken <= len(content) and _digest(content[: known.taken]) == known.digest
        if len(content) == known.taken if is_grown else content.count(b"\n") < _FEWEST:
            return None  # only the line that is being written has grown
        lines = _with_new(content, known.taken) if is_grown else content
        latest = now + FUTURE_TOLERANCE
        try:
            log = read_lines(
                lines, path.name, zone, named=self._named, latest=latest, day_first=known.day_first
            )
        except (BadLinesError, BadInputError) as error:
            return _left_alone(known, path.name, tank, error)
        added = self._store.add_samples(tank, log.samples, source_name(path.name))
        known.taken, known.digest, known.day_first = len(content), _digest(content), log.day_first
        bad = _unheard(log, lines, known)
        if not (bad or added.new or added.changed):
            return None
        return FollowedView(path.name, tank, added.new, added.changed, bad)


def _left_alone(known: _File, file: str, tank: str, error: DawnlevelError) -> FollowedView | None:
    """The view of a file that cannot be read at all, once."""
    problem = error.lines[0].problem if isinstance(error, BadLinesError) else error.what
    if problem in known.told:
        return None
    known.told.add(problem)
    return FollowedView(file, tank, problem=problem)


def _digest(content: bytes) -> bytes:
    return hashlib.sha256(content).digest()


def _whole_lines(content: bytes) -> bytes:
    """The lines that are written to their end, as UTF-8 where they were UTF-16."""
    if content[:2] in {b"\xff\xfe", b"\xfe\xff"}:
        content = content.decode("utf-16", errors="ignore").encode()
    return content[: content.rfind(b"\n") + 1]


def _with_new(content: bytes, taken: int) -> bytes:
    """The first line, the last ones of those that were taken, and the new ones."""
    old = content[:taken].splitlines(keepends=True)
    return b"".join([*old[:1], *old[1:][-_BEHIND:], content[taken:]])


def _unheard(log: LogFile, lines: bytes, known: _File) -> tuple[str, ...]:
    """Lines that cannot be taken and were not told before, as they stand: their numbers have moved."""
    shown = lines.decode("utf-8", "replace").splitlines()
    told = []
    for one in log.bad:
        text = shown[one.line - 1][:_SHOWN]
        if text not in known.told:
            known.told.add(text)
            told.append(f"{text!r}: {one.problem}")
    return tuple(told)
