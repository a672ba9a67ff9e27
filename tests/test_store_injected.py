"""A failure at any statement of any write ends in one clear message, and the store holds what it held."""

import sqlite3
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import event
from store_servers import START, a_log, a_tank, is_same_log, one_of_each

from dawnlevel.desk.exchange.doctor import Health, examine
from dawnlevel.errors import (
    StoreError,
    StoreFullError,
    StoreLockedError,
    StoreReadOnlyError,
    StoreUnreachableError,
)
from dawnlevel.store import Store, TankArchive, open_store
from dawnlevel.store.copying import content_of
from dawnlevel.store.schema import KNOWN_VERSIONS
from dawnlevel.tank import PhReading
from dawnlevel.tank.samples import Samples

NOW = START + timedelta(days=9)
FAILURES = {
    "SQLITE_IOERR_WRITE": StoreFullError,
    "SQLITE_IOERR_READ": StoreUnreachableError,
    "SQLITE_FULL": StoreFullError,
    "SQLITE_READONLY": StoreReadOnlyError,
    "SQLITE_BUSY": StoreLockedError,
}
FIXTURES = Path(__file__).parent / "fixtures"


def another_past() -> TankArchive:
    with open_store("sqlite://", clock=lambda: NOW) as other:
        other.add_tank(a_tank("Pool"), START)
        other.add_samples("Pool", a_log(9), "may.csv")
        ids = other.add_records("Pool", one_of_each())
        other.correct(ids[0], PhReading(at=START, ph=6.9))
        batches = other.sample_batches("Pool")
        return TankArchive("Pool", other.tank_versions("Pool"), other.history("Pool"), batches)


def halved(log: Samples) -> Samples:
    return Samples(log.minute_utc[::2], log.ph[::2], log.temp_c[::2])


WRITES: dict[str, Callable[[Store], object]] = {
    "add_tank": lambda store: store.add_tank(a_tank("Creek"), START),
    "update_tank": lambda store: store.update_tank(a_tank(volume_l=170.0), NOW),
    "rename_tank": lambda store: store.rename_tank("Brook", "Stream", NOW),
    "add_records": lambda store: store.add_records("Brook", one_of_each()),
    "correct": lambda store: store.correct(1, PhReading(at=START, ph=6.6)),
    "withdraw": lambda store: store.withdraw(2, "spilt"),
    "add_samples": lambda store: store.add_samples("Brook", a_log(), "june.csv"),
    "thin_samples": lambda store: store.thin_samples("Brook", NOW.replace(hour=0, minute=0), 10, halved),
    "withdraw_samples": lambda store: store.withdraw_samples(1),
    "merge": lambda store: store.merge([another_past()], "kept"),
}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    found = tmp_path / "records.db"
    with open_store(str(found), clock=lambda: NOW) as store:
        store.add_tank(a_tank(), START)
        store.add_records("Brook", one_of_each())
        store.add_samples("Brook", a_log(9), "may.csv")
    return found


class Failing:
    """Lets so many statements pass, then fails as the driver does."""

    def __init__(self, passing: int, name: str) -> None:
        self.left = passing
        self.name = name
        self.has_failed = False

    def __call__(self, *_: object) -> None:
        self.left -= 1
        if self.left < 0:
            self.has_failed = True
            error = sqlite3.OperationalError("injected")
            error.sqlite_errorname = self.name
            raise error


def attempts(path: Path, write: Callable[[Store], object], name: str) -> Iterator[StoreError | None]:
    """What comes of a write that fails at its first, second, ... statement, and last of all at none."""
    for passing in range(40):
        failing = Failing(passing, name)
        with open_store(str(path), clock=lambda: NOW) as store:
            event.listen(store._engine, "before_cursor_execute", failing)
            event.listen(store._engine, "commit", failing)
            try:
                write(store)
            except StoreError as error:
                yield error
            else:
                assert not failing.has_failed
                yield None
                return


@pytest.mark.parametrize("name", FAILURES)
@pytest.mark.parametrize("write", WRITES)
def test_a_failure_at_any_statement_changes_nothing_and_is_told(path: Path, write: str, name: str) -> None:
    before = content_of(path)
    failed = 0
    for error in attempts(path, WRITES[write], name):
        if error is None:
            break
        failed += 1
        assert type(error) is FAILURES[name]
        assert (error.where, bool(error.what), bool(error.cure)) == (str(path), True, True)
        assert "\n" not in str(error)
        assert content_of(path) == before
    assert failed >= 3  # begin, at least one statement, commit
    assert content_of(path) != before
    assert {one.health for one in examine(str(path), NOW).findings} == {Health.WELL}


def test_a_clock_set_back_loses_no_description_and_the_doctor_sees_it(path: Path) -> None:
    with open_store(str(path), clock=lambda: NOW - timedelta(days=2)) as store:
        store.update_tank(a_tank(volume_l=170.0), NOW)
        store.add_records("Brook", [PhReading(at=START, ph=7.0)])
        assert store.tank("Brook").volume_l == 170.0  # the last one written down, whatever the clock said
        assert len(store.records("Brook")) == 11
    (clock,) = [one for one in examine(str(path), NOW).findings if one.name == "clock"]
    assert clock.health is Health.WATCH
    assert "set back" in clock.found


@pytest.mark.parametrize("version", KNOWN_VERSIONS)
def test_a_store_of_every_released_version_comes_up_to_date(tmp_path: Path, version: str) -> None:
    path = tmp_path / "old.db"
    with sqlite3.connect(path) as connection:
        connection.executescript((FIXTURES / f"store_{version}.sql").read_text(encoding="utf-8"))
    connection.close()
    with open_store(str(path)) as store:
        assert store.tank("Brook") == a_tank(volume_l=170.5)
        assert len(store.tank_versions("Brook")) == 2
        history = sorted(store.history("Brook"), key=lambda entry: entry.id)
        assert [entry.record for entry in history[:10]] == one_of_each()
        assert history[10].record == PhReading(at=START, ph=6.9, note="read again")
        assert (history[11].record, history[11].supersedes, history[11].reason) == (None, 4, "spilt")
        assert len(store.records("Brook")) == 9
        log = Samples.none() if version < "0002" else a_log(30)  # a second import of it was withdrawn
        assert is_same_log(store.samples("Brook"), log)
    assert {one.health for one in examine(str(path), NOW).findings} == {Health.WELL}
