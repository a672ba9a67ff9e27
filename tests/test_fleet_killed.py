"""The command as people run it: processes and clusters give what one process gives, killed or not."""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

import psutil
import pytest
from fleet_tanks import STEADY, WEAKER, WRITTEN_CARD, readings, write_part, write_tank
from misbehaving_tanks import NOW, Misbehaving

from dawnlevel.desk.fleet.cluster import by_cluster
from dawnlevel.desk.fleet.job import TankJob, program_version

PYTHON = sys.executable
TANKS = 14
ENVIRONMENT = {**os.environ, "DAWNLEVEL_NOW": "2026-05-28T12:00:00Z"}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A fleet: steady tanks, changed ones, one without a KH, one that is no Parquet, one partitioned."""
    made = tmp_path_factory.mktemp("fleet")
    tables = [readings(course, seed) for course in (STEADY, WEAKER) for seed in (1, 2)]
    for number in range(TANKS - 3):
        write_tank(made, f"Bay {number:02}", tables[number % 4])
    write_tank(made, "Bay 20 no KH", tables[0], {**WRITTEN_CARD, "kh_dkh": None})
    write_tank(made, "Bay 21 damaged", tables[0])
    (made / "Bay 21 damaged.parquet").write_bytes(b"PAR1")
    write_part(made, "Süd/1", [tables[2]])
    return made


def command(folder: Path, out: Path, *more: str) -> list[str]:
    return [PYTHON, "-m", "dawnlevel.cli", "fleet", "--parquet", str(folder), "--out", str(out), *more]


def whole(folder: Path, out: Path, *more: str) -> dict[str, object]:
    done = subprocess.run(
        command(folder, out, "--json", *more), capture_output=True, text=True, env=ENVIRONMENT, check=True
    )
    data: dict[str, object] = json.loads(done.stdout)["data"]
    return data


@pytest.fixture(scope="module")
def alone(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> list[bytes]:
    """The sorted lines of one process."""
    out = tmp_path_factory.mktemp("alone") / "out.jsonl"
    view = whole(folder, out, "--workers", "1")
    assert (view["tanks"], view["judged"], view["before"], view["lost"]) == (TANKS, TANKS - 2, 0, [])
    lines = sorted(out.read_bytes().splitlines())
    assert len(lines) == TANKS
    return lines


def wait_for(condition: Callable[[], bool], limit_s: float = 120.0) -> None:
    end = time.monotonic() + limit_s
    while not condition():
        assert time.monotonic() < end, "waited in vain"
        time.sleep(0.01)


def count(out: Path) -> int:
    return out.read_bytes().count(b"\n") if out.exists() else 0


def workers_of(process: "subprocess.Popen[bytes]") -> list[psutil.Process]:
    """The processes that judge: those started by `spawn`, without the tracker of its semaphores."""
    return [
        child
        for child in psutil.Process(process.pid).children(recursive=True)
        if "spawn_main" in " ".join(child.cmdline())
    ]


def started(folder: Path, out: Path, *more: str) -> "subprocess.Popen[bytes]":
    return subprocess.Popen(
        command(folder, out, *more), stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=ENVIRONMENT
    )


def test_the_overview_names_what_changed_and_tells_failures_together(folder: Path, tmp_path: Path) -> None:
    run = subprocess.run(
        command(folder, tmp_path / "out.jsonl", "--workers", "2"),
        capture_output=True, text=True, env=ENVIRONMENT, check=True,
    )  # fmt: skip
    said = " ".join(run.stdout.split())
    assert "14 tanks: 6 changed, 6 steady, 2 that could not be judged." in said
    assert "Changed in the last 14 days: 6 tanks" in said
    assert "less gas dissolves than before" in said
    assert "Bay 20 no KH: The card cannot be used: kh_dkh is missing." in said
    assert "Bay 21 damaged" in said
    assert run.stderr == ""


def test_two_processes_give_what_one_gives_and_a_killed_one_costs_only_time(
    folder: Path, tmp_path: Path, alone: list[bytes]
) -> None:
    out = tmp_path / "out.jsonl"
    with started(folder, out, "--workers", "2", "--json") as run:
        wait_for(lambda: count(out) >= 2)
        first = workers_of(run)
        first[0].kill()
        wait_for(lambda: count(out) >= 5)
        for worker in workers_of(run):
            worker.kill()
        said, _ = run.communicate(timeout=300)
    assert run.returncode == 0
    assert json.loads(said)["data"]["lost"] == []
    assert sorted(out.read_bytes().splitlines()) == alone


def test_the_run_itself_killed_leaves_no_process_and_goes_on(
    folder: Path, tmp_path: Path, alone: list[bytes]
) -> None:
    out = tmp_path / "out.jsonl"
    with started(folder, out, "--workers", "2") as run:
        wait_for(lambda: count(out) >= 3)
        workers = workers_of(run)
        run.kill()
    assert len(workers) == 2
    wait_for(lambda: not any(worker.is_running() for worker in workers))
    done = count(out)
    assert 3 <= done < TANKS
    view = whole(folder, out, "--workers", "2")
    assert view["before"] == done
    assert sorted(out.read_bytes().splitlines()) == alone


def test_ctrl_c_keeps_what_is_done(folder: Path, tmp_path: Path, alone: list[bytes]) -> None:
    out = tmp_path / "out.jsonl"
    with started(folder, out, "--workers", "2") as run:
        wait_for(lambda: count(out) >= 3)
        for process in [*workers_of(run), psutil.Process(run.pid)]:  # a terminal tells them all
            process.send_signal(signal.SIGINT)
        _, said = run.communicate(timeout=60)
    assert run.returncode == 130
    assert said.decode() == (
        f"dawnlevel: Stopped; what is done stands in {out}. The same command goes on from there.\n"
    )
    whole(folder, out, "--workers", "2")
    assert sorted(out.read_bytes().splitlines()) == alone


# --- a Dask cluster of two workers on loopback ---


@contextmanager
def dask(part: str, *options: str, **environment: str) -> Iterator["subprocess.Popen[bytes]"]:
    process = subprocess.Popen(
        [PYTHON, "-m", f"distributed.cli.dask_{part}", *options, "--no-dashboard"],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env={**ENVIRONMENT, **environment},
    )
    try:
        yield process
    finally:
        for child in psutil.Process(process.pid).children(recursive=True):
            child.kill()
        process.kill()
        process.wait()


@contextmanager
def scheduler(folder: Path, **environment: str) -> Iterator[str]:
    """The address of a scheduler without workers."""
    file = folder / "scheduler.json"
    options = ("--host", "127.0.0.1", "--port", "0", "--scheduler-file", str(file))
    with dask("scheduler", *options, **environment):
        wait_for(file.exists)
        wait_for(lambda: file.read_text(encoding="utf-8").endswith("}"))
        yield str(json.loads(file.read_text(encoding="utf-8"))["address"])


def a_worker(
    address: str, *options: str, **environment: str
) -> AbstractContextManager[subprocess.Popen[bytes]]:
    return dask("worker", address, "--nthreads", "1", "--host", "127.0.0.1", *options, **environment)


def test_a_cluster_gives_what_one_process_gives_and_a_killed_worker_costs_only_time(
    folder: Path, tmp_path: Path, alone: list[bytes]
) -> None:
    out = tmp_path / "out.jsonl"
    with scheduler(tmp_path) as address, a_worker(address, "--no-nanny") as first, a_worker(address):
        with started(folder, out, "--scheduler", address, "--json") as run:
            wait_for(lambda: count(out) >= 3)
            first.kill()
            said, problem = run.communicate(timeout=300)
        assert run.returncode == 0, problem.decode()
    assert json.loads(said)["data"]["lost"] == []
    assert sorted(out.read_bytes().splitlines()) == alone


def test_a_scheduler_that_goes_away_stops_the_run_which_goes_on_without_it(
    folder: Path, tmp_path: Path, alone: list[bytes]
) -> None:
    out = tmp_path / "out.jsonl"
    with scheduler(tmp_path) as address, a_worker(address):
        run = started(folder, out, "--scheduler", address)
        wait_for(lambda: count(out) >= 3)
    _, problem = run.communicate(timeout=120)
    assert run.returncode == 2
    assert "The Dask scheduler went away" in problem.decode()
    assert 3 <= count(out) < TANKS
    whole(folder, out, "--workers", "2")
    assert sorted(out.read_bytes().splitlines()) == alone


def test_a_tank_that_kills_every_worker_of_a_cluster_is_given_up_alone(tmp_path: Path) -> None:
    environment = {
        "PYTHONPATH": str(Path(__file__).parent),
        "DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "1",
        "DASK_DISTRIBUTED__SCHEDULER__WORKER_SATURATION": "1.0",  # nobody waits beside the killer
    }
    job = TankJob(Misbehaving(str(tmp_path), ()), NOW, program_version())
    with scheduler(tmp_path, **environment) as address, a_worker(address, **environment):
        found = {one.tank: one for one in by_cluster(job, ["a", "b always", "c once", "d"], address)}
    assert [name for name, one in found.items() if one.lost] == ["b always"]
    assert sorted(name for name, one in found.items() if one.line) == ["a", "c once", "d"]


def test_workers_that_know_nothing_of_the_job_stop_the_run(tmp_path: Path) -> None:
    job = TankJob(Misbehaving(str(tmp_path), ()), NOW, program_version())  # of a module that only we have
    with scheduler(tmp_path) as address, a_worker(address):
        (found,) = by_cluster(job, ["a"], address)
    assert found.stop is not None
    assert "Install the same Dawnlevel" in found.stop.cure


def test_a_scheduler_that_is_not_there_is_told(folder: Path, tmp_path: Path) -> None:
    run = subprocess.run(
        command(folder, tmp_path / "out.jsonl", "--scheduler", "tcp://127.0.0.1:9"),
        capture_output=True, text=True, env=ENVIRONMENT, check=False,
    )  # fmt: skip
    assert run.returncode == 2
    assert "No Dask scheduler answers" in run.stderr
    assert "Traceback" not in run.stderr
