"""A throw-away PostgreSQL server for the tests, and the tanks and records they keep in stores."""

import os
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from dawnlevel.tank import (
    BaselineCup,
    BaselineMethod,
    CellColour,
    CellSighting,
    FishSighting,
    FishState,
    GasSwitch,
    KhTitration,
    Photoperiod,
    PhReading,
    RateSetting,
    Record,
    Tank,
    TimerSetting,
    WaterChange,
)
from dawnlevel.tank.samples import Samples

START = datetime(2026, 5, 4, 7, 30, tzinfo=UTC)


def a_tank(name: str = "Brook", **changes: object) -> Tank:
    """A tank of our own invention."""
    fields: dict[str, object] = {
        "name": name,
        "volume_l": 180.0,
        "depth_cm": 45.0,
        "surface_cm2": 4000.0,
        "photoperiod": Photoperiod(lights_on_h=13.0, lights_off_h=21.0),
        "timezone": "Europe/Madrid",
    }
    return Tank(**(fields | changes))  # type: ignore[arg-type]


def one_of_each(start: datetime = START) -> list[Record]:
    """One record of every kind, ten minutes apart, with every optional field used somewhere."""

    def at(number: int) -> datetime:
        return start + timedelta(minutes=10 * number, microseconds=number)

    return [
        PhReading(at=at(0), ph=6.85, temp_c=24.3, note="before the gas"),
        KhTitration(at=at(1), kh_dkh=4.5, step_dkh=0.5),
        BaselineCup(at=at(2), ph=7.92, method=BaselineMethod.AERATED, hours=1.5, room_co2_ppm=640.0),
        CellSighting(at=at(3), colour=CellColour.LIME),
        RateSetting(at=at(4), bubbles_per_second=1.5, note='two lines,\n"quoted"'),
        GasSwitch(at=at(5), is_open=True),
        TimerSetting(at=at(6), windows_h=((10.5, 12.0), (22.0, 1.25))),
        TimerSetting(at=at(7), windows_h=()),
        FishSighting(at=at(8), state=FishState.UNEASY),
        WaterChange(at=at(9), fraction=0.3),
    ]


def a_log(count: int = 3000, *, seed: int = 5, first: datetime = START) -> Samples:
    """Minutes of a probe of our own invention, some without temperature, some missing."""
    rng = np.random.default_rng(seed)
    minutes = int(first.timestamp()) // 60 + np.flatnonzero(rng.random(count) < 0.95)
    ph = np.round(rng.uniform(6.0, 8.0, minutes.size), 3)
    temp = np.where(rng.random(minutes.size) < 0.1, np.nan, np.round(rng.uniform(22, 26, minutes.size), 2))
    return Samples(minutes, ph, temp)


def is_same_log(one: Samples, other: Samples) -> bool:
    """Whether two logs say the same, to the last digit."""
    fields = ("minute_utc", "ph", "temp_c")
    return all(np.array_equal(getattr(one, name), getattr(other, name), equal_nan=True) for name in fields)


def _binaries() -> Path | None:
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if found:
        return found[-1].parent
    on_path = shutil.which("initdb")
    return Path(on_path).parent if on_path else None


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def postgresql_server() -> Iterator[str]:
    """The address of a fresh server's database, stopped and removed afterwards; skips where none can be."""
    binaries = _binaries()
    if binaries is None:
        pytest.skip("no PostgreSQL server is installed here")
    user = "postgres" if os.geteuid() == 0 else None  # the server refuses to run as root
    folder = Path(tempfile.mkdtemp(prefix="dawnlevel-pg-"))
    try:
        if user:
            try:
                shutil.chown(folder, user)
            except LookupError:
                pytest.skip("tests run as root, and there is no user postgres to run the server")
        port = _free_port()
        with _running(binaries, folder, port, user):
            yield f"postgresql://keeper@127.0.0.1:{port}/postgres"
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def _running(binaries: Path, folder: Path, port: int, user: str | None) -> Iterator[None]:
    data = folder / "data"

    def run(*command: str) -> None:
        subprocess.run(command, check=True, user=user, cwd=folder, stdout=subprocess.DEVNULL, timeout=60)

    run(f"{binaries}/initdb", "-D", str(data), "-U", "keeper", "-A", "trust", "-E", "UTF8", "--no-sync")
    options = f"-p {port} -c listen_addresses=127.0.0.1 -c unix_socket_directories={folder} -c fsync=off"
    control = (f"{binaries}/pg_ctl", "-D", str(data), "-w")
    run(*control, "-l", str(folder / "log"), "-o", options, "start")
    try:
        yield
    finally:
        run(*control, "-m", "immediate", "stop")
