"""Two programs at one store: the second waits for the first, hears Ctrl-C, and is told if it waits too long.

The other program is a real one, and it holds the database's own lock.
"""

import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from uuid import uuid4

import pytest
from sqlalchemy import Connection, create_engine, text
from store_servers import START, a_tank, one_of_each, postgresql_server

from dawnlevel.errors import StoreLockedError
from dawnlevel.store import Patience, migrate, open_store
from dawnlevel.store.copying import content_of, copy_store, pour
from dawnlevel.store.patience import WAIT_S
from dawnlevel.tank import PhReading

HELD_S = 4.0
"""Twice what a person at a prompt is left without a word, and far less than is waited."""

HOLD_SQLITE = """
import sqlite3, sys, time
held = sqlite3.connect(sys.argv[1], isolation_level=None)
held.execute(sys.argv[2])
print("held", flush=True)
time.sleep(float(sys.argv[3]))
held.execute("COMMIT")
"""
HOLD_POSTGRESQL = """
import sys, time
import psycopg
with psycopg.connect(sys.argv[1]) as held:
    held.execute(sys.argv[2])
    print("held", flush=True)
    time.sleep(float(sys.argv[3]))
"""
WRITE = """
import sys
from dawnlevel.store import open_store
sys.path.insert(0, sys.argv[2])
from store_servers import one_of_each
with open_store(sys.argv[1]) as store:
    print("open", flush=True)
    store.add_records("Brook", one_of_each())
"""
OPEN_WHEN_TOLD = """
import sys
import alembic.command, alembic.config
from dawnlevel.store import open_store
sys.path.insert(0, sys.argv[1])
from store_servers import START, a_tank
print("ready", flush=True)
for place in iter(sys.stdin.readline, ""):
    with open_store(place.strip()) as store:
        store.add_tank(a_tank(sys.argv[2]), START)
    print("done", flush=True)
"""
TESTS = str(Path(__file__).parent)


@pytest.fixture(scope="module")
def server() -> Iterator[str]:
    with postgresql_server() as address:
        yield address


@pytest.fixture(params=["file", "postgresql"])
def places(request: pytest.FixtureRequest, tmp_path: Path) -> list[str]:
    """Places where no store is yet."""
    if request.param == "file":
        return [str(tmp_path / f"records{number}.db") for number in range(8)]
    server = request.getfixturevalue("server")
    names = [f"d{uuid4().hex}" for _ in range(4)]
    admin = create_engine(server.replace("postgresql:", "postgresql+psycopg:"), isolation_level="AUTOCOMMIT")
    with admin.connect() as connection:
        for name in names:
            connection.execute(text(f"CREATE DATABASE {name}"))
    admin.dispose()
    return [f"{server.rsplit('/', 1)[0]}/{name}" for name in names]


@pytest.fixture
def address(places: list[str]) -> str:
    """A place where no store is yet."""
    return places[0]


@contextmanager
def child(code: str, *arguments: str) -> Iterator["subprocess.Popen[str]"]:
    """Another Python at work; it is gone afterwards."""
    pipe = subprocess.PIPE
    with subprocess.Popen(
        [sys.executable, "-c", code, *arguments], stdin=pipe, stdout=pipe, stderr=pipe, text=True
    ) as process:
        try:
            yield process
        finally:
            process.kill()


@contextmanager
def held(address: str, for_s: float, statement: str | None = None) -> Iterator[None]:
    """Another program that writes to the store at `address` for so long."""
    is_file = "://" not in address
    usual = "BEGIN IMMEDIATE" if is_file else "LOCK TABLE records"
    code = HOLD_SQLITE if is_file else HOLD_POSTGRESQL
    with child(code, address, statement or usual, str(for_s)) as process:
        _hear(process, "held")
        yield


def described(address: str) -> None:
    with open_store(address) as store:
        store.add_tank(a_tank(), START)


def test_a_writer_waits_for_the_other_program(address: str) -> None:
    described(address)
    with open_store(address) as store, held(address, HELD_S):
        begun = time.monotonic()
        store.add_records("Brook", one_of_each())
        assert HELD_S / 2 < time.monotonic() - begun < WAIT_S / 2
        assert [one.record for one in store.records("Brook")] == one_of_each()


def test_ctrl_c_ends_the_wait_at_once_and_nothing_is_written(address: str) -> None:
    described(address)
    with held(address, 30.0), child(WRITE, address, TESTS) as waiting:
        _hear(waiting, "open")
        time.sleep(1.0)
        begun = time.monotonic()
        waiting.send_signal(signal.SIGINT)
        _, said = waiting.communicate(timeout=10.0)
        assert time.monotonic() - begun < 3.0
        assert said.rstrip().endswith("KeyboardInterrupt")
    with open_store(address) as store:
        assert store.records("Brook") == []


def test_programs_that_start_at_once_make_one_store(places: list[str]) -> None:
    names = [f"Pool {number}" for number in range(4)]
    with ExitStack() as stack:
        programs = [stack.enter_context(child(OPEN_WHEN_TOLD, TESTS, name)) for name in names]
        for program in programs:
            _hear(program, "ready")
        for place in places:
            for program in programs:
                _say(program, place)
            for program in programs:
                _hear(program, "done")
            with open_store(place) as store:
                assert sorted(store.tank_names()) == names


@pytest.mark.parametrize("places", ["postgresql"], indirect=True)
def test_a_store_made_between_two_looks_is_no_strangers(
    address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """PostgreSQL shows the second look of a transaction what another committed since the first."""
    look = migrate.stored_version

    def look_before_the_other_program(connection: Connection) -> str | None:
        version = look(connection)
        monkeypatch.setattr(migrate, "stored_version", look)
        described(address)
        return version

    monkeypatch.setattr(migrate, "stored_version", look_before_the_other_program)
    with open_store(address) as store:
        assert store.tank_names() == ["Brook"]


def _say(program: "subprocess.Popen[str]", words: str) -> None:
    assert program.stdin is not None
    program.stdin.write(words + "\n")
    program.stdin.flush()


def _hear(program: "subprocess.Popen[str]", words: str) -> None:
    assert program.stdout is not None
    assert program.stderr is not None
    if program.stdout.readline() != words + "\n":
        pytest.fail(program.stderr.read())


def test_a_store_is_made_once_the_other_program_lets_it(tmp_path: Path) -> None:
    place = str(tmp_path / "records.db")
    with held(place, HELD_S, "BEGIN EXCLUSIVE"):
        described(place)
    with open_store(place) as store:
        assert store.tank_names() == ["Brook"]


def test_a_reader_of_a_copy_waits_for_who_writes_to_it(tmp_path: Path) -> None:
    """A copy is one file alone, without a log beside it: its readers are kept out while it is written to."""
    made, copy = tmp_path / "records.db", tmp_path / "copy.db"
    described(str(made))
    copy_store(made, copy)
    with held(str(copy), HELD_S, "BEGIN EXCLUSIVE"), open_store(str(copy)) as store:
        assert store.tank_names() == ["Brook"]


def test_whoever_waits_is_told_so_once(tmp_path: Path) -> None:
    place = str(tmp_path / "records.db")
    described(place)
    told: list[float] = []
    patience = Patience(tell=lambda: told.append(time.monotonic()))
    with open_store(place, patience=patience) as store:
        with held(place, 0.5):
            store.add_records("Brook", one_of_each())
        assert told == []
        with held(place, HELD_S):
            begun = time.monotonic()
            store.add_records("Brook", one_of_each())
        assert len(told) == 1
        assert 1.0 < told[0] - begun < HELD_S


def test_a_store_is_poured_full_once_its_writer_is_done(tmp_path: Path) -> None:
    live, copy = tmp_path / "records.db", tmp_path / "copy.db"
    described(str(live))
    copy_store(live, copy)
    with open_store(str(live)) as store:
        store.add_records("Brook", one_of_each())
    with held(str(live), HELD_S):
        pour(copy, live)
    assert content_of(live) == content_of(copy)


def test_a_store_that_is_held_on_is_told_and_left_as_it_was(tmp_path: Path) -> None:
    live, copy = tmp_path / "records.db", tmp_path / "copy.db"
    described(str(live))
    shutil.copy(live, copy)
    with open_store(str(live)) as store:
        store.add_records("Brook", [PhReading(at=START, ph=7.0)])
    was = content_of(live)
    with held(str(live), 30.0), pytest.raises(StoreLockedError, match="Another program holds the store"):
        pour(copy, live, Patience(wait_s=1.0))
    assert content_of(live) == was


def test_ctrl_c_is_heard_while_sqlite_waits() -> None:
    """SQLite's own wait hears nothing, so ours must come back to Python often."""
    looks: list[float] = []

    def look() -> None:
        looks.append(time.monotonic())
        error = sqlite3.OperationalError("database is locked")
        error.sqlite_errorname = "SQLITE_BUSY"
        raise error

    with pytest.raises(sqlite3.OperationalError, match="locked"):
        Patience(wait_s=0.5).until_free(look)
    assert 0.4 < looks[-1] - looks[0] < 2.0
