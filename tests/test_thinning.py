"""Thinning by the keeper's choice: said, asked, written down, and watching sees what it saw."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from cli_keeper import DESCRIBE, Keeper
from watch_tanks import CARD, Course
from watch_tanks import log as simulated

from dawnlevel.desk.steadiness.logfile import probe_log
from dawnlevel.desk.steadiness.thinning import STEPS_MIN, read_age, read_step, thinned
from dawnlevel.desk.steadiness.watch import watch_probe
from dawnlevel.errors import BadInputError
from dawnlevel.store import open_store
from dawnlevel.tank.samples import Samples
from dawnlevel.watch.days import cut_days

BEGIN = datetime(2026, 5, 4, tzinfo=UTC)
NOW = datetime(2027, 5, 6, 10, 30, tzinfo=UTC)
UTC_ZONE = ZoneInfo("UTC")


def a_month(course: Course, *, lost: float = 0.1) -> Samples:
    """A simulated log with spikes and with minutes missing, one by one and in stretches."""
    hours, ph, temp = simulated(course)
    rng = np.random.default_rng(4)
    ph = np.where(rng.random(ph.size) < 0.005, ph - 0.8, ph)
    minutes = int(BEGIN.timestamp()) // 60 + np.round(60.0 * hours).astype(np.int64)
    kept = (rng.random(ph.size) >= lost) & ~np.isin(minutes // 23, rng.choice(minutes // 23, 40))
    return Samples(minutes[kept], ph[kept], temp[kept])


@pytest.mark.parametrize("step", STEPS_MIN)
def test_half_hour_means_stay_to_the_rounding_of_the_store(step: int) -> None:
    log = a_month(Course())
    few = thinned(log, step)
    stored = Samples(few.minute_utc, np.round(few.ph, 3), few.temp_c)
    bins, again = (
        cut_days(one.hours, one.ph, one.temp_c, CARD)
        for one in (probe_log(log, UTC_ZONE), probe_log(stored, UTC_ZONE))
    )
    assert np.array_equal(np.isnan(bins.ph), np.isnan(again.ph))
    assert np.nanmax(np.abs(bins.ph - again.ph)) <= 0.0005 + 1e-9
    assert (np.diff(few.minute_utc // step) > 0).all()
    assert len(few) < len(log) / step * 1.3


def test_watching_finds_in_a_thinned_log_what_it_found_before() -> None:
    log = a_month(Course(late_h=lambda day: 0.0 if day < 15 else 1.0))
    full, few = (
        watch_probe(probe_log(one, UTC_ZONE), CARD, UTC_ZONE).view for one in (log, thinned(log, 10))
    )
    assert [one.kind for one in few.findings] == [one.kind for one in full.findings] == ["start_late"]
    (before,), (after,) = full.findings, few.findings
    assert abs(after.since - before.since) <= timedelta(hours=before.since_interval_h)
    assert after.size == pytest.approx(before.size, abs=0.05)
    for day, again in zip(full.days, few.days, strict=True):
        assert again.co2_lights_on_mg_l == pytest.approx(day.co2_lights_on_mg_l, rel=0.003, nan_ok=True)
        assert again.exchange_per_h == pytest.approx(day.exchange_per_h, rel=0.05, nan_ok=True)


def test_a_temperature_stays_one_where_there_was_one() -> None:
    log = Samples(np.arange(20), np.full(20, 7.0), np.where(np.arange(20) < 10, np.nan, 24.0))
    assert thinned(log, 10).temp_c.tolist() == pytest.approx([np.nan, 24.0], nan_ok=True)
    assert thinned(log, 10).minute_utc.tolist() == [5, 15]


@pytest.mark.parametrize(("text", "days"), [("365d", 365), ("52 weeks", 364), ("1day", 1)])
def test_ages(text: str, days: int) -> None:
    assert read_age(text) == timedelta(days=days)


def test_ages_and_steps_that_cannot_be_are_told() -> None:
    for text in ("", "0d", "10min", "-3d"):
        with pytest.raises(BadInputError, match="is no age"):
            read_age(text)
    for text in ("1min", "7min", "60", "1h"):
        with pytest.raises(BadInputError, match="Choose one of 2min"):
            read_step(text)
    assert (read_step("10"), read_step("15 minutes")) == (10, 15)


@pytest.fixture
def keeper(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Keeper:
    found = Keeper(tmp_path, monkeypatch, capsys, NOW)
    found(DESCRIBE)
    minutes = int(BEGIN.timestamp()) // 60 + np.arange(4320)
    log = Samples(minutes, np.full(4320, 7.0), np.full(4320, 24.0))
    with open_store(found.place) as store:
        store.add_samples("Brook", log, "log.csv")
        store.add_samples("Brook", Samples(minutes[:60], np.full(60, 6.9), np.full(60, np.nan)), "again.csv")
    return found


def test_nothing_is_thinned_unasked(keeper: Keeper) -> None:
    for line in ("probe thin --older-than 365d --to 10min", "probe thin --older-than 365d --to 10min --json"):
        refused = keeper(line)
        assert (refused.code, "nobody was asked" in refused.err + refused.out) == (2, True)
    assert keeper("probe list --json").data["readings"] == 4320


def test_what_is_done_is_said_and_stays_written_down(keeper: Keeper) -> None:
    done = keeper("probe thin --older-than 365d --to 10min --yes --json").data
    assert (done["readings"], done["left"], done["hidden"], done["is_done"]) == (2880, 288, 60, True)
    assert done["before"] == "2026-05-06T00:00:00Z"
    listed = keeper("probe list").out
    assert "1,728 minutes with a reading" in listed
    assert "one for 10 min  from thinned: again.csv, log.csv" in listed
    assert "before 2026-05-06 02:00 to one for 10 min, 2,880 became 288" in listed
    again = keeper("probe thin --older-than 365d --to 10min --yes")
    assert (again.code, "nothing to thin" in again.err) == (2, True)
    assert keeper("doctor").out.splitlines()[-1] == "All is well."
