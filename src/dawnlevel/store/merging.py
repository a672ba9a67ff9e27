"""Which entries of a tank's past another store holds already, and which are new to it. Pure: no database."""

import dataclasses
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from dawnlevel.errors import BadLine
from dawnlevel.store.codec import kind_of
from dawnlevel.store.rows import HistoryEntry, TankArchive, TankVersion
from dawnlevel.tank import Record

RecordKey = tuple[str, datetime, Record]


def record_key(record: Record) -> RecordKey:
    """What makes two records the same entry: kind, exact moment and value; notes do not count."""
    bare = dataclasses.replace(record, note="") if record.note else record
    return kind_of(record), record.at, bare


@dataclass(frozen=True, slots=True)
class Merged:
    """What a merge brought: new tanks, new entries and descriptions by tank, entries there already.

    `readings`: new minutes of probe logs by tank.
    """

    tanks: tuple[str, ...]
    entries: dict[str, int]
    descriptions: dict[str, int]
    present: int
    readings: dict[str, int] = field(default_factory=dict)

    @property
    def touched(self) -> list[str]:
        """The tanks of which anything is new, each once."""
        return list(dict.fromkeys([*self.tanks, *self.entries, *self.descriptions, *self.readings]))


@dataclass(slots=True)
class Matching:
    """Which of our entries each of theirs is, by their number; what contradicts ours."""

    known: dict[int, int]
    contradictions: list[BadLine]


class _Past:
    """Entries by number, with what superseded each."""

    def __init__(self, entries: Sequence[HistoryEntry]) -> None:
        self.entries = {entry.id: entry for entry in sorted(entries, key=lambda entry: entry.id)}
        self.later = {entry.supersedes: entry for entry in entries if entry.supersedes is not None}
        self.roots = [entry for entry in self.entries.values() if entry.supersedes is None]

    def chain(self, entry: HistoryEntry) -> list[HistoryEntry]:
        """The entry, what superseded it, what superseded that, and so on."""
        found = [entry]
        while found[-1].id in self.later:
            found.append(self.later[found[-1].id])
        return found


def _whole(past: _Past, entry: HistoryEntry) -> Hashable:
    return tuple((one.record, one.recorded_at, one.reason) for one in past.chain(entry))


def _exact(_: _Past, entry: HistoryEntry) -> Hashable:
    return entry.record, entry.recorded_at


def _same_value(_: _Past, entry: HistoryEntry) -> Hashable:
    return None if entry.record is None else record_key(entry.record)


_LIKENESSES: tuple[Callable[[_Past, HistoryEntry], Hashable], ...] = (_whole, _exact, _same_value)
"""Strictest first, so that of several twins each finds its own."""


def match(here: Sequence[HistoryEntry], there: Sequence[HistoryEntry]) -> Matching:
    """Find each entry of `there` in `here`: by what it says and when, never by its number.

    A first entry is the same where kind, moment and value are; each of ours is taken once, so twins stay
    twins. A correction or withdrawal is the same where it says the same of the same entry. Where one side
    knows only what stands after corrections, that is enough.
    """
    ours, theirs = _Past(here), _Past(there)
    matching = Matching({}, [])
    free = {entry.id: entry for entry in ours.roots}
    for likeness in _LIKENESSES:
        waiting: dict[Hashable, list[int]] = {}
        for entry in free.values():
            waiting.setdefault(likeness(ours, entry), []).append(entry.id)
        for entry in theirs.roots:
            found = waiting.get(likeness(theirs, entry)) if entry.id not in matching.known else None
            if found:
                matching.known[entry.id] = found[0]
                del free[found.pop(0)]
    _match_ends(theirs, ours, free, matching)
    for entry in theirs.entries.values():
        if entry.id not in matching.known:
            _match_later(entry, ours, matching)
    return matching


def _match_ends(theirs: _Past, ours: _Past, free: Mapping[int, HistoryEntry], matching: Matching) -> None:
    """Find records of which one side knows only what stands now, the other also what it corrected."""
    waiting: dict[Hashable, list[int]] = {}
    for root in free.values():
        end = ours.chain(root)[-1]
        if end.record is not None:
            waiting.setdefault(record_key(end.record), []).append(end.id)
    for root in theirs.roots:
        chain = theirs.chain(root)
        record = chain[-1].record
        found = None if record is None or root.id in matching.known else waiting.get(record_key(record))
        if found:
            matching.known |= dict.fromkeys((entry.id for entry in chain), found.pop(0))


def _match_later(entry: HistoryEntry, ours: _Past, matching: Matching) -> None:
    """Find a correction or withdrawal of an entry that was found itself."""
    replaced = matching.known.get(entry.supersedes) if entry.supersedes is not None else None
    mine = None if replaced is None else ours.later.get(replaced)
    if mine is None:
        return
    if (entry.record is None) == (mine.record is None) and (
        entry.record is None or mine.record is None or record_key(entry.record) == record_key(mine.record)
    ):
        matching.known[entry.id] = mine.id
        return
    matching.contradictions.append(
        BadLine(
            entry.id,
            f"It {_deed(entry)} a record that is {_fate(mine)} in the store, by record {mine.id}.",
            "Decide which holds: bring the file into a store of its own, and put it right there or here.",
            place=f"record {entry.id} of the file",
        )
    )


def _deed(entry: HistoryEntry) -> str:
    return "withdraws" if entry.record is None else "corrects"


def _fate(entry: HistoryEntry) -> str:
    return "withdrawn" if entry.record is None else "corrected otherwise"


def new_versions(here: Sequence[TankVersion], there: Sequence[TankVersion]) -> list[TankVersion]:
    """Descriptions of `there` that `here` lacks, in their order.

    One that was exported for another owner names none; it is the same as ours that does.
    """
    left, new = list(here), []
    for version in there:
        same = next((one for one in left if version in (one, without_owner(one))), None)
        if same is None:
            new.append(version)
        else:
            left.remove(same)
    return new


def without_owner(version: TankVersion) -> TankVersion:
    """The description without saying whose the tank was."""
    if not version.tank.owner:
        return version
    return dataclasses.replace(version, tank=dataclasses.replace(version.tank, owner=""))


def home_of(archive: TankArchive, here: dict[str, list[TankVersion]]) -> str | None:
    """The name of the tank of this store that the archive's tank is: they share a description."""
    wanted = set(archive.versions)
    return next((name for name, versions in here.items() if wanted & set(versions)), None)
