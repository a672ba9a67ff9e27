"""What cannot be taken of a file, gathered place by place, so that all of it is told together."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime

from dawnlevel.errors import BadInputError, BadLine, BadLinesError, DawnlevelError
from dawnlevel.store import HistoryEntry
from dawnlevel.tank import Record


@dataclass(slots=True)
class Gathering:
    """The bad places of one file so far, out of `total` looked at."""

    file: str
    noun: str
    bad: list[BadLine] = field(default_factory=list)
    total: int = 0

    @contextmanager
    def at(self, place: str, line: int) -> Iterator[None]:
        """Look at one place: what is wrong with it is noted, and the next one can be looked at."""
        self.total += 1
        try:
            yield
        except DawnlevelError as error:
            self.refuse(place, line, error)

    def refuse(self, place: str, line: int, error: DawnlevelError) -> None:
        """Note a place that cannot be taken."""
        where = f"{error.where}: " if error.where and error.where not in place else ""
        self.bad.append(BadLine(line, f"{where}{error.what}", error.cure, place))

    def raise_bad(self) -> None:
        """Raise BadLinesError with every bad place, if there is one."""
        if self.bad:
            raise BadLinesError(self.file, self.bad, self.total, self.noun)


@dataclass(frozen=True, slots=True)
class RawEntry:
    """An entry of a file before it is known to fit the others; without `record` a withdrawal."""

    place: str
    line: int
    id: int
    record: Record | None
    recorded_at: datetime
    supersedes: int | None
    reason: str = ""


def linked(raw: Mapping[str, Sequence[RawEntry]], gathering: Gathering) -> dict[str, list[HistoryEntry]]:
    """The entries of each tank in the order of their numbers; those that do not fit the others are noted."""
    seen: set[int] = set()
    is_whole = not gathering.bad
    found: dict[str, list[HistoryEntry]] = {}
    for name, entries in raw.items():
        fitting: dict[int, HistoryEntry] = {}
        superseded: set[int | None] = set()
        for one in sorted(entries, key=lambda one: one.id):
            if not is_whole and one.supersedes is not None and one.supersedes not in fitting:
                continue  # what it corrects or withdraws is among the bad ones that are told
            try:
                _check_number(one, seen)
                _check_link(one, fitting, superseded)
            except BadInputError as error:
                gathering.refuse(one.place, one.line, error)
                continue
            superseded.add(one.supersedes)
            fitting[one.id] = HistoryEntry(
                one.id, one.record, one.recorded_at, one.supersedes, None, one.reason
            )
        found[name] = list(fitting.values())
    return found


def _check_number(one: RawEntry, seen: set[int]) -> None:
    if one.id in seen:
        raise BadInputError(f"The number {one.id} is there twice.", cure="Export it anew, or leave one out.")
    seen.add(one.id)


def _check_link(one: RawEntry, entries: Mapping[int, HistoryEntry], superseded: Iterable[int | None]) -> None:
    if one.supersedes is None and one.record is not None:
        return
    old = entries.get(one.supersedes) if one.supersedes is not None else None
    if old is None or old.record is None or old.id in superseded:
        raise BadInputError(
            f"It corrects or withdraws record {one.supersedes}, which cannot be: that is not there, comes "
            "later, or is corrected or withdrawn already.",
            cure="Export it anew, or leave this one out.",
        )
