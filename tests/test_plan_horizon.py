"""The day ahead in wall-clock time: clock changes, lights over midnight, timers, hands."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from dawnlevel.plan.horizon import EARLIEST_LEAD_H, Horizon, horizon
from dawnlevel.tank import GasSwitch, Photoperiod, RateSetting, Record, Tank, TimerSetting
from tests.estimate_worlds import gas_days, in_order, make_tank, when

LISBON = ZoneInfo("Europe/Lisbon")
MARCH, OCTOBER = datetime(2026, 3, 28, tzinfo=UTC), datetime(2026, 10, 24, tzinfo=UTC)
"""The days before Europe's clocks change in 2026: on the last Sundays of March and October, at 1:00 UTC
(Directive 2000/84/EC)."""


def _lisbon(on_h: float, off_h: float, **more: object) -> Tank:
    return make_tank(
        timezone="Europe/Lisbon", photoperiod=Photoperiod(lights_on_h=on_h, lights_off_h=off_h), **more
    )


def _wall(ahead: Horizon, hour_h: float) -> tuple[int, float]:
    """Day of the month and hour on the wall."""
    local = ahead.moment(hour_h).astimezone(LISBON)
    return local.day, round(local.hour + local.minute / 60 + local.second / 3600, 4)


def _sound(ahead: Horizon) -> None:
    edges = ahead.hours.edges_h
    assert edges[0] == 0.0
    assert np.all(np.diff(edges) > 0.0)
    np.testing.assert_allclose(edges[-1], ahead.lights_off_h)
    assert np.diff(edges).max() <= 1.0 + 1e-9
    lit = float(
        ahead.hours.light[ahead.hours.middle_h > ahead.lights_on_h]
        @ np.diff(edges)[ahead.hours.middle_h > ahead.lights_on_h]
    )
    np.testing.assert_allclose(lit, ahead.lights_off_h - max(ahead.lights_on_h, 0.0), atol=1e-9)
    for (_, closes), (opens, _) in zip(ahead.standing, ahead.standing[1:], strict=False):
        assert closes <= opens
    assert all(0.0 <= opens < closes <= ahead.lights_off_h + 1e-9 for opens, closes in ahead.standing)


@pytest.mark.parametrize(("eve", "night_h"), [(MARCH, 23.0), (OCTOBER, 25.0)])
def test_lights_and_gas_keep_the_wall_clock_over_a_clock_change(eve: datetime, night_h: float) -> None:
    timer = TimerSetting(at=eve, windows_h=((9.5, 18.5),))
    ahead = horizon(_lisbon(12.0, 20.0), [timer], eve + timedelta(hours=22), of_today=True)
    _sound(ahead)
    sunday = (eve + timedelta(days=1)).day
    assert _wall(ahead, ahead.lights_on_h) == (sunday, 12.0)
    assert _wall(ahead, ahead.lights_off_h) == (sunday, 20.0)
    assert [_wall(ahead, hour) for hour in ahead.standing[0]] == [(sunday, 9.5), (sunday, 18.5)]
    earlier = horizon(_lisbon(12.0, 20.0), [timer], eve + timedelta(hours=8), of_today=True)
    apart_h = (ahead.moment(ahead.lights_on_h) - earlier.moment(earlier.lights_on_h)) / timedelta(hours=1)
    assert apart_h == pytest.approx(night_h)


@pytest.mark.parametrize(("eve", "lit_h"), [(MARCH, 7.0), (OCTOBER, 9.0)])
@pytest.mark.parametrize("after_h", [15.0, 23.0])
def test_lights_through_the_night_of_a_clock_change(eve: datetime, lit_h: float, after_h: float) -> None:
    """20:00 to 4:00 on the wall is an hour shorter in March, an hour longer in October."""
    ahead = horizon(_lisbon(20.0, 4.0), [], eve + timedelta(hours=after_h), of_today=True)
    _sound(ahead)
    assert _wall(ahead, ahead.lights_on_h) == (eve.day, 20.0)
    assert _wall(ahead, ahead.lights_off_h) == ((eve + timedelta(days=1)).day, 4.0)
    assert ahead.lights_off_h - ahead.lights_on_h == pytest.approx(lit_h)


@pytest.mark.parametrize("eve", [MARCH, OCTOBER])
def test_the_earliest_start_is_wall_clock_too(eve: datetime) -> None:
    now = eve + timedelta(hours=22)
    at_five = horizon(_lisbon(12.0, 20.0, earliest_start_h=5.0), [], now, of_today=True)
    assert _wall(at_five, at_five.earliest_h) == ((eve + timedelta(days=1)).day, 5.0)
    before_midnight = horizon(_lisbon(6.0, 14.0, earliest_start_h=23.5), [], now, of_today=True)
    assert _wall(before_midnight, before_midnight.earliest_h) == (eve.day, 23.5)


def test_without_an_earliest_start_gas_may_flow_hours_before_the_lights() -> None:
    ahead = horizon(make_tank(), [], when(1.0), of_today=True)
    assert ahead.lights_on_h - ahead.earliest_h == pytest.approx(EARLIEST_LEAD_H)


@pytest.mark.parametrize(
    ("hour", "of_today", "lights_on"),
    [
        (8.0, True, 4.0),
        (8.0, False, 4.0),
        (12.0, True, 0.0),
        (12.0, False, 24.0),
        (14.0, True, -2.0),
        (14.0, False, 22.0),
        (19.99, True, -7.99),
        (20.0, True, 16.0),
        (20.0, False, 16.0),
    ],
)
def test_today_runs_until_lights_off_and_the_next_day_has_not_begun(
    hour: float, of_today: bool, lights_on: float
) -> None:
    ahead = horizon(make_tank(), [], when(hour), of_today=of_today)
    _sound(ahead)
    assert ahead.lights_on_h == pytest.approx(lights_on)
    assert ahead.lights_off_h == pytest.approx(lights_on + 8.0)


def test_lights_that_are_on_now_burn_until_they_go_off() -> None:
    """The day after is planned at 14:00 with lights 12-20: six lit hours, sixteen dark, eight lit."""
    hours = horizon(make_tank(), [], when(14.0), of_today=False).hours
    share = np.diff(hours.edges_h)
    for begin, end, lit in ((0.0, 6.0, 1.0), (6.0, 22.0, 0.0), (22.0, 30.0, 1.0)):
        inside = (hours.middle_h > begin) & (hours.middle_h < end)
        assert set(hours.light[inside]) == {lit}
        assert share[inside].sum() == pytest.approx(end - begin)


def test_the_gas_day_turns_half_a_day_after_mid_light() -> None:
    hours = horizon(make_tank(), [], when(14.0), of_today=False).hours
    turn = when(28.0)  # 16:00 is mid-light, so the day turns at 4:00
    np.testing.assert_array_equal(hours.next_day, [float(when(14.0 + m) > turn) for m in hours.middle_h])


def _standing(records: list[Record], hour: float, *, of_today: bool = True) -> list[list[float]]:
    ahead = horizon(make_tank(), in_order(records), when(hour), of_today=of_today)
    return [[round(edge + hour, 6) for edge in window] for window in ahead.standing]


def test_windows_stand_as_the_timer_was_set_last() -> None:
    set_twice = [*gas_days(2, ()), TimerSetting(at=when(20.0), windows_h=((8.0, 9.0), (10.0, 18.0)))]
    assert _standing(set_twice, 8.0) == [[9.5, 18.5]]
    assert _standing(set_twice, 10.0) == [[10.0, 18.5]]
    assert _standing(set_twice, 21.0) == [[32.0, 33.0], [34.0, 42.0]]
    assert _standing(gas_days(1, ()), 15.0, of_today=False) == [[15.0, 18.5], [33.5, 42.5]]
    assert _standing([], 8.0) == []


def test_a_timer_of_long_ago_still_stands() -> None:
    assert _standing(gas_days(1, ()), 24.0 * 40 + 8.0) == [[24.0 * 40 + 9.5, 24.0 * 40 + 18.5]]


def test_gas_closed_by_hand_stays_closed_until_the_timer_opens_it_next() -> None:
    closed = [*gas_days(1, ()), GasSwitch(at=when(15.0), is_open=False)]
    assert _standing(closed, 14.0) == [[14.0, 15.0]]
    assert _standing(closed, 16.0) == []
    assert _standing(closed, 16.0, of_today=False) == [[33.5, 42.5]]


@pytest.mark.parametrize("days", [0.5, 2.0, 5.0, 60.0])
def test_gas_opened_by_hand_with_no_timer_flows_on(days: float) -> None:
    """Gas round the clock, opened once: it flows however long ago that was."""
    opened = [
        RateSetting(at=when(0.0), bubbles_per_second=1.0),
        GasSwitch(at=when(0.0), is_open=True),
    ]
    now = 24.0 * days + 1.0
    (window,) = _standing(opened, now)
    assert window[0] == now


def test_a_window_over_midnight_that_is_open_now() -> None:
    tank = make_tank(photoperiod=Photoperiod(lights_on_h=2.0, lights_off_h=10.0))
    timer: list[Record] = [TimerSetting(at=when(0.0), windows_h=((23.0, 8.0),))]
    ahead = horizon(tank, timer, when(24.5), of_today=True)
    assert ahead.standing == ((0.0, 7.5),)
    assert ahead.lights_on_h == pytest.approx(1.5)


@pytest.mark.parametrize("on_h", [0.0, 6.0, 12.0, 19.0, 23.5])
@pytest.mark.parametrize("length_h", [4.0, 8.0, 16.0])
def test_every_hour_of_the_day_gives_a_sound_grid(on_h: float, length_h: float) -> None:
    tank = make_tank(photoperiod=Photoperiod(lights_on_h=on_h, lights_off_h=(on_h + length_h) % 24.0))
    records = gas_days(3, ())
    for quarter in range(96):
        for of_today in (True, False):
            ahead = horizon(tank, records, when(24.0 + quarter / 4), of_today=of_today)
            _sound(ahead)
            assert ahead.lights_off_h > 0.0
            assert of_today or ahead.lights_on_h > 0.0


@pytest.mark.parametrize(
    ("hour_h", "day"),
    [(5.0, 1), (8.9, 1), (9.6, 2), (11.0, 2), (13.0, 2), (19.9, 2), (22.0, 2)],
    ids=["night", "before the gas", "in the ramp", "late ramp", "lit", "lit, gas closed", "evening"],
)
def test_a_day_whose_gas_has_begun_is_no_longer_planned(hour_h: float, day: int) -> None:
    """What is set now as a daily timer must serve a whole day, not the rest of a ramp."""
    tank = make_tank(photoperiod=Photoperiod(lights_on_h=12.0, lights_off_h=20.0))
    timer = TimerSetting(at=when(1.0), windows_h=((9.5, 18.5),))
    now = when(24.0 + hour_h)
    ahead = horizon(tank, [timer], now, of_today=False)
    _sound(ahead)
    assert ahead.moment(ahead.lights_on_h) == when(24.0 * day + 12.0)
    lit_h = float(ahead.hours.light @ np.diff(ahead.hours.edges_h))
    lights = [(24.0 * k + 12.0, 24.0 * k + 20.0) for k in (1, 2)]
    expected_h = sum(max(off - max(on, 24.0 + hour_h), 0.0) for on, off in lights[:day])
    assert lit_h == pytest.approx(expected_h)
    if 9.5 <= hour_h < 18.5:
        assert ahead.flows_until_h == pytest.approx(18.5 - hour_h)


def test_gas_opened_by_hand_begins_the_day_too() -> None:
    tank = make_tank(photoperiod=Photoperiod(lights_on_h=12.0, lights_off_h=20.0))
    by_hand: list[Record] = [GasSwitch(at=when(9.0), is_open=True), GasSwitch(at=when(9.5), is_open=False)]
    begun = horizon(tank, by_hand, when(10.0), of_today=False)
    assert begun.moment(begun.lights_on_h) == when(36.0)
    untouched = horizon(tank, by_hand[1:], when(10.0), of_today=False)
    assert untouched.moment(untouched.lights_on_h) == when(12.0)
