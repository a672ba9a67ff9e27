"""The timeline: when gas flowed at which setting, in which light; timers, clock changes, hands."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnlevel.estimate.timeline import LONGEST_LIT_STEP_H, Timeline, build_timeline, gas_day, solenoid_events
from dawnlevel.tank import (
    GasSwitch,
    Photoperiod,
    PhReading,
    RateSetting,
    Record,
    TimerSetting,
    WaterChange,
)
from tests.estimate_worlds import in_order, make_tank, when

TANK = make_tank()


def _line(records: list[Record], start_h: float = 0.0, end_h: float = 24.0) -> Timeline:
    return build_timeline(TANK, in_order(records), when(start_h), when(end_h))


def _open_hours(line: Timeline) -> float:
    return float(line.dt_h[line.rate_bps > 0].sum())


def _at(line: Timeline, hour_h: float) -> float:
    """Rate in the step that holds `hour_h` of day 0."""
    return float(line.rate_bps[line.step_of(hour_h)])


def test_a_timer_opens_and_closes_each_day() -> None:
    records = [
        RateSetting(at=when(0), bubbles_per_second=2.0),
        TimerSetting(at=when(0), windows_h=((9.5, 18.5), (20.0, 21.0))),
    ]
    line = _line(records, end_h=72.0)
    assert _open_hours(line) == pytest.approx(30.0)
    assert [_at(line, hour) for hour in (9.4, 9.6, 18.4, 18.6, 20.5, 33.6)] == [0, 2, 2, 0, 2, 2]


def test_a_window_may_run_over_midnight_and_a_timer_may_be_set_within_it() -> None:
    records = [
        RateSetting(at=when(0), bubbles_per_second=1.0),
        TimerSetting(at=when(1), windows_h=((22.0, 3.0),)),
    ]
    line = _line(records, end_h=48.0)
    assert [_at(line, hour) for hour in (0.5, 2.0, 3.5, 21.5, 22.5, 26.9, 27.1)] == [0, 1, 0, 0, 1, 1, 0]


def test_a_new_timer_takes_over_at_once_and_no_windows_close_the_gas() -> None:
    records: list[Record] = [
        RateSetting(at=when(0), bubbles_per_second=1.0),
        TimerSetting(at=when(0), windows_h=((9.0, 18.0),)),
        TimerSetting(at=when(12), windows_h=()),
        TimerSetting(at=when(36), windows_h=((10.0, 20.0),)),
    ]
    line = _line(records, end_h=72.0)
    assert [_at(line, hour) for hour in (11.9, 12.1, 17, 35, 36.1, 43.9, 44.1)] == [1, 0, 0, 0, 1, 1, 0]


def test_a_hand_on_the_solenoid_holds_until_the_timer_switches_next() -> None:
    records: list[Record] = [
        RateSetting(at=when(0), bubbles_per_second=1.0),
        TimerSetting(at=when(0), windows_h=((9.0, 18.0),)),
        GasSwitch(at=when(7.0), is_open=True),
        GasSwitch(at=when(13.0), is_open=False),
        GasSwitch(at=when(19.0), is_open=True),
    ]
    line = _line(records, end_h=46.0)
    shut, flowing = (5.0, 14.0, 17.0, 18.5, 42.5), (7.5, 12.0, 19.5, 30.0)
    assert [_at(line, hour) for hour in shut] == [0.0] * 5
    assert [_at(line, hour) for hour in flowing] == [1.0] * 4


@pytest.mark.parametrize(
    ("zone", "day", "hours"),
    [
        ("Europe/Madrid", datetime(2026, 3, 29, tzinfo=UTC), 23),
        ("Europe/Madrid", datetime(2026, 10, 25, tzinfo=UTC), 25),
        ("America/New_York", datetime(2026, 3, 8, 5, tzinfo=UTC), 23),
        ("Europe/Madrid", datetime(2026, 6, 1, tzinfo=UTC), 24),
    ],
)
def test_timers_keep_wall_clock_time_when_the_clocks_change(zone: str, day: datetime, hours: int) -> None:
    """Days of clock change by EU and US rule: last Sundays of March and October, second of March."""
    tank = make_tank(timezone=zone)
    midnight = day.astimezone(ZoneInfo(zone)).replace(hour=0).astimezone(UTC)
    timer = TimerSetting(at=midnight - timedelta(hours=12), windows_h=((9.0, 18.0),))
    edges = solenoid_events(tank, [timer], midnight, midnight + timedelta(hours=hours + 18))
    local = [(at.astimezone(ZoneInfo(zone)), is_open) for at, is_open in edges if at >= midnight]
    shown = [(at.hour, at.minute, is_open) for at, is_open in local]
    assert shown == [(9, 0, True), (18, 0, False), (9, 0, True), (18, 0, False)][: len(shown)]
    first, next_first = (at for at, is_open in edges if is_open and at >= midnight)
    assert (first - midnight) / timedelta(hours=1) == hours - 24 + 9
    assert (next_first - first) / timedelta(hours=1) == 24


def test_the_window_that_holds_the_clock_change_is_as_long_as_it_really_was() -> None:
    """1:00 to 4:00 on the wall: two hours in spring, four in autumn."""
    tank = make_tank(timezone="Europe/Madrid")
    for day, length in (
        (datetime(2026, 3, 28, 22, tzinfo=UTC), 2),
        (datetime(2026, 10, 24, 21, tzinfo=UTC), 4),
    ):
        records = [RateSetting(at=day, bubbles_per_second=1.0), TimerSetting(at=day, windows_h=((1.0, 4.0),))]
        line = build_timeline(tank, records, day, day + timedelta(hours=12))
        assert _open_hours(line) == pytest.approx(length)


def test_settings_are_numbered_by_what_the_needle_was_set_to() -> None:
    """The same count again is the same setting; another and back is a new one; nought is the solenoid's."""
    counts = [(1, 1.0), (2, 1.0), (3, 2.0), (4, 0.0), (5, 2.0), (6, 1.0)]
    records: list[Record] = [GasSwitch(at=when(0), is_open=True)]
    records += [RateSetting(at=when(hour), bubbles_per_second=count) for hour, count in counts]
    line = _line(records, end_h=8.0)
    numbers = [int(line.setting[line.step_of(hour + 0.5)]) for hour in range(8)]
    assert numbers == [-1, 0, 0, 1, 1, 1, 2, 2]
    assert line.n_settings == 3
    assert [_at(line, hour + 0.5) for hour in range(8)] == [0, 1, 1, 2, 0, 2, 1, 1]


def test_water_changes_stand_at_the_start_of_their_step() -> None:
    records: list[Record] = [
        PhReading(at=when(1), ph=7.0),
        WaterChange(at=when(3), fraction=0.4),
        PhReading(at=when(9), ph=7.0),
    ]
    line = _line(records, end_h=10.0)
    assert line.replaced.sum() == 0.4
    assert line.edges_h[int(np.flatnonzero(line.replaced)[0])] == pytest.approx(3.0)
    twice = _line([*records, WaterChange(at=when(3), fraction=0.5)], end_h=10.0)
    assert twice.replaced.max() == pytest.approx(1.0 - 0.6 * 0.5)


def test_light_and_the_length_of_lit_steps() -> None:
    line = _line([], end_h=48.0)
    assert float(line.dt_h[line.light > 0].sum()) == pytest.approx(16.0)
    assert line.dt_h[line.light > 0].max() <= LONGEST_LIT_STEP_H + 1e-9
    middle = 0.5 * (line.edges_h[1:] + line.edges_h[:-1]) % 24.0
    assert np.array_equal(line.light > 0, (middle > 12.0) & (middle < 20.0))


def test_lights_may_run_over_midnight() -> None:
    tank = make_tank(photoperiod=Photoperiod(lights_on_h=18.0, lights_off_h=2.0))
    line = build_timeline(tank, [], when(0), when(24))
    assert float(line.dt_h[line.light > 0].sum()) == pytest.approx(8.0)
    assert line.light[0] == 1.0


def test_the_gas_day_turns_twelve_hours_after_the_middle_of_the_light() -> None:
    assert gas_day(TANK, when(3.9)) < gas_day(TANK, when(4.1)) == gas_day(TANK, when(27.9))
    line = _line([PhReading(at=when(4.0), ph=7.0)], end_h=52.0)
    assert line.n_days == 3
    # No record marks the turn at 4:00: the night is cut there all the same.
    assert [int(line.day[line.step_of(hour)]) for hour in (3.5, 4.5, 20.0, 29.0, 51.5)] == [0, 1, 1, 2, 2]


@given(st.lists(st.floats(0.0, 20.0), min_size=1, max_size=12))
def test_records_made_within_a_second_never_break_the_timeline(seconds: list[float]) -> None:
    """Three records 0.9 s apart used to leave the last without an edge."""
    records = in_order([PhReading(at=when(10) + timedelta(seconds=s), ph=7.0) for s in seconds])
    line = build_timeline(TANK, records, when(9), records[-1].at)
    for record in records:
        edge = line.edge_of(line.hour(record.at))
        assert abs(float(line.edges_h[edge]) - line.hour(record.at)) <= 0.5 / 3600.0 + 1e-9
    assert np.all(line.dt_h > 0.9 / 3600.0)


def test_a_water_change_within_a_second_of_a_reading_is_kept() -> None:
    records: list[Record] = [
        PhReading(at=when(1), ph=7.0),
        PhReading(at=when(3), ph=7.0),
        WaterChange(at=when(3) + timedelta(seconds=0.4), fraction=0.4),
    ]
    line = _line(records, end_h=5.0)
    assert line.replaced[line.edge_of(3.0)] == 0.4


def test_moments_and_hours_are_each_others_inverse() -> None:
    line = _line([], start_h=5.25, end_h=30.0)
    assert line.hour(line.moment(3.5)) == pytest.approx(3.5)
    assert line.moment(0.0) == when(5.25)
