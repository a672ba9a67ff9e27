"""Use case: copies of the store by themselves, every so many hours, as long as a program runs that asks.

Beside the store lies what became of it: when it was last tried and last well, and what stood in the way. The
doctor reads that, so that copies which fail are not found out about on the day they are needed.
"""

import json
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from dawnlevel.desk.exchange.backup import BackupView, back_up_into
from dawnlevel.errors import BadInputError, DawnlevelError
from dawnlevel.store.copying import file_of
from dawnlevel.store.engine import store_url

RETRY = timedelta(minutes=15)
"""How soon a copy that failed is tried again (own choice)."""

SHORTEST, LONGEST = timedelta(minutes=10), timedelta(days=31)
_STEPPED = timedelta(minutes=5)  # a last copy further in the future than this: the clock was set back


@dataclass(frozen=True, slots=True)
class BackupState:
    """What became of the copies: times in RFC 3339, UTC; empty: not yet. `failure` empty: it was well."""

    folder: str
    every_h: float
    keep: int
    tried_at: str = ""
    made_at: str = ""
    file: str = ""
    failure: str = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a look at the schedule came to: the copy made, or what stood in the way."""

    view: BackupView | None
    failure: str


class BackupSchedule:
    """Copies of the store at `place` into `folder` every so often; the `keep` newest stay."""

    def __init__(self, place: str | None, folder: Path, every: timedelta, keep: int) -> None:
        """BadInputError for a store that has no file, and for times too short or too long."""
        if not SHORTEST <= every <= LONGEST:
            raise BadInputError(
                f"Copies every {every / timedelta(hours=1):g} h are too often or too seldom.",
                where="backup",
                cure="Give ten minutes to a month: 24h.",
            )
        self.place = place
        self.file = state_file(place)
        self.every = every
        plan = BackupState(str(folder.absolute()), every / timedelta(hours=1), keep)
        known = read_state(place)
        same = known is not None and known.folder == plan.folder
        self.state = replace(known, every_h=plan.every_h, keep=keep) if known and same else plan

    def is_due(self, now: datetime) -> bool:
        """Whether a copy should be made at `now`; once too where the clock was set back behind the last."""
        last, wait = self.state.made_at, self.every
        if self.state.failure:
            last, wait = self.state.tried_at, min(self.every, RETRY)
        if not last:
            return True
        since = now - datetime.fromisoformat(last)
        return since >= wait or since < -_STEPPED

    def look(self, now: datetime) -> Outcome | None:
        """Make a copy if one is due; None where none is. Errors are kept and returned, never raised.

        A copy is read again and compared before an older one is taken away: where it fails, all stay.
        """
        if not self.is_due(now):
            return None
        moment = now.astimezone(UTC).isoformat()
        try:
            view = back_up_into(self.place, Path(self.state.folder), self.state.keep, now)
        except (DawnlevelError, OSError) as error:
            return self._note(replace(self.state, tried_at=moment, failure=str(error)), None)
        made = replace(self.state, tried_at=moment, made_at=moment, file=view.file, failure="")
        return self._note(made, view)

    def _note(self, state: BackupState, view: BackupView | None) -> Outcome:
        """Keep what became of it; in memory at least, where the disk takes nothing."""
        self.state = state
        part = self.file.with_name(self.file.name + ".part")
        try:
            part.write_text(json.dumps(asdict(state), ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
            part.replace(self.file)
        except OSError as error:
            with suppress(OSError):
                part.unlink()
            unnoted = f"What became of the copy cannot be noted ({error.strerror})."
            return Outcome(view, state.failure or unnoted)
        return Outcome(view, state.failure)


def state_file(place: str | None) -> Path:
    """Where what became of the copies is kept: beside the store. BadInputError for a store without a file."""
    store = file_of(store_url(place))
    return store.with_name(store.name + ".backups.json")


def read_state(place: str | None) -> BackupState | None:
    """What became of the copies; None where no schedule ever ran, or what it left cannot be read."""
    try:
        return BackupState(**json.loads(state_file(place).read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        return None
