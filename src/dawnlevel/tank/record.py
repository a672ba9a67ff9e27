"""What every record is: something seen or done at a moment, never changed once stored."""

from dataclasses import dataclass
from datetime import UTC, datetime

from dawnlevel.errors import BadInputError


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """Anything that was seen or done at a moment, `at` (aware; kept in UTC)."""

    at: datetime
    note: str = ""

    def __post_init__(self) -> None:
        """Bring the moment to UTC; a naive one is refused."""
        if self.at.tzinfo is None:
            raise BadInputError(
                f"The time {self.at.isoformat()} has no offset.",
                where="record",
                cure="Give it with its offset, for example 2026-05-04T09:30:00+02:00.",
            )
        object.__setattr__(self, "at", self.at.astimezone(UTC))
