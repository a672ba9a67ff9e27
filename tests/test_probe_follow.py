"""A folder that probes write into: everything comes in once, whatever happens between two looks."""

import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from store_servers import START, a_tank

from dawnlevel.desk.steadiness.following import Folder
from dawnlevel.errors import BadInputError, StoreLockedError
from dawnlevel.store import Store, open_store

NOW = START + timedelta(days=400)
HEAD = "time,ph\n"


@pytest.fixture
def store() -> Iterator[Store]:
    with open_store("sqlite://", clock=lambda: NOW) as opened:
        opened.add_tank(a_tank(timezone="Europe/Lisbon"), START)
        opened.add_tank(a_tank("Pool", timezone="UTC"), START)
        yield opened


def lines(first: int, count: int) -> str:
    moments = [START + timedelta(minutes=first + number) for number in range(count)]
    return "".join(f"{at:%Y-%m-%dT%H:%M}Z,{6 + at.minute / 100:.2f}\n" for at in moments)


def told(folder: Folder) -> list[tuple[str, int]]:
    return [(view.tank, view.new) for view in folder.look(NOW)]


def test_new_and_grown_files_come_in_and_a_half_written_line_waits(store: Store, tmp_path: Path) -> None:
    folder = Folder(store, tmp_path, "Brook")
    file = tmp_path / "probe.csv"
    assert told(folder) == []
    file.write_text(HEAD + lines(0, 10) + lines(10, 1)[:18])
    assert told(folder) == [("Brook", 10)]
    assert told(folder) == []
    with file.open("a") as grown:
        grown.write(lines(10, 1)[18:-2])
    assert told(folder) == []
    with file.open("a") as grown:
        grown.write(lines(10, 1)[-2:] + lines(11, 5))
    assert told(folder) == [("Brook", 6)]
    assert len(store.samples("Brook")) == 16
    assert told(Folder(store, tmp_path, "Brook")) == []  # started again: nothing twice


def test_a_file_grows_begins_anew_and_is_put_aside(store: Store, tmp_path: Path) -> None:
    folder, file = Folder(store, tmp_path, "Brook"), tmp_path / "probe.csv"
    file.write_text(HEAD + lines(0, 5000))
    assert told(folder) == [("Brook", 5000)]
    with file.open("a") as grown:
        grown.write(lines(5000, 3))
    assert told(folder) == [("Brook", 3)]
    file.write_text(HEAD + lines(9000, 4))
    assert told(folder) == [("Brook", 4)]
    file.replace(tmp_path / "probe.1.csv")
    file.write_text(HEAD + lines(9004, 4))
    assert told(folder) == [("Brook", 4)]


def test_a_line_that_cannot_be_taken_is_told_once_and_the_others_come_in(
    store: Store, tmp_path: Path
) -> None:
    folder, file = Folder(store, tmp_path, "Brook"), tmp_path / "probe.csv"
    file.write_text(HEAD + lines(0, 2) + "2026-05-04T07:3,6.\n" + lines(3, 2))
    (view,) = folder.look(NOW)
    assert (view.new, view.bad) == (4, ("'2026-05-04T07:3,6.': '2026-05-04T07:3' is no time.",))
    with file.open("a") as grown:
        grown.write(lines(5, 1))
    (view,) = folder.look(NOW)
    assert (view.new, view.bad) == (1, ())


def test_a_file_of_another_kind_is_told_once_and_left_alone(store: Store, tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("Dear probe,\nhow are you?\n")
    (tmp_path / ".probe.csv.part").write_text(HEAD + lines(0, 3))
    folder = Folder(store, tmp_path, "Brook")
    (view,) = folder.look(NOW)
    assert "No column is called after the time" in view.problem
    os.utime(tmp_path / "letter.txt")
    assert told(folder) == []
    with pytest.raises(BadInputError, match="cannot be read"):
        list(Folder(store, tmp_path / "none", "Brook").look(NOW))


def test_folders_named_after_tanks_hold_their_logs(store: Store, tmp_path: Path) -> None:
    for name in ("Brook", "Pool", "Creek"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "probe.csv").write_text(HEAD + lines(0, 3))
    assert told(Folder(store, tmp_path, None)) == [("Brook", 3), ("Pool", 3)]


def test_a_clock_put_back_between_two_looks_is_seen(store: Store, tmp_path: Path) -> None:
    """Lisbon puts its clocks back on 2026-10-25 at 01:00 UTC: 01:00 to 01:59 come twice."""
    folder, file = Folder(store, tmp_path, "Brook"), tmp_path / "probe.csv"
    passes = "".join(f"2026-10-25 01:{minute:02},7.0\n" for minute in range(60))
    file.write_text(HEAD + "2026-10-25 00:59,7.0\n" + passes)
    assert told(folder) == [("Brook", 61)]
    for line in passes.splitlines(keepends=True):
        with file.open("a") as grown:
            grown.write(line)
        assert told(folder) == [("Brook", 1)]
    assert (np.diff(store.samples("Brook").minute_utc) == 1).all()


def test_days_and_months_stay_in_the_order_the_file_once_told(store: Store, tmp_path: Path) -> None:
    folder, file = Folder(store, tmp_path, "Brook"), tmp_path / "probe.csv"
    clocks = [f"{number // 60:02}:{number % 60:02}" for number in range(1440)]
    days = "".join(f"{day}/2026 {at},7.0\n" for day in ("30/04", "01/05", "02/05") for at in clocks)
    file.write_text(HEAD + days)
    assert told(folder) == [("Brook", 4320)]
    with file.open("a") as grown:
        grown.write("03/05/2026 00:00,7.0\n")
    assert told(folder) == [("Brook", 1)]
    span = store.samples_span("Brook")
    assert span is not None
    assert span[1] == datetime(2026, 5, 2, 23, tzinfo=UTC)


def test_a_store_that_is_held_is_tried_again(tmp_path: Path) -> None:
    (tmp_path / "logs").mkdir()
    (tmp_path / "logs" / "probe.csv").write_text(HEAD + lines(0, 3))
    with open_store(str(tmp_path / "s.db"), clock=lambda: NOW) as store:
        store.add_tank(a_tank(), START)
        folder = Folder(store, tmp_path / "logs", "Brook")
        holder = sqlite3.connect(tmp_path / "s.db", isolation_level=None)
        holder.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreLockedError):
            told(folder)
        holder.close()
        assert told(folder) == [("Brook", 3)]


def test_killed_and_started_again_it_takes_in_everything_once(tmp_path: Path) -> None:
    place, logs = tmp_path / "s.db", tmp_path / "logs"
    logs.mkdir()
    with open_store(str(place)) as store:
        store.add_tank(a_tank(), START)
    command = [sys.executable, "-m", "dawnlevel.cli", "probe", "follow", str(logs), "--every", "0.1"]
    command += ["--store", str(place)]
    clock = {**os.environ, "DAWNLEVEL_NOW": NOW.isoformat()}
    (logs / "probe.csv").write_text(HEAD)
    written = 0
    for ending in (signal.SIGKILL, signal.SIGKILL, signal.SIGINT):
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=clock) as child:
            assert child.stdout is not None
            with (logs / "probe.csv").open("a") as file:
                for number in range(20):
                    file.write(lines(written, 1))
                    file.flush()
                    written += 1
                    time.sleep(0.01)
                    if number == 10:
                        child.stdout.readline()  # something has come in; the rest comes while it is killed
            child.send_signal(ending)
        assert child.returncode == (0 if ending is signal.SIGINT else -ending)
    subprocess.run([*command, "--once"], check=True, env=clock)
    with open_store(str(place)) as store:
        log = store.samples("Brook")
        stored = sum(batch.readings for batch in store.sample_batches("Brook"))
    assert (len(log), stored) == (written, written)
    assert (np.diff(log.minute_utc) == 1).all()
