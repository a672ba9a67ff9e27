"""The store: tanks, the versions of their descriptions, and records that are never changed."""

import dataclasses
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from types import TracebackType
from typing import TYPE_CHECKING, Self

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import IntegrityError

from dawnlevel.errors import BadInputError, TankExistsError
from dawnlevel.store import rows
from dawnlevel.store.batches import FinerSamples, SampleBatch, SampleImport, SamplesAdded, Thinning
from dawnlevel.store.engine import make_engine, place_of, store_url, writer_of
from dawnlevel.store.failures import translated
from dawnlevel.store.merge import merge_archives
from dawnlevel.store.merging import Merged
from dawnlevel.store.migrate import ensure_current
from dawnlevel.store.patience import Patience
from dawnlevel.store.rows import HistoryEntry, StoredRecord, TankArchive, TankVersion
from dawnlevel.store.schema import to_us
from dawnlevel.tank import Record, Tank

if TYPE_CHECKING:
    from dawnlevel.tank.samples import Samples

# What reads and packs minutes is imported where it is used: most commands need none of it, nor numpy.

Clock = Callable[[], datetime]


def utc_now() -> datetime:
    """The system's clock, aware, UTC."""
    return datetime.now(UTC)


class Store:
    """An open store; a context manager that closes it.

    Every method is one transaction: it happens as a whole or not at all. All raise a StoreError
    where the database cannot be used, NoSuchTankError for a name that no tank has.
    """

    def __init__(self, engine: Engine, place: str, clock: Clock = utc_now) -> None:
        self.place = place
        self._engine = engine
        self._writer = writer_of(engine)
        self._clock = clock

    def __enter__(self) -> Self:
        """The open store itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close every connection."""
        self.close()

    def close(self) -> None:
        """Close every connection; a store in memory is gone then."""
        self._engine.dispose()

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        with translated(self.place), self._engine.connect() as connection:
            yield connection

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        with translated(self.place), self._writer.begin() as connection:
            yield connection

    # --- tanks ---

    def add_tank(self, tank: Tank, at: datetime) -> None:
        """A new tank, described from `at` on (aware); TankExistsError where the name is taken."""
        with self._writing() as connection:
            row = self._new_tank(connection, tank.name)
            rows.insert_version(connection, row, TankVersion(tank, at, self._clock()))

    def update_tank(self, tank: Tank, at: datetime) -> None:
        """One more description of the tank called `tank.name`, valid from `at` (aware)."""
        with self._writing() as connection:
            row = rows.tank_id(connection, tank.name)
            self._describe_anew(connection, row, tank.name, tank, at)

    def rename_tank(self, name: str, new_name: str, at: datetime) -> None:
        """Call the tank `new_name` from now on; TankExistsError where that is taken.

        Its last description is written down once more under the new name, valid from `at` (aware).
        """
        with self._writing() as connection:
            row = rows.tank_id(connection, name)
            renamed = dataclasses.replace(rows.latest_tank(connection, name), name=new_name)
            self._describe_anew(connection, row, name, renamed, at)
            _give_name(connection, row, new_name)

    def _describe_anew(self, connection: Connection, row: int, name: str, tank: Tank, at: datetime) -> None:
        """Write a description down, never before the one it follows: the last one written down holds."""
        last = rows.versions(connection, name)[-1].recorded_at
        rows.insert_version(connection, row, TankVersion(tank, at, max(self._clock(), last)))

    def tank(self, name: str) -> Tank:
        """The tank as it was described last."""
        with self._reading() as connection:
            return rows.latest_tank(connection, name)

    def tank_described_at(self, name: str) -> datetime:
        """The earliest moment (UTC) from which the tank is described; no record may be older."""
        with self._reading() as connection:
            return rows.described_at(connection, name)

    def tank_versions(self, name: str) -> list[TankVersion]:
        """Every description of the tank, oldest entry first."""
        with self._reading() as connection:
            return rows.versions(connection, name)

    def tank_names(self) -> list[str]:
        """The names of all tanks, in the order in which they were described."""
        with self._reading() as connection:
            return rows.tank_names(connection)

    # --- records ---

    def add_records(self, name: str, records: Sequence[Record]) -> list[int]:
        """New records of one tank, all or none; their ids in the order given."""
        return self.add_records_of_tanks({name: records})[name]

    def add_records_of_tanks(self, records: Mapping[str, Sequence[Record]]) -> dict[str, list[int]]:
        """New records of several tanks by their names, all or none; their ids by tank."""
        with self._writing() as connection:
            now = self._clock()
            return {
                name: rows.insert_records(connection, rows.tank_id(connection, name), new, now)
                for name, new in records.items()
            }

    def records(
        self, name: str, since: datetime | None = None, until: datetime | None = None
    ) -> list[StoredRecord]:
        """What stands for the tank with since <= at <= until (aware; None: open), sorted by time."""
        with self._reading() as connection:
            return rows.standing_records(connection, rows.tank_id(connection, name), since, until)

    def standing(self, record_id: int) -> tuple[str, StoredRecord]:
        """The tank's name and a record that stands; BadInputError where it does not."""
        with self._reading() as connection:
            return rows.standing_row(connection, record_id)

    def correct(self, record_id: int, new_record: Record) -> int:
        """A record in place of `record_id`, which must stand (else BadInputError); the new id."""
        with self._superseding(record_id) as (connection, tank_row, _):
            return rows.insert_records(connection, tank_row, [new_record], self._clock(), record_id)[0]

    def withdraw(self, record_id: int, reason: str = "") -> int:
        """Withdraw `record_id`, which must stand (else BadInputError); the id of the withdrawal."""
        with self._superseding(record_id) as (connection, tank_row, old):
            at_us = to_us(old.record.at)
            return rows.insert_void(connection, tank_row, record_id, at_us, self._clock(), reason)

    @contextmanager
    def _superseding(self, record_id: int) -> Iterator[tuple[Connection, int, StoredRecord]]:
        try:
            with self._writing() as connection:
                name, old = rows.standing_row(connection, record_id)
                yield connection, rows.tank_id(connection, name), old
        except IntegrityError as error:  # somebody else superseded it between our look and our write
            raise BadInputError(
                f"Record {record_id} has just been corrected or withdrawn elsewhere.",
                where="store",
                cure="List the records with: dawnlevel log",
            ) from error

    def revision(self, name: str) -> int:
        """A number that grows with everything written down for the tank: equal means nothing has changed."""
        with self._reading() as connection:
            return rows.revision(connection, rows.tank_id(connection, name))

    def history(self, name: str) -> list[HistoryEntry]:
        """Everything ever written down for the tank, withdrawals and what was superseded too."""
        with self._reading() as connection:
            return rows.history(connection, rows.tank_id(connection, name))

    # --- probe logs ---

    def add_samples(self, name: str, samples: "Samples", source: str) -> SamplesAdded:
        """Readings of a probe, all or none: those that are not there yet; what came of each minute.

        pH is kept to 0.001, temperature to 0.01 degC. Of a minute that is there with other values the one
        written down last counts. `source` says where they came from. Giving the same again adds nothing.
        """
        from dawnlevel.store import sampling  # noqa: PLC0415 - see above

        with self._writing() as connection:
            return sampling.add(connection, rows.tank_id(connection, name), samples, source, self._clock())

    def samples(self, name: str, since: datetime | None = None, until: datetime | None = None) -> "Samples":
        """The probe readings that count with since <= minute <= until (aware; None: open)."""
        from dawnlevel.store import sampling  # noqa: PLC0415 - see above

        with self._reading() as connection:
            return sampling.samples(connection, rows.tank_id(connection, name), since, until)

    def samples_span(self, name: str) -> tuple[datetime, datetime] | None:
        """The first and the last minute with a probe reading that counts (UTC); None without any."""
        from dawnlevel.store import sampling  # noqa: PLC0415 - see above

        with self._reading() as connection:
            return sampling.span(connection, rows.tank_id(connection, name))

    def samples_revision(self, name: str) -> int:
        """A number that grows with every batch of probe readings; 0 without any."""
        from dawnlevel.store import sampling  # noqa: PLC0415 - see above

        with self._reading() as connection:
            return sampling.revision(connection, rows.tank_id(connection, name))

    def sample_batches(self, name: str) -> list[SampleBatch]:
        """Every batch of probe readings ever written down and not thinned away, withdrawals too."""
        from dawnlevel.store import sampling  # noqa: PLC0415 - see above

        with self._reading() as connection:
            return sampling.batches(connection, rows.tank_id(connection, name))

    def sample_imports(self, name: str) -> list[SampleImport]:
        """What was added of probe readings in one go and stands, in the order in which it was."""
        from dawnlevel.store import sampling  # noqa: PLC0415 - see above

        with self._reading() as connection:
            return sampling.imports(connection, rows.tank_id(connection, name))

    def withdraw_samples(self, batch_id: int) -> int:
        """Withdraw all that was added with a batch that stands (else BadInputError); how many minutes."""
        from dawnlevel.store import sampling  # noqa: PLC0415 - see above

        with self._writing() as connection:
            return sampling.withdraw(connection, batch_id, self._clock())

    def finer_samples(self, name: str, before: datetime, step_min: int) -> FinerSamples:
        """The probe readings before a midnight (UTC) that are finer than `step_min` [min]."""
        from dawnlevel.store import sampling  # noqa: PLC0415 - see above

        with self._reading() as connection:
            return sampling.finer(connection, rows.tank_id(connection, name), before, step_min)

    def thin_samples(
        self, name: str, before: datetime, step_min: int, thinned: "Callable[[Samples], Samples]"
    ) -> Thinning | None:
        """Put `thinned` of the readings before a midnight (UTC) that are finer than `step_min` instead.

        The only way in which anything stored ever goes; it is written down. None where nothing is finer.
        """
        from dawnlevel.store import sampling  # noqa: PLC0415 - see above

        with self._writing() as connection:
            row = rows.tank_id(connection, name)
            return sampling.thin(connection, row, before, step_min, thinned, self._clock())

    def thinnings(self, name: str) -> list[Thinning]:
        """Every thinning of the tank's probe log, in the order in which they were done."""
        from dawnlevel.store import sampling  # noqa: PLC0415 - see above

        with self._reading() as connection:
            return sampling.thinnings(connection, rows.tank_id(connection, name))

    def merge(self, archives: Sequence[TankArchive], file: str) -> Merged:
        """Bring in what is new of these tanks' pasts, all or none; `file` names it in messages.

        A tank is one of ours where they share a description; else it is new, and its name must not be taken
        (TankExistsError). Entries are told apart by what they say and when. Ids are given anew; when things
        were written down, and what superseded what, is kept. BadLinesError with every entry that contradicts
        one of ours.
        """
        with self._writing() as connection:
            return merge_archives(connection, archives, file)

    @staticmethod
    def _new_tank(connection: Connection, name: str) -> int:
        try:
            return rows.insert_tank(connection, name)
        except IntegrityError as error:
            raise TankExistsError(name) from error


def _give_name(connection: Connection, row: int, name: str) -> None:
    try:
        rows.rename_tank(connection, row, name)
    except IntegrityError as error:
        raise TankExistsError(name) from error


def open_store(
    url_or_path: str | None = None, *, clock: Clock = utc_now, patience: Patience | None = None
) -> Store:
    """Open the store at a path, a folder or an address, making or upgrading its tables as needed.

    Without one: DAWNLEVEL_STORE, else a file in DAWNLEVEL_DATA, else one in the user's data folder.
    `sqlite://` is a store in memory. `clock` says when records are written down; `patience`, how long a
    store that another program holds is waited for (30 s), then and later. StoreError where the store cannot
    be used, or was written by a newer version.
    """
    url = store_url(url_or_path)
    place = place_of(url)
    patience = patience or Patience()
    with translated(place):
        engine = make_engine(url, patience)
        try:
            ensure_current(engine, place, patience)
        except BaseException:
            engine.dispose()
            raise
    return Store(engine, place, clock)
