"""Many tanks in one file: each once, whatever befalls workers, tanks, the file or the run itself."""

import json
import os
from collections import Counter
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from misbehaving_tanks import NOW, Misbehaving

from dawnlevel.desk.fleet.job import TankJob, program_version
from dawnlevel.desk.fleet.ledger import Ledger
from dawnlevel.desk.fleet.processes import by_processes
from dawnlevel.desk.fleet.run import watch_fleet
from dawnlevel.desk.fleet.views import FleetView
from dawnlevel.errors import BadInputError, BadLinesError, StoreUnreachableError


def run(
    folder: Path, tanks: tuple[str, ...], workers: int = 2, now: datetime = NOW, *, again: bool = False
) -> FleetView:
    source = Misbehaving(str(folder), tanks)
    return watch_fleet(
        source,
        folder / "out.jsonl",
        lambda job, names: by_processes(job, names, workers),
        now,
        lambda _done, _total: None,
        again=again,
    )


def lines(folder: Path) -> list[dict[str, object]]:
    return [json.loads(line) for line in (folder / "out.jsonl").read_text(encoding="utf-8").splitlines()]


def names(folder: Path) -> list[object]:
    return sorted(str(line["tank"]) for line in lines(folder))


def test_a_worker_that_is_killed_costs_only_time(tmp_path: Path) -> None:
    tanks = ("a", "b once", "c", "d once", "e", "f")
    view = run(tmp_path, tanks)
    assert names(tmp_path) == sorted(tanks)
    assert (view.tanks, view.judged, view.lost) == (6, 6, ())
    seen = Counter((tmp_path / "seen").read_text(encoding="utf-8").split("\n")[:-1])
    assert seen == {"a": 1, "b once": 2, "c": 1, "d once": 2, "e": 1, "f": 1}


def test_a_tank_that_kills_every_worker_is_given_up_and_tried_by_the_next_run(tmp_path: Path) -> None:
    view = run(tmp_path, ("a", "b always", "c"))
    assert names(tmp_path) == ["a", "c"]
    assert [(one.tank, one.slug) for one in view.lost] == [("b always", "worker-died")]
    assert run(tmp_path, ("a", "b always", "c")).before == 2


def test_workers_that_all_die_stop_the_run(tmp_path: Path) -> None:
    with pytest.raises(BadInputError, match="died one after the other"):
        run(tmp_path, tuple(f"{number} always" for number in range(12)), workers=2)


def test_failures_of_single_tanks_are_told_together_and_stop_nobody(tmp_path: Path) -> None:
    view = run(tmp_path, ("a", "b empty", "c raises", "d"), workers=1)
    assert [(one.tank, one.slug) for one in view.troubled] == [
        ("b empty", "not-enough-records"),
        ("c raises", "unexpected"),
    ]
    assert "ZeroDivisionError: c raises" in view.troubled[1].message
    assert (view.judged, view.too_short) == (2, 2)


def test_a_place_that_cannot_be_read_stops_the_run_and_keeps_what_is_done(tmp_path: Path) -> None:
    for workers in (1, 2):
        with pytest.raises(StoreUnreachableError, match=r"disk: The disk is gone\. Plug it in\."):
            run(tmp_path, ("a", "b", "c gone", "d"), workers=workers)
    assert names(tmp_path)[:2] == ["a", "b"]


def test_a_second_run_goes_on_as_of_the_moment_of_the_first(tmp_path: Path) -> None:
    with pytest.raises(StoreUnreachableError):
        run(tmp_path, ("a", "b gone"), workers=1)
    view = run(tmp_path, ("a", "c", "b"), workers=1, now=NOW + timedelta(days=3))
    assert (view.before, view.tanks) == (1, 3)
    assert {line["as_of"] for line in lines(tmp_path)} == {"2026-05-28T12:00:00Z"}


def test_tanks_that_could_not_be_judged_are_tried_again_when_asked(tmp_path: Path) -> None:
    run(tmp_path, ("a", "b empty"), workers=1)
    run(tmp_path, ("a", "b empty"), workers=1)
    assert (tmp_path / "seen").read_text(encoding="utf-8") == "a\nb empty\n"
    later = NOW + timedelta(days=3)
    view = run(tmp_path, ("a", "b empty"), workers=1, now=later, again=True)
    assert (tmp_path / "seen").read_text(encoding="utf-8") == "a\nb empty\nb empty\n"
    assert names(tmp_path) == ["a", "b empty"]
    assert [line["as_of"] for line in lines(tmp_path)] == ["2026-05-28T12:00:00Z", "2026-05-31T12:00:00Z"]
    assert view.before == 1


def test_another_program_version_is_refused(tmp_path: Path) -> None:
    job = TankJob(Misbehaving(str(tmp_path), ("a",)), NOW, "0.0.0")
    outcome = job("a")
    assert outcome.stop is not None
    assert f"A worker runs Dawnlevel {program_version()}, this computer 0.0.0." in outcome.stop.message


def test_a_line_cut_short_by_a_kill_is_taken_off(tmp_path: Path) -> None:
    run(tmp_path, ("a", "b", "c"), workers=1)
    file = tmp_path / "out.jsonl"
    whole = file.read_bytes()
    for cut in range(len(whole) - 1, len(whole) - len(whole.splitlines()[-1]) - 1, -1):
        file.write_bytes(whole[:cut])
        with Ledger(file) as ledger:
            assert list(ledger.tanks) == ["a", "b"]
            assert ledger.as_of == datetime(2026, 5, 28, 12, tzinfo=UTC)
        assert file.read_bytes() == b"".join(whole.splitlines(keepends=True)[:2])
    run(tmp_path, ("a", "b", "c"), workers=1)
    assert file.read_bytes() == whole


@pytest.mark.parametrize(
    "content",
    [
        b"time,ph\n2026-05-04 10:00,7\n",
        b"dear diary",
        b'{"schema":"dawnlevel/fleet/1"}\n',
        b'{"schema":"another","tank":"a","as_of":"2026-05-28T12:00:00Z","watch":null,"problem":null}\n',
        b'{"schema":"dawnlevel/fleet/1","tank":"a","as_of":"2026-05-28T12:00:00Z","watch":null,"problem":null}\n'
        * 2,
    ],
)
def test_a_file_that_no_fleet_wrote_is_left_alone(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "out.jsonl"
    file.write_bytes(content)
    with pytest.raises(BadLinesError):
        run(tmp_path, ("a",))
    assert file.read_bytes() == content


def test_a_file_of_another_fleet_is_left_alone(tmp_path: Path) -> None:
    run(tmp_path, ("a", "b"), workers=1)
    with pytest.raises(BadInputError, match="holds tanks that nowhere has not: b"):
        run(tmp_path, ("a", "c"), workers=1)
    assert names(tmp_path) == ["a", "b"]


def test_two_runs_do_not_write_one_file(tmp_path: Path) -> None:
    with Ledger(tmp_path / "out.jsonl"), pytest.raises(BadInputError, match="Another run is writing"):
        run(tmp_path, ("a",))
    run(tmp_path, ("a",))


def test_a_file_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    with pytest.raises(BadInputError, match="cannot be written"):
        Ledger(tmp_path / "no folder" / "out.jsonl")


def test_a_full_disk_leaves_whole_lines(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    run(tmp_path, ("a",), workers=1)
    whole = (tmp_path / "out.jsonl").read_bytes()
    real = os.write
    room = [20]

    def write(file: int, content: bytes) -> int:
        if not room[0]:
            raise OSError(28, "No space left on device")
        taken = real(file, bytes(content[: room[0]]))
        room[0] -= taken
        return taken

    monkeypatch.setattr(os, "write", write)
    with pytest.raises(BadInputError, match="No space left on device"):
        run(tmp_path, ("a", "b"), workers=1)
    assert (tmp_path / "out.jsonl").read_bytes() == whole
