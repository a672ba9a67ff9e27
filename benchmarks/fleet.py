"""Tank-years watched in a minute: one process, two, and a Dask cluster of two workers, side by side.

    python -m benchmarks.fleet --tanks 24 --days 365 --rounds 3

Simulated probe logs by the minute, from a folder of Parquet files and from a SQLite store. The ways take
turns, so that whatever else the machine does meets all of them; the figures are each way's median and best
round, and the processor time that all its processes took together. Workers of the cluster are there before
the clock starts, processes are started while it runs. The lines of every way must be the same, letter for
letter.
"""

import argparse
import json
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import Any

import numpy as np
import psutil
import pyarrow as pa
import pyarrow.parquet as pq

from benchmarks._machine import machine
from benchmarks._watch_worlds import Log, draw_log
from dawnlevel.desk.fleet.cluster import by_cluster
from dawnlevel.desk.fleet.job import Source
from dawnlevel.desk.fleet.parquet import ParquetSource
from dawnlevel.desk.fleet.processes import by_processes
from dawnlevel.desk.fleet.run import Runner, watch_fleet
from dawnlevel.desk.fleet.stored import StoreSource
from dawnlevel.store import open_store
from dawnlevel.tank import KhTitration, Photoperiod, Tank, TimerSetting
from dawnlevel.tank.samples import Samples

_BEGUN = datetime(2025, 5, 4, tzinfo=UTC)
_KINDS = ("none", "injection_weaker", "exchange_slower", "probe_drift")
_YEAR_DAYS = 365.0


@dataclass
class Way:
    """One way of doing the work, and how long each round took [s]."""

    name: str
    source: Source
    run: Runner
    took_s: list[float] = field(default_factory=list)
    cpu_s: list[float] = field(default_factory=list)


def logs(tanks: int, days: int) -> Iterator[tuple[str, Log, Samples]]:
    """As many tanks as wanted: a few simulated ones, each copy with its own reading error of half a digit."""
    drawn = [draw_log(kind, seed=11, days=days) for kind in _KINDS[:tanks]]
    rng = np.random.default_rng(7)
    first = int(_BEGUN.timestamp()) // 60
    for number in range(tanks):
        log = drawn[number % len(drawn)]
        minutes = first + np.round(log.hours * 60.0).astype(np.int64)
        ph = np.round(log.ph + rng.normal(0.0, 0.005, log.ph.size), 2)
        yield f"Tank {number:04}", log, Samples.gathered(minutes, np.clip(ph, 3.1, 10.9), log.temp_c)


def fill(folder: Path, store: Path, tanks: int, days: int) -> None:
    """The same fleet as Parquet and as a store."""
    folder.mkdir()
    with open_store(str(store), clock=lambda: _BEGUN) as opened:
        for name, log, samples in logs(tanks, days):
            table = {"minute_utc": samples.minute_utc, "ph": samples.ph, "temp_c": samples.temp_c}
            pq.write_table(pa.table(table), folder / f"{name}.parquet")
            (folder / f"{name}.json").write_text(json.dumps(log.card), encoding="utf-8")
            card = {key: float(str(value)) for key, value in log.card.items() if key.endswith(("_h", "_dkh"))}
            lights = Photoperiod(lights_on_h=card["lights_on_h"], lights_off_h=card["lights_off_h"] % 24.0)
            tank = Tank(
                name=name,
                volume_l=200.0,
                depth_cm=45.0,
                surface_cm2=4500.0,
                photoperiod=lights,
                timezone="UTC",
            )
            opened.add_tank(tank, _BEGUN)
            windows = ((card["gas_on_h"], card["gas_off_h"] % 24.0),)
            opened.add_records(
                name,
                [KhTitration(at=_BEGUN, kh_dkh=card["kh_dkh"]), TimerSetting(at=_BEGUN, windows_h=windows)],
            )
            opened.add_samples(name, samples, "simulated")


def spent_s() -> float:
    """Processor time of this process, those it started, and those of them that ended [s]."""
    own = psutil.Process()
    times = own.cpu_times()
    total = times.user + times.system + times.children_user + times.children_system
    for child in own.children(recursive=True):
        spent = child.cpu_times()
        total += spent.user + spent.system
    return float(total)


def measure(way: Way, folder: Path, now: datetime) -> list[bytes]:
    """Do all of it once, and note how long it took; the sorted lines."""
    out = folder / "out.jsonl"
    out.unlink(missing_ok=True)
    began, cpu = perf_counter(), spent_s()
    watch_fleet(way.source, out, way.run, now, lambda _done, _total: None)
    way.took_s.append(perf_counter() - began)
    way.cpu_s.append(spent_s() - cpu)
    return sorted(out.read_bytes().splitlines())


def ways(parquet: Source, store: Source, address: str) -> list[Way]:
    """Both sources by one process, two, and the cluster."""

    def processes(count: int) -> Runner:
        return lambda job, names: by_processes(job, names, count)

    made = []
    for kind, source in (("Parquet", parquet), ("SQLite store", store)):
        made += [
            Way(f"{kind}, one process", source, processes(1)),
            Way(f"{kind}, two processes", source, processes(2)),
            Way(f"{kind}, Dask, two workers", source, lambda job, names: by_cluster(job, names, address)),
        ]
    return made


@contextmanager
def cluster() -> Iterator[str]:
    """The address of a scheduler with two workers of a thread each, on this machine."""
    import distributed  # noqa: PLC0415 - every worker process imports this file

    start: Any = distributed.LocalCluster
    with start(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, host="127.0.0.1"
    ) as made:
        yield str(made.scheduler_address)


def report(done: list[Way], tanks: int, days: int) -> None:
    """Print what was measured."""
    years = tanks * days / _YEAR_DAYS
    print(f"{tanks} tanks of {days} days, {years:.1f} tank-years; rounds: {len(done[0].took_s)}")
    print(json.dumps(machine(["dawnlevel", "numpy", "distributed", "pyarrow"])))
    print("| way | tank-years a minute, median | best | processor time a tank-year, s |\n|---|---|---|---|")
    for way in done:
        best, usual, spent = min(way.took_s), median(way.took_s), median(way.cpu_s)
        print(f"| {way.name} | {60 * years / usual:.0f} | {60 * years / best:.0f} | {spent / years:.2f} |")


def main() -> None:
    """Measure every way in turn."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tanks", type=int, default=24)
    parser.add_argument("--days", type=int, default=365)
    parser.add_argument("--rounds", type=int, default=3)
    asked = parser.parse_args()
    now = _BEGUN + timedelta(days=asked.days)
    with tempfile.TemporaryDirectory(prefix="dawnlevel-fleet-") as name, cluster() as address:
        folder = Path(name)
        fill(folder / "parquet", folder / "records.db", asked.tanks, asked.days)
        sources = ParquetSource(str(folder / "parquet")), StoreSource.at(str(folder / "records.db"))
        done = ways(*sources, address)
        lines: dict[str, list[bytes]] = {}
        for _ in range(asked.rounds):
            for way in done:
                made = measure(way, folder, now)
                same = lines.setdefault(way.source.place, made)
                assert made == same, f"{way.name} says something else"
                print(f"{way.name}: {way.took_s[-1]:.1f} s", file=sys.stderr, flush=True)
        report(done, asked.tanks, asked.days)


if __name__ == "__main__":
    main()
