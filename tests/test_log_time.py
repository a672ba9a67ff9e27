"""Times in a probe's log, against the standard library's own clocks and zones."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dawnlevel.desk.steadiness.logfile import read_log, read_log_file
from dawnlevel.desk.steadiness.logtime import TimeReader, is_day_first, utc_minutes, wall_minutes
from dawnlevel.errors import BadLinesError

BEGIN, END = datetime.fromisoformat("2000-01-01"), datetime.fromisoformat("2030-01-01")
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
ZONES = ("Europe/Lisbon", "America/St_Johns", "Australia/Lord_Howe", "Asia/Kathmandu", "America/Santiago")
AUTUMN = {"Europe/Lisbon": "2026-10-25T01:00Z", "Australia/Lord_Howe": "2026-04-04T15:00Z"}
"""When these zones' clocks are put back: by an hour, and by half an hour (IANA time zone database)."""


def minutes_from(first: str, count: int, step: int = 1) -> np.ndarray:
    start = (datetime.fromisoformat(first) - EPOCH) // timedelta(minutes=1)
    return start + step * np.arange(count)


@settings(deadline=None)
@given(
    moment=st.datetimes(BEGIN, END),
    layout=st.sampled_from(
        ["%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M:%S", "%d.%m.%Y %H:%M", "%Y/%m/%d %H:%M:%S", "%d/%m/%Y %I:%M %p",
         "%d-%m-%y %H:%M", "%Y-%m-%d %I:%M:%S%p", "%d.%m.%y %H:%M:%S.%f"]
    ),
)  # fmt: skip
def test_whatever_strftime_writes_is_read(moment: datetime, layout: str) -> None:
    times = TimeReader(day_first=True)
    wanted = (moment.replace(tzinfo=UTC) - EPOCH) // timedelta(minutes=1)
    for _ in range(2):  # the second time from what is remembered
        assert times.read(moment.strftime(layout)) == (wanted, False)


@settings(deadline=None)
@given(
    moment=st.datetimes(BEGIN, END),
    offset=st.integers(-14 * 60, 14 * 60),
    between=st.sampled_from(["T", " "]),
)
def test_times_with_an_offset_are_instants(moment: datetime, offset: int, between: str) -> None:
    aware = moment.replace(tzinfo=UTC) + timedelta(minutes=offset)
    sign, ahead = "+-"[offset < 0], abs(offset)
    text = f"{aware:%Y-%m-%d}{between}{aware:%H:%M:%S}{sign}{ahead // 60:02}:{ahead % 60:02}"
    wanted = (moment.replace(tzinfo=UTC) - EPOCH) // timedelta(minutes=1)
    assert TimeReader(day_first=None).read(text) == (wanted, True)


@pytest.mark.parametrize(
    "text",
    ["", "yesterday", "2026-02-30 10:00", "2026-05-04 25:00", "2026-05-04 10:61", "13:00 PM", "04.05.6 10:00",
     "2026-05-04 13:00 PM", "31/31/2026 10:00", "202.05.04 10:00"],
)  # fmt: skip
def test_what_is_no_time_is_said_so(text: str) -> None:
    with pytest.raises(ValueError, match="is no time"):
        TimeReader(day_first=True).read(text)


def test_the_file_itself_tells_day_from_month() -> None:
    assert is_day_first(["04/05/2026 10:00", "13/05/2026 10:00"]) is True
    assert is_day_first(["04/05/2026 10:00", "05/13/2026 10:00"]) is False
    assert is_day_first(["04/05/2026 10:00", "2026-05-13", "13.05.2026", ""]) is None
    with pytest.raises(ValueError, match="day first or month first"):
        TimeReader(day_first=None).read("04-05-2026 10:00")


@pytest.mark.parametrize("name", ZONES)
def test_the_wall_clock_is_the_zones_own(name: str) -> None:
    zone = ZoneInfo(name)
    minutes = np.sort(np.random.default_rng(3).integers(29_000_000, 29_600_000, 4000))
    told = wall_minutes(minutes, zone)
    for minute, wall in zip(minutes[::7], told[::7], strict=True):
        local = datetime.fromtimestamp(60 * int(minute), zone).replace(tzinfo=UTC)
        assert int(local.timestamp()) // 60 == wall


@settings(max_examples=25, deadline=None)
@given(
    name=st.sampled_from(ZONES),
    step=st.sampled_from([1, 5, 10, 15, 30, 60]),
    backwards=st.booleans(),
    lost=st.integers(0, 20),
)
def test_a_year_of_local_times_finds_its_way_back(name: str, step: int, backwards: bool, lost: int) -> None:
    """From one minute to the next the file's order tells the passes of a repeated hour apart."""
    zone = ZoneInfo(name)
    minutes = minutes_from("2026-01-01T00:00+00:00", 365 * 1440 // step, step)
    if step <= 10:  # a probe now and then misses a reading
        minutes = np.delete(
            minutes, np.random.default_rng(lost).integers(0, minutes.size, lost * minutes.size // 100)
        )
    minutes = minutes[::-1] if backwards else minutes
    if step == 60 and name == "Australia/Lord_Howe":
        return  # clocks put back by half of such a log's step leave no step back in it
    back, never_was = utc_minutes(wall_minutes(minutes, zone), zone)
    assert not never_was.any()
    assert np.array_equal(back, minutes)


@pytest.mark.parametrize("name", AUTUMN)
@pytest.mark.parametrize("begins_min", [-100, 0, 10])
@pytest.mark.parametrize("ends_min", [5, 20, 200])
def test_a_log_that_begins_or_ends_in_the_repeated_hour(name: str, begins_min: int, ends_min: int) -> None:
    zone = ZoneInfo(name)
    turn = minutes_from(AUTUMN[name].replace("Z", "+00:00"), 1)[0]
    minutes = turn + np.arange(begins_min, ends_min + begins_min + 60)
    assert np.array_equal(utc_minutes(wall_minutes(minutes, zone), zone)[0], minutes)


def test_two_files_one_after_the_other_are_each_told_by_their_own_order() -> None:
    zone = ZoneInfo("Europe/Lisbon")
    one = minutes_from("2026-10-24T12:00+00:00", 1440)
    both = np.concatenate([one, one])
    assert np.array_equal(utc_minutes(wall_minutes(both, zone), zone)[0], both)


def test_every_time_that_never_was_is_told_by_its_line() -> None:
    """Lisbon put its clocks forward on 2026-03-29 from 01:00 to 02:00 (IANA time zone database)."""
    clock = minutes_from("2026-03-28T12:00+00:00", 1440)  # of a probe that knows of no summer time
    rows = [f"{EPOCH + timedelta(minutes=int(minute)):%Y-%m-%d %H:%M},7.0" for minute in clock]
    text = "\n".join(["time,ph", *rows]).encode()
    zone = ZoneInfo("Europe/Lisbon")
    for read in (read_log, read_log_file):
        with pytest.raises(BadLinesError, match=r"01:00 never was.*--zone UTC") as caught:
            read(text, "log.csv", zone)
        assert [bad.line for bad in caught.value.lines] == [2 + 13 * 60 + minute for minute in range(60)]
    assert len(read_log_file(text, "log.csv", ZoneInfo("UTC")).samples) == 1440


def test_a_probe_that_keeps_utc_is_read_on_the_tanks_wall_clock() -> None:
    minutes = minutes_from("2026-03-28T12:00+00:00", 1440)
    told = [f"{EPOCH + timedelta(minutes=int(minute)):%Y-%m-%dT%H:%M}" for minute in minutes]
    zone = ZoneInfo("Europe/Lisbon")
    plain, aware = (
        "\n".join(["time,ph", *(f"{one}{offset},7.0" for one in told)]).encode() for offset in ("", "Z")
    )
    as_utc = read_log(plain, "log.csv", zone, ZoneInfo("UTC"))
    assert np.array_equal(as_utc.hours, read_log(aware, "log.csv", zone).hours)
    assert as_utc.hours[-1] == pytest.approx(12.0 + 24.0 + 1.0 - 1 / 60)


@pytest.mark.parametrize("backwards", [False, True])
def test_an_hour_that_comes_twice_is_read_twice(backwards: bool) -> None:
    """Lisbon puts its clocks back on 2026-10-25 from 02:00 to 01:00 (IANA time zone database)."""
    zone = ZoneInfo("Europe/Lisbon")
    moments = [datetime(2026, 10, 24, 12, tzinfo=UTC) + timedelta(minutes=minute) for minute in range(1440)]
    rows = [(one.astimezone(zone), 7.0 + number / 1000) for number, one in enumerate(moments)]
    rows = rows[::-1] if backwards else rows
    local, aware = (
        "\n".join(["time,ph", *(f"{one.strftime(layout)},{ph:.3f}" for one, ph in rows)]).encode()
        for layout in ("%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M%z")
    )
    mine, told = (read_log(text, "log.csv", zone) for text in (local, aware))
    assert np.array_equal(mine.hours, told.hours)
    assert np.array_equal(mine.ph, told.ph)
    assert mine.hours.size == 1440
    assert ((mine.hours >= 25.0) & (mine.hours < 26.0)).sum() == 120


def test_a_reading_still_to_come_is_refused() -> None:
    text = b"time,ph\n2026-03-29T00:59Z,7.0\n2026-03-29T01:30Z,7.1\n"
    latest = datetime(2026, 3, 29, 1, 0, tzinfo=UTC)
    with pytest.raises(BadLinesError, match=r"1 line of 2 .*\n.*line 3: 2026-03-29 02:30.*still to come"):
        read_log_file(text, "log.csv", ZoneInfo("Europe/Lisbon"), latest=latest)
