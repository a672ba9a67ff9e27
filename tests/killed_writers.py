"""Writers killed at random points of their work: a program of its own, which forks them and looks after each.

    python killed_writers.py WORK FOLDER COUNT SEED

A writer says a number when a write has returned; it is killed with SIGKILL somewhere in its work. Then the
store must hold every write that was said, and every other one whole or not at all. One line is printed: how
many were killed, how many writes were said, and how many kills came while a write was under way.
"""

import itertools
import os
import random
import signal
import sqlite3
import sys
import time
from collections import Counter
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import alembic.command  # noqa: F401 - so that no writer spends its time importing
import numpy as np
from store_servers import START, a_tank

from dawnlevel.desk.exchange.exchange import import_table
from dawnlevel.store import Store, gathering, open_store
from dawnlevel.tank import PhReading, Record
from dawnlevel.tank.samples import Samples

BATCH = 6
NOW = START + timedelta(days=400)
Work = Callable[[Path, int, Callable[[int], None]], None]


def batch(number: int) -> list[Record]:
    """Records of one write: all say its number."""
    return [
        PhReading(at=START + timedelta(seconds=number * BATCH + one), ph=7.0, note=str(number))
        for one in range(BATCH)
    ]


def recording(place: Path, first: int, say: Callable[[int], None]) -> None:
    """Write batch after batch."""
    with open_store(str(place)) as store:
        for number in itertools.count(first):
            store.add_records("Brook", batch(number))
            say(number)


def importing(place: Path, first: int, say: Callable[[int], None]) -> None:
    """Import file after file."""
    with open_store(str(place)) as store:
        for number in itertools.count(first):
            lines = [f"{one.at.isoformat()},Brook,ph,7.0,,,{number}\r\n" for one in batch(number)]
            content = "time,tank,quantity,value,unit,method,note\r\n" + "".join(lines)
            import_table(store, content.encode(), "file.csv", NOW)
            say(number)


def logging(place: Path, first: int, say: Callable[[int], None]) -> None:
    """Add a probe's log after another: of each write as many minutes, over several days."""
    with open_store(str(place)) as store:
        for number in itertools.count(first):
            store.add_samples("Brook", log_of(number), str(number))
            say(number)


def hearing(place: Path, first: int, say: Callable[[int], None]) -> None:
    """Add readings of one live probe, so that each write also gathers what came before."""
    gathering._MOST_TODAY = gathering._MOST_BEFORE = 2
    with open_store(str(place)) as store:
        for number in itertools.count(first):
            store.add_samples("Brook", log_of(number), "live")
            say(number)


def log_of(number: int) -> Samples:
    """Readings of one write: all say its number."""
    minutes = int(START.timestamp()) // 60 + number + 10_000 * np.arange(BATCH)
    return Samples(minutes, np.full(BATCH, number % 1000 / 100 + 2.0), np.full(BATCH, np.nan))


def migrating(place: Path, first: int, say: Callable[[int], None]) -> None:
    """Bring new store after new store to the newest version."""
    for number in itertools.count(first):
        open_store(str(place.with_name(f"new{number}.db"))).close()
        say(number)


WORKS: dict[str, Work] = {
    "recording": recording,
    "importing": importing,
    "logging": logging,
    "hearing": hearing,
    "migrating": migrating,
}


class Killer:
    """Forks writers and kills each at a random point of its work, however busy the machine is."""

    def __init__(self, seed: int) -> None:
        self.chance = random.Random(seed)
        self.write_s = 0.02  # how long one write took last

    def run(self, work: Work, place: Path, first: int) -> list[int]:
        """Let a forked writer say 0 to 2 numbers, and kill it somewhere in the next write; what it said."""
        reading, writing = os.pipe()
        writer = os.fork()
        if writer == 0:
            os.close(reading)
            try:
                work(place, first, lambda number: os.write(writing, f"{number}\n".encode()) and None)
            finally:
                os._exit(1)
        os.close(writing)
        with os.fdopen(reading) as said:
            heard = []
            for _ in range(self.chance.randrange(3)):
                begun = time.monotonic()
                heard.append(int(said.readline()))
                self.write_s = time.monotonic() - begun
            time.sleep(self.chance.uniform(0.0, 1.2 * self.write_s))
            os.kill(writer, signal.SIGKILL)
            _, status = os.waitpid(writer, 0)
            heard += [int(line) for line in said]
        if not os.WIFSIGNALED(status):
            message = "the writer ended by itself"
            raise SystemExit(message)
        return heard


def check(store: Store, said: set[int], place: Path) -> set[int]:
    """Every write that was said is there, every one is whole; the numbers of all that are there."""
    counts = Counter(int(stored.record.note) for stored in store.records("Brook"))
    counts += Counter((store.samples("Brook").minute_utc - int(START.timestamp()) // 60) % 10_000)
    if not said <= set(counts):
        raise SystemExit(f"lost: {sorted(said - set(counts))}")
    if set(counts.values()) - {BATCH}:
        raise SystemExit(f"half there: {counts}")
    with sqlite3.connect(place) as connection:
        verdict = connection.execute("PRAGMA integrity_check").fetchone()
    if verdict != ("ok",):
        raise SystemExit(f"damaged: {verdict}")
    return set(counts)


def check_new(folder: Path, said: set[int]) -> int:
    """Every new store can be opened, those that were said without a step left to do; how many were not."""
    unsaid = 0
    for path in folder.glob("new*.db"):
        with sqlite3.connect(path) as connection:
            tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master")}
        number = int(path.stem.removeprefix("new"))
        if (
            tables
            and not {"tanks", "records", "dawnlevel_schema", "records_no_delete", "sample_batches_no_delete"}
            <= tables
        ):
            raise SystemExit(f"half there: {path} {tables}")
        if number in said and not tables:
            raise SystemExit(f"lost: {path}")
        unsaid += number not in said
        with open_store(str(path)) as store:
            store.add_tank(a_tank(), START)
            store.add_records("Brook", batch(0))
        for ending in ("", "-wal", "-shm"):
            path.with_name(path.name + ending).unlink(missing_ok=True)
    return unsaid


def main(work: str, folder: Path, count: int, seed: int) -> None:
    """Kill `count` writers, look after each, and print one line."""
    killer = Killer(seed)
    place = folder / "records.db"
    with open_store(str(place)) as store:
        store.add_tank(a_tank(), START)
    said: set[int] = set()
    there: set[int] = set()
    under_way = first = 0
    for _ in range(count):
        before = set(there)
        new = set(killer.run(WORKS[work], place, first))
        said |= new
        if work == "migrating":
            under_way += check_new(folder, new)
            first = max(said, default=0) + 2
            continue
        with open_store(str(place)) as store:
            there = check(store, said, place)
        under_way += bool(there - before - said)
        first = max(there | said, default=-1) + 1
    sys.stdout.write(f"{count} {len(said)} {under_way}\n")


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4]))
