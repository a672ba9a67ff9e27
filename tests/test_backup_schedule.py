"""Copies by themselves: when they are due under a moved clock, what stays when they fail, what is told."""

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from store_servers import START, a_tank, one_of_each

from dawnlevel.cli.app import run
from dawnlevel.cli.serve_backups import copies_kept, keep_copies, schedule_of
from dawnlevel.desk.exchange.backup_schedule import BackupSchedule, read_state, state_file
from dawnlevel.desk.exchange.doctor import Finding, Health, examine
from dawnlevel.errors import BadInputError
from dawnlevel.store import open_store
from dawnlevel.store.copying import content_of
from dawnlevel.tank import PhReading

NOON = datetime(2026, 6, 1, 12, tzinfo=UTC)
DAY = timedelta(days=1)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    found = tmp_path / "records.sqlite3"
    with open_store(str(found), clock=lambda: NOON) as store:
        store.add_tank(a_tank(), START)
        store.add_records("Brook", one_of_each())
    return found


def planned(path: Path, keep: int = 3, every: timedelta = DAY) -> BackupSchedule:
    return BackupSchedule(str(path), path.parent / "copies", every, keep)


def copies(path: Path) -> list[Path]:
    return sorted((path.parent / "copies").glob("*.sqlite3"))


def told(path: Path, now: datetime) -> Finding:
    (found,) = [one for one in examine(str(path), now).findings if one.name == "copies"]
    return found


def test_a_copy_a_day_and_the_newest_stay(path: Path) -> None:
    """Ten days in steps of an hour: ten copies, of which three are left, all sound."""
    plan = planned(path)
    made = [outcome for hour in range(240) if (outcome := plan.look(NOON + timedelta(hours=hour)))]
    assert len(made) == 10
    assert all(outcome.view and not outcome.failure for outcome in made)
    days = [one.name.partition("T")[0] for one in copies(path)]
    assert days == ["dawnlevel-20260608", "dawnlevel-20260609", "dawnlevel-20260610"]
    assert {content_of(one).digest for one in copies(path)} == {content_of(path).digest}


def test_a_program_started_again_goes_on_where_the_last_one_was(path: Path) -> None:
    assert planned(path).look(NOON)
    assert planned(path).look(NOON + timedelta(hours=23)) is None
    assert planned(path).look(NOON + timedelta(hours=24))
    assert planned(path, every=timedelta(hours=2)).look(NOON + timedelta(hours=26))


def test_a_clock_set_back_asks_for_one_copy_not_for_one_a_minute(path: Path) -> None:
    plan = planned(path)
    assert plan.look(NOON)
    back = NOON - timedelta(days=30)
    assert plan.look(back)
    assert [plan.look(back + timedelta(minutes=minute)) for minute in range(1, 60)] == [None] * 59
    assert plan.look(back + DAY)
    assert len(copies(path)) == 3


def test_a_copy_that_fails_takes_nothing_away_and_is_tried_again(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = planned(path, keep=1)
    assert plan.look(NOON)
    (last,) = copies(path)
    before = last.read_bytes()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("dawnlevel.desk.exchange.backup.copy_store", full)
        failed = plan.look(NOON + DAY)
        assert failed is not None
        assert failed.view is None
        assert "No space left on device" in failed.failure
        assert plan.look(NOON + DAY + timedelta(minutes=14)) is None
        assert plan.look(NOON + DAY + timedelta(minutes=15))
    assert [one.read_bytes() for one in copies(path)] == [before]
    found = told(path, NOON + DAY + timedelta(minutes=20))
    assert found.health is Health.ILL
    assert "Last copy 2026-06-01 12:00 UTC" in found.found
    assert "No space left" in found.found
    again = plan.look(NOON + DAY + timedelta(minutes=30))
    assert again is not None
    assert again.view is not None
    assert again.view.removed == (last.name,)
    assert told(path, NOON + DAY + timedelta(minutes=31)).health is Health.WELL


def test_a_store_that_is_damaged_is_not_copied_over_the_last_good_copy(path: Path) -> None:
    plan = planned(path, keep=1)
    assert plan.look(NOON)
    good = content_of(copies(path)[0]).digest
    with open_store(str(path)) as store:
        store.add_records("Brook", [PhReading(at=START + timedelta(seconds=n), ph=7.0) for n in range(2000)])
    for ending in ("-wal", "-shm"):
        path.with_name(path.name + ending).unlink(missing_ok=True)
    with path.open("r+b") as file:
        file.seek(path.stat().st_size // 2)
        file.write(b"\xff" * 8192)
    failed = plan.look(NOON + DAY)
    assert failed is not None
    assert failed.failure
    assert [content_of(one).digest for one in copies(path)] == [good]


def test_the_doctor_tells_late_copies_and_lost_ones_and_is_silent_without_a_schedule(path: Path) -> None:
    assert "copies" not in {one.name for one in examine(str(path), NOON).findings}
    planned(path).look(NOON)
    assert told(path, NOON + timedelta(days=3)).health is Health.WELL
    late = told(path, NOON + timedelta(days=3, hours=1))
    assert (late.health, "One every 24 h was asked for" in late.found) == (Health.WATCH, True)
    copies(path)[0].unlink()
    assert told(path, NOON + timedelta(hours=1)).health is Health.ILL
    state_file(str(path)).write_text("{torn", encoding="utf-8")
    assert read_state(str(path)) is None
    assert "copies" not in {one.name for one in examine(str(path), NOON).findings}


def test_what_happens_is_in_the_servers_log(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    moments: Iterator[datetime] = iter([NOON, NOON + timedelta(hours=1), NOON + DAY])
    ends = iter([False, False, True])
    plan = planned(path)

    def spoil_then_end(_: float) -> bool:
        (path.parent / "copies").rename(path.parent / "moved") if (path.parent / "copies").is_dir() else None
        (path.parent / "copies").write_text("in the way", encoding="utf-8")
        return next(ends)

    keep_copies(plan, lambda: next(moments), spoil_then_end)
    said = capsys.readouterr()
    assert said.out.count("Copied the store to") == 1
    assert said.err.count("The store was not copied: ") == 1
    assert len(list((path.parent / "moved").iterdir())) == 1


def test_a_schedule_runs_beside_the_server_and_ends_with_it(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = schedule_of(str(path), "24h", str(path.parent / "copies"), 2)
    with copies_kept(plan, lambda: NOON):
        pass
    assert len(copies(path)) == 1
    assert "every 24 h; 2 are kept" in capsys.readouterr().out
    assert json.loads(state_file(str(path)).read_text(encoding="utf-8"))["failure"] == ""
    assert schedule_of(str(path), None, None, 2) is None


@pytest.mark.parametrize(
    ("words", "problem"),
    [
        (["--backup-every", "24h"], "go together"),
        (["--backup-every", "1min", "--backup-to", "here"], "too often or too seldom"),
        (["--backup-every", "soon", "--backup-to", "here"], "is no number"),
    ],
)
def test_options_that_do_not_fit_are_told(
    path: Path, words: list[str], problem: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["serve", "--store", str(path), "--port", "0", *words]) == 2
    assert problem in capsys.readouterr().err


def test_a_store_in_memory_has_nothing_to_copy() -> None:
    with pytest.raises(BadInputError, match="no file to copy"):
        schedule_of("sqlite://", "24h", "here", 2)
