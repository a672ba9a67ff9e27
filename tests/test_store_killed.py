"""Killed at any moment, nothing that was acknowledged is lost and nothing is half there."""

import subprocess
import sys
from pathlib import Path

import pytest
from store_servers import START, a_tank

from dawnlevel.store import open_store

HERE = Path(__file__).parent


@pytest.mark.parametrize("work", ["recording", "importing", "logging", "hearing", "migrating"])
def test_a_hundred_kills_lose_nothing_and_leave_nothing_half_there(work: str, tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, str(HERE / "killed_writers.py"), work, str(tmp_path), "100", "20260504"],
        capture_output=True,
        text=True,
        check=False,
        timeout=600,
        cwd=HERE,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    killed, said, _ = map(int, done.stdout.split())
    assert killed == 100
    assert said >= 60  # a writer says 0 to 2 numbers at least before it is killed


WRITER = """
import sys
from datetime import timedelta
from pathlib import Path
sys.path.insert(0, sys.argv[2])
from store_servers import START
from dawnlevel.store import open_store
from dawnlevel.tank import PhReading
with open_store(sys.argv[1]) as store:
    for number in range(40):
        note = f"{sys.argv[3]} {number}"
        store.add_records("Brook", [PhReading(at=START + timedelta(seconds=number), ph=7.0, note=note)] * 3)
"""


def test_three_programs_that_write_at_once_lose_nothing(tmp_path: Path) -> None:
    path = tmp_path / "records.db"
    with open_store(str(path)) as store:
        store.add_tank(a_tank(), START)
        programs = [
            subprocess.Popen([sys.executable, "-c", WRITER, str(path), str(HERE), str(number)])
            for number in range(3)
        ]
        assert [program.wait(timeout=120) for program in programs] == [0, 0, 0]
        notes = [stored.record.note for stored in store.records("Brook")]
    assert len(notes) == 3 * 40 * 3
    assert len(set(notes)) == 3 * 40
