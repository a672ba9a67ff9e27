"""The file of a fleet: one line a tank, each on the disk before the next, so that a stop loses nothing."""

import json
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from dawnlevel.desk.fleet.job import SCHEMA
from dawnlevel.errors import BadInputError, BadLine, BadLinesError
from dawnlevel.store.codec import moment_from_text

_NOT_OURS = "It is no line of a fleet's file."
_HEAD = f'{{"schema":"{SCHEMA}"'.encode()


@dataclass(frozen=True, slots=True)
class Entry:
    """One line: the tank, as of when (aware), and what was said (`watch`) or why not (`problem`)."""

    tank: str
    as_of: datetime
    watch: dict[str, Any] | None
    problem: dict[str, str] | None


class Ledger:
    """An open file of a fleet; a context manager. Nobody else writes to it meanwhile.

    Opening cuts off a line that a killed run left half-written. Raises BadInputError where the file cannot be
    used or another run holds it, BadLinesError where it holds lines that no fleet writes.

    Attributes:
        tanks: the tanks that have a line, in the order of their lines.
        as_of: the latest moment as of which a tank was judged; None in a new file.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self.tanks: dict[str, None] = {}
        self.as_of: datetime | None = None
        with _told(path):
            self._file = _held(path, os.O_RDWR | os.O_CREAT | os.O_APPEND)
        try:
            self._read()
        except BaseException:
            os.close(self._file)
            raise

    def __enter__(self) -> Self:
        """The open file itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Let others write."""
        os.close(self._file)

    def entries(self) -> Iterator[Entry]:
        """Every line, in the order of the file."""
        with self._path.open("rb") as file:
            for number, line in enumerate(file, start=1):
                yield _entry(line, number, self._path)

    def append(self, tank: str, line: str) -> None:
        """One more tank's line, on the disk when this returns; nothing of it where the disk refuses.

        Raises BadInputError where the tank has a line, or the file cannot be written.
        """
        if tank in self.tanks:
            raise BadInputError(f"{tank!r} has a line already.", where=str(self._path), cure="Name it once.")
        with _told(self._path):
            end = os.fstat(self._file).st_size
            try:
                _write(self._file, line.encode() + b"\n")
            except OSError:
                with suppress(OSError):
                    os.ftruncate(self._file, end)
                raise
        self.tanks[tank] = None

    def forget_problems(self) -> list[str]:
        """Take out the lines of tanks that could not be judged, all at once; the names of those tanks."""
        kept, gone = [], []
        with self._path.open("rb") as file:
            for number, line in enumerate(file, start=1):
                entry = _entry(line, number, self._path)
                if entry.problem is None:
                    kept.append(line)
                else:
                    gone.append(entry.tank)
        if gone:
            self._replace(b"".join(kept))
            for tank in gone:
                del self.tanks[tank]
        return gone

    def _replace(self, content: bytes) -> None:
        part = self._path.with_name(self._path.name + ".part")
        with _told(self._path):
            file = _held(part, os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND)
            try:
                _write(file, content)
                part.replace(self._path)
            except OSError:
                os.close(file)
                part.unlink(missing_ok=True)
                raise
        os.close(self._file)
        self._file = file

    def _read(self) -> None:
        """Learn what is there, and cut off what a killed run left half-written."""
        end = _whole_lines_end(self._path)
        with self._path.open("rb") as file:
            for number, line in enumerate(file, start=1):
                if not line.endswith(b"\n"):
                    break
                entry = _entry(line, number, self._path)
                if entry.tank in self.tanks:
                    raise _bad(self._path, number, f"{entry.tank!r} has a line already.")
                self.tanks[entry.tank] = None
                self.as_of = max(entry.as_of, self.as_of or entry.as_of)
        with _told(self._path):
            if os.fstat(self._file).st_size > end:
                os.ftruncate(self._file, end)


def _whole_lines_end(path: Path) -> int:
    """Where the last whole line ends; BadLinesError where what follows is no line of ours cut short."""
    number, end, rest = 0, 0, b""
    with path.open("rb") as file:
        for line in file:
            number += 1
            if line.endswith(b"\n"):
                end += len(line)
            else:
                rest = line
    if rest and not rest.startswith(_HEAD[: len(rest)]):
        raise _bad(path, number, _NOT_OURS)
    return end


def _entry(line: bytes, number: int, path: Path) -> Entry:
    try:
        data = json.loads(line)
        as_of = moment_from_text(data["as_of"], "as_of")
        entry = Entry(str(data["tank"]), as_of, data["watch"], data["problem"])
        is_ours = data["schema"] == SCHEMA
    except (ValueError, KeyError, TypeError) as error:
        raise _bad(path, number, _NOT_OURS) from error
    if not is_ours:
        raise _bad(path, number, _NOT_OURS)
    return entry


def _bad(path: Path, number: int, problem: str) -> BadLinesError:
    return BadLinesError(str(path), [BadLine(number, problem, "Name another file with --out.")], number)


def _held(path: Path, flags: int) -> int:
    """The open file, held against other runs until it is closed; on Windows it is not held."""
    file = os.open(path, flags, 0o644)
    if sys.platform != "win32":
        import fcntl  # noqa: PLC0415 - not everywhere

        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            os.close(file)
            raise BadInputError(
                "Another run is writing to this file.",
                where=str(path),
                cure="Wait until it is through, or name another file with --out.",
            ) from error
    return file


def _write(file: int, content: bytes) -> None:
    left = memoryview(content)
    while left:
        left = left[os.write(file, left) :]
    os.fsync(file)


@contextmanager
def _told(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise BadInputError(
            f"The file cannot be written ({error.strerror}).",
            where=str(path),
            cure="Check its path, your rights and the room on the disk; what is in it stays.",
        ) from error
