"""What a published source is here: a key, its text, its DOI where known, and how far it was checked."""

from dataclasses import dataclass
from enum import StrEnum


class Status(StrEnum):
    """How far a figure was checked against the work it is said to come from."""

    CHECKED = "checked against the source's abstract or table"
    SECOND_HAND = "second-hand"
    FROM_MEMORY = "from memory, not checked"
    COMPUTED = "computed"
    COMMON_PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Source:
    """One source of figures.

    Attributes:
        key: short name used in code and pages, such as `plummer_busenberg_1982`.
        text: author, year, place, and what Dawnlevel takes from it.
        doi: digital object identifier without a resolver's address; empty where none was at hand.
        status: how far it was checked; where figures of one work differ in status, the weakest.
    """

    key: str
    text: str
    doi: str
    status: Status

    def __str__(self) -> str:
        """One line for a page: text, DOI, status."""
        doi = f", doi {self.doi}" if self.doi else ""
        return f"{self.text}{doi} ({self.status})"


def register(*rows: tuple[str, Status, str] | tuple[str, Status, str, str]) -> tuple[Source, ...]:
    """Sources from rows of key, status, text and, where known, DOI."""
    return tuple(Source(row[0], row[2], row[3] if len(row) == 4 else "", row[1]) for row in rows)
