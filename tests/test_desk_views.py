"""What the desk shows: the same for the same records, whole, in order, and continuous, at odd hours too."""

import dataclasses
import itertools
import json
import math
from collections.abc import Iterator, Sequence
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from dawnlevel.desk.advice.explain import explain_view
from dawnlevel.desk.advice.today import today_view
from dawnlevel.desk.advice.tomorrow import plan_view
from dawnlevel.desk.casebook import open_case
from dawnlevel.desk.views import CurveView, ExplainView, Phase, PlanView, TodayView
from dawnlevel.errors import BadInputError, NotEnoughRecordsError
from dawnlevel.estimate.memory import LATEST_DAYS, READ_DAYS
from dawnlevel.estimate.posterior import Interval
from dawnlevel.plan.goal import CEILING_RISK
from dawnlevel.store import open_store
from dawnlevel.tank import (
    FishSighting,
    FishState,
    GasSwitch,
    Photoperiod,
    PhReading,
    RateSetting,
    Record,
    Tank,
    Target,
    TargetKind,
    TimerSetting,
)
from tests.estimate_worlds import (
    cup,
    drawn_records,
    gas_days,
    in_order,
    kit,
    make_tank,
    one_day,
    three_days,
    when,
)
from tests.plan_worlds import seen_today, store_with

LEVEL = Target(kind=TargetKind.CO2, low=20.0, high=30.0)
LISBON = ZoneInfo("Europe/Lisbon")
NIGHTS = (datetime(2026, 3, 28, 23, tzinfo=UTC), datetime(2026, 10, 24, 23, tzinfo=UTC))
"""Before the clocks change (Directive 2000/84/EC)."""
View = TodayView | PlanView | ExplainView


def _drawn(seed: int = 1, **changes: object) -> tuple[Tank, list[Record], datetime]:
    tank, template, end = one_day()
    tank = dataclasses.replace(tank, **changes)  # type: ignore[arg-type]  # any field
    records, _, _ = drawn_records(tank, template, end, np.random.default_rng(seed))
    return tank, records, end


def _views(tank: Tank, records: Sequence[Record], now: datetime) -> tuple[TodayView, PlanView, ExplainView]:
    with store_with(tank, records) as store:
        return tuple(view(store, tank.name, now) for view in (today_view, plan_view, explain_view))  # type: ignore[return-value]


def _leaves(value: Any, place: str = "") -> Iterator[tuple[str, Any]]:
    """Every plain value in a view, with where it stands."""
    if dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            yield from _leaves(getattr(value, field.name), f"{place}.{field.name}")
    elif isinstance(value, (tuple, list)):
        for number, one in enumerate(value):
            yield from _leaves(one, f"{place}[{number}]")
    else:
        yield place, value


def _parts(value: Any, kind: type) -> Iterator[Any]:
    """Every part of a view that is of this kind."""
    if isinstance(value, kind):
        yield value
    if dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            yield from _parts(getattr(value, field.name), kind)
    elif isinstance(value, (tuple, list)):
        for one in value:
            yield from _parts(one, kind)


def _is_sound(view: View) -> None:
    """No NaN, plain Python values, moments in the tank's zone, intervals and curves in order."""
    for place, value in _leaves(view):
        assert (
            value is None or type(value) in {str, int, float, bool, datetime, date} or hasattr(value, "value")
        ), f"{place}: {type(value)}"
        if isinstance(value, float):
            assert math.isfinite(value), place
        if isinstance(value, datetime):
            assert str(value.tzinfo) == view.timezone, place
    for one in _parts(view, Interval):
        assert one.low_90 <= one.low_50 <= one.median <= one.high_50 <= one.high_90
    for curve in _parts(view, CurveView):
        _is_a_curve(curve)
    for name in ("chance_if_done", "chance_in_band", "chance_hit", "chance_held", "chance_breach"):
        for place, value in _leaves(view):
            if place.endswith(name) and value is not None:
                assert 0.0 <= value <= 1.0
    assert json.loads(json.dumps(dataclasses.asdict(view), default=str))["tank"] == view.tank


def _is_a_curve(curve: CurveView) -> None:
    rows = (curve.low_90, curve.low_50, curve.median, curve.high_50, curve.high_90)
    assert all(len(row) == len(curve.at) for row in rows)
    assert all(a < b for a, b in itertools.pairwise(at.astimezone(UTC) for at in curve.at))
    for values in zip(*rows, strict=True):
        assert list(values) == sorted(values)
        assert values[0] > 0.0


def test_the_same_records_show_the_same_whatever_the_order_and_the_store(tmp_path: Path) -> None:
    tank, records, now = _drawn()
    first = _views(tank, records, now)
    assert _views(tank, records, now) == first
    shuffled = [records[k] for k in np.random.default_rng(0).permutation(len(records))]
    assert _views(tank, shuffled, now) == first
    with open_store(str(tmp_path / "tank.sqlite")) as store:
        store.add_tank(tank, when(-1.0))
        for record in reversed(records):
            store.add_records(tank.name, [record])
    with open_store(str(tmp_path / "tank.sqlite")) as store:
        again = tuple(view(store, tank.name, now) for view in (today_view, plan_view, explain_view))
    assert again == first


def test_a_slip_corrected_shows_as_if_it_had_never_been_made() -> None:
    tank, records, now = _drawn()
    with store_with(tank, records) as store:
        stored = next(one for one in store.records(tank.name) if isinstance(one.record, PhReading))
        wrong = PhReading(at=stored.record.at, ph=9.0)
        slipped = store.correct(stored.id, wrong)
        assert today_view(store, tank.name, now) != seen_today(tank, records, now)
        store.correct(slipped, stored.record)
        assert today_view(store, tank.name, now) == seen_today(tank, records, now)


def test_what_is_recorded_for_later_changes_nothing_now() -> None:
    tank, records, now = _drawn()
    later = PhReading(at=now + timedelta(minutes=1), ph=7.2)
    assert seen_today(tank, [*records, later], now) == seen_today(tank, records, now)


@pytest.mark.parametrize(
    "name",
    ["level, no records", "baseline only", "kh only", "baseline this minute", "rate only", "one reading"],
)
def test_a_tank_with_next_to_no_records_still_answers(name: str) -> None:
    tank = make_tank(target=LEVEL)
    records: dict[str, tuple[Tank, list[Record]]] = {
        "level, no records": (tank, []),
        "baseline only": (make_tank(), [cup(0.0)]),
        "kh only": (tank, [kit(0.0)]),
        "baseline this minute": (make_tank(), [cup(8.0)]),
        "rate only": (tank, [RateSetting(at=when(1.0), bubbles_per_second=1.0)]),
        "one reading": (tank, [PhReading(at=when(8.0), ph=6.9)]),
    }
    for view in _views(*records[name], when(8.0)):
        _is_sound(view)


def test_a_drop_without_a_baseline_says_what_to_record() -> None:
    with store_with(make_tank(), [kit(0.0)]) as store:
        for view in (today_view, plan_view, explain_view):
            with pytest.raises(NotEnoughRecordsError, match=r"test: .*baseline.*dawnlevel cup PH"):
                view(store, "test", when(8.0))


def test_a_level_without_a_baseline_shows_no_drop() -> None:
    today, plan, explained = _views(make_tank(target=LEVEL), [kit(0.0)], when(8.0))
    assert today.now.drop_ph is None
    for view in (today, plan, explained):
        assert (view.band.low_in_other, view.band.high_in_other) == (None, None)
        assert (view.band.low, view.band.high, view.band.unit) == (20.0, 30.0, "mg/L")


@pytest.mark.parametrize("target", [Target(), LEVEL])
def test_a_day_s_records_show_whole_views(target: Target) -> None:
    tank, records, now = _drawn(target=target)
    for view in _views(tank, records, now):
        _is_sound(view)


def test_months_without_records_are_bridged() -> None:
    """The water of spring tells nothing of the level in autumn; the records before still stand."""
    tank, records, _ = _drawn()
    now = when(24.0 * 60 + 11.6)
    late = [*records, TimerSetting(at=when(20.0), windows_h=()), PhReading(at=now, ph=6.9)]
    today = seen_today(tank, late, now)
    _is_sound(today)
    assert today.phase is Phase.NO_PLAN
    assert len(today.days) == LATEST_DAYS


def test_ninety_days_of_sparse_readings_still_answer() -> None:
    tank = make_tank(target=LEVEL)
    template = in_order([kit(0.5), cup(0.5), *gas_days(90, (), 1.5)])
    sparse = [PhReading(at=when(24.0 * day + 11.0), ph=7.0) for day in range(0, 90, 4)]
    end = when(24.0 * 89 + 13.0)
    records, _, _ = drawn_records(tank, in_order([*template, *sparse]), end, np.random.default_rng(2))
    today = seen_today(tank, records, end)
    _is_sound(today)
    assert sum(day.readings for day in today.days) == READ_DAYS + 1  # those remembered


HOURS = (0.0, 3.99, 4.01, 9.0, 9.49, 9.51, 11.99, 12.0, 12.01, 18.49, 18.51, 19.99, 20.0, 20.01, 23.99)


@pytest.mark.parametrize("hour", HOURS)
def test_every_hour_of_the_day_has_its_phase_and_a_whole_view(hour: float) -> None:
    tank, template, end = three_days()
    records, _, _ = drawn_records(tank, template, end, np.random.default_rng(5))
    tank = dataclasses.replace(tank, co2_limit_mg_l=60.0)  # the drawn level stands near 30 by the evening
    now = when(48.0 + hour)
    today, plan, explained = _views(tank, [one for one in records if one.at <= now], now)
    for view in (today, plan, explained):
        _is_sound(view)
    expected = Phase.WAITING
    if 9.5 <= hour < 12.0:
        expected = Phase.RAMP
    elif 12.0 <= hour < 18.5:
        expected = Phase.HOLDING
    elif 18.5 <= hour < 20.0:
        expected = Phase.FALLING
    assert today.phase is expected
    assert today.lights_off > now
    assert plan.lights_on > now
    assert plan.lights_on - plan.windows[0].opens <= timedelta(hours=4)
    assert all(window.opens >= now.replace(microsecond=0) for window in plan.windows)
    if today.next_reading is not None:
        assert today.next_reading.at >= now.replace(microsecond=0)
    if expected in {Phase.WAITING, Phase.RAMP}:
        assert today.forecast is not None
        assert today.forecast.at == today.lights_on
    if expected is Phase.HOLDING and hour > 12.0:
        assert (today.forecast, today.forecast_if_done) == (None, None)
    _is_continuous(today)
    _is_continuous(plan)


def _is_continuous(view: TodayView | PlanView) -> None:
    """Where the past meets the future the curve does not jump: gas and light bound how fast it moves."""
    curve, now = view.picture.curve, view.picture.now
    assert now in curve.at
    here = curve.at.index(now)
    level = curve.median[here]
    for other in (here - 1, here + 1):
        if 0 <= other < len(curve.at):
            hours = abs((curve.at[other] - now) / timedelta(hours=1))
            # a strong tank gains or loses some 15 mg/L an hour
            assert abs(curve.median[other] - level) <= 15.0 * hours + 0.01


def test_the_curve_begins_and_ends_where_the_figures_say() -> None:
    tank, records, _ = _drawn()
    now = when(11.0)
    today = seen_today(tank, records, now)
    curve = today.picture.curve
    assert today.now.co2_mg_l.median == pytest.approx(
        curve.median[curve.at.index(today.picture.now)], abs=2e-3
    )
    assert today.forecast_if_done is not None
    at_on = curve.median[curve.at.index(today.lights_on)]
    assert today.forecast_if_done.co2_mg_l.median == pytest.approx(at_on, abs=2e-3)
    assert curve.at[-1] == today.lights_off


def test_the_picture_shows_gas_light_and_readings_of_the_hours_behind() -> None:
    tank, records, now = _drawn()
    picture = seen_today(tank, records, now).picture
    assert [one.opens for one in picture.gas] == [when(9.5)]
    assert picture.gas[0].closes >= now
    assert [(one.opens, one.closes) for one in picture.light] == [(when(12.0), when(20.0))]
    read = [one for one in records if isinstance(one, PhReading)]
    assert [(one.at, one.ph) for one in picture.readings] == [(one.at, one.ph) for one in read]
    assert all(one.low_90 <= one.co2_mg_l <= one.high_90 for one in picture.readings)
    assert picture.band_low_mg_l < picture.band_high_mg_l


@pytest.mark.parametrize(
    "night", [datetime(2026, 3, 28, 23, tzinfo=UTC), datetime(2026, 10, 24, 23, tzinfo=UTC)]
)
def test_the_zone_in_which_now_is_given_changes_nothing(night: datetime) -> None:
    """The same instant in UTC and on the wall, in the nights of both clock changes."""
    tank = make_tank(timezone="Europe/Lisbon", target=LEVEL)
    records: list[Record] = [
        RateSetting(at=night - timedelta(hours=9), bubbles_per_second=1.5),
        TimerSetting(at=night - timedelta(hours=9), windows_h=((9.5, 18.5),)),
        PhReading(at=night - timedelta(hours=8), ph=6.8),
    ]
    for given in (night.astimezone(LISBON), night.astimezone(ZoneInfo("Asia/Tokyo"))):
        assert _views(tank, records, given) == _views(tank, records, night)
    today, plan, _ = _views(tank, records, night)
    assert (today.lights_on.hour, today.lights_off.hour) == (12, 20)
    assert (plan.lights_on.hour, plan.lights_off.hour) == (12, 20)
    assert plan.lights_on - plan.windows[0].opens <= timedelta(hours=4)


@pytest.mark.parametrize("hour", [19.9, 20.0, 23.5, 24.0, 24.5, 27.9, 28.0, 28.1])
def test_lights_over_midnight(hour: float) -> None:
    tank = make_tank(photoperiod=Photoperiod(lights_on_h=20.0, lights_off_h=4.0), target=LEVEL)
    records: list[Record] = [
        kit(0.5),
        RateSetting(at=when(1.0), bubbles_per_second=1.5),
        TimerSetting(at=when(1.0), windows_h=((17.5, 2.5),)),
        PhReading(at=when(19.0), ph=6.8),
    ]
    today, plan, _ = _views(tank, records, when(hour))
    for view in (today, plan):
        _is_sound(view)
        assert (view.lights_on.hour, view.lights_off.hour) == (20, 4)
    expected = Phase.RAMP if hour < 20.0 else Phase.HOLDING if hour < 26.5 else Phase.FALLING
    assert today.phase is (expected if hour < 28.0 else Phase.WAITING)
    assert plan.day == when(24.0).date()  # the gas of the first day has flowed since 17:30


def test_gas_closed_by_hand_ends_the_day() -> None:
    tank, records, _ = _drawn()
    closed = in_order([*records, GasSwitch(at=when(15.0), is_open=False)])
    today = seen_today(tank, closed, when(15.5))
    assert today.phase is Phase.FALLING
    assert today.action.kind == "wait"
    assert today.picture.gas[0].closes == when(15.0)
    again = seen_today(tank, closed, when(24.0 + 10.0))
    assert again.phase is Phase.RAMP


def _with_fish(*seen: tuple[float, FishState]) -> tuple[Tank, list[Record]]:
    tank, records, _ = _drawn()
    sightings = [FishSighting(at=when(hour), state=state) for hour, state in seen]
    return tank, in_order([*[one for one in records if one.at <= when(11.5)], *sightings])


def test_uneasy_fish_lower_the_gas_at_once_whatever_the_forecast() -> None:
    tank, records = _with_fish((11.4, FishState.UNEASY))
    today = seen_today(tank, records, when(11.5))
    assert today.phase is Phase.UNEASY
    assert today.action.kind == "lower_and_aerate"
    assert today.action.rate_bps is not None
    assert today.action.rate_bps < 1.5
    assert today.action.steps


def test_fish_in_distress_close_the_gas_and_lock_the_plan_until_calm_is_recorded() -> None:
    tank, records = _with_fish((11.4, FishState.DISTRESS))
    today = seen_today(tank, records, when(11.5))
    assert (today.phase, today.action.kind) == (Phase.ALARM, "close_gas")
    assert today.action.rate_bps is None
    assert today.next_reading is None
    with store_with(tank, records) as store:
        with pytest.raises(BadInputError, match=r"distress.*dawnlevel fish calm"):
            plan_view(store, tank.name, when(11.5))
        store.add_records(tank.name, [FishSighting(at=when(12.0), state=FishState.UNEASY)])
        with pytest.raises(BadInputError, match="distress"):
            plan_view(store, tank.name, when(30.0))
        store.add_records(tank.name, [FishSighting(at=when(31.0), state=FishState.CALM)])
        assert plan_view(store, tank.name, when(31.0)).windows


def test_a_plan_made_while_the_gas_flows_is_for_tomorrow_and_says_until_when_today_runs() -> None:
    tank, records, _ = _drawn()
    now = when(11.5)
    with store_with(tank, [one for one in records if one.at <= now]) as store:
        plan, today = plan_view(store, tank.name, now), today_view(store, tank.name, now)
    assert plan.lights_on - today.lights_on == timedelta(days=1)
    timer = next(one for one in records if isinstance(one, TimerSetting))
    assert plan.gas_until == when(timer.windows_h[0][1])
    assert plan.windows[0].opens > plan.gas_until
    assert plan.picture.gas[-2].closes == plan.gas_until


def test_a_distress_entered_late_still_counts_in_the_order_it_was_seen() -> None:
    """Calm at noon was entered first, distress of the morning after it: the calm is the later sighting."""
    tank, records = _with_fish()
    calm = FishSighting(at=when(11.4), state=FishState.CALM)
    distress = FishSighting(at=when(10.0), state=FishState.DISTRESS)
    assert seen_today(tank, [*records, calm, distress], when(11.5)).phase is Phase.RAMP
    later = FishSighting(at=when(11.45), state=FishState.DISTRESS)
    assert seen_today(tank, [later, *records, calm], when(11.5)).phase is Phase.ALARM


def test_what_is_done_about_the_fish_is_what_the_picture_and_the_forecast_show() -> None:
    """With the gas closed the level ahead can only fall towards the air's; it never rises."""
    tank, records = _with_fish((11.4, FishState.DISTRESS))
    today = seen_today(tank, records, when(11.5))
    curve = today.picture.curve
    ahead = curve.median[curve.at.index(today.picture.now) :]
    assert all(b <= a + 0.01 for a, b in itertools.pairwise(ahead))
    assert today.forecast_if_done is None or (
        today.forecast_if_done.co2_mg_l.median <= today.now.co2_mg_l.median + 0.01
    )


def test_a_settled_tank_says_so_and_is_left_alone() -> None:
    """Three days recorded in a band laid around them."""
    tank, template, end = three_days()
    template = [one for one in template if not isinstance(one, RateSetting) or one.at < when(1.0)]
    records, _, _ = drawn_records(tank, template, end, np.random.default_rng(3))
    with store_with(tank, records) as store:
        days = open_case(store, tank.name, end).found.days
    low = min(day.co2_mg_l.low_90 for day in days)
    high = max(day.co2_mg_l.high_90 for day in days)
    wide = Target(kind=TargetKind.CO2, low=0.3 * low, high=min(4.0 * high, 99.0))
    roomy = dataclasses.replace(tank, target=wide, co2_limit_mg_l=60.0)
    today = seen_today(roomy, records, end)
    assert today.settled
    assert today.action.kind in {"hold", "wait"}
    assert any("Settled" in note for note in today.notes)


def test_a_plan_keeps_its_own_bounds_and_says_them() -> None:
    tank, records, now = _drawn()
    _, plan, _ = _views(tank, records, now)
    assert plan.breach_bound == CEILING_RISK
    assert plan.forecast.at == plan.lights_on
    assert len(plan.windows) <= tank.timer_windows
    assert plan.windows[-1].closes <= plan.lights_off - timedelta(minutes=29)
    assert plan.needle_changes == (plan.rate_bps != plan.present_rate_bps)
    assert plan.readings == tuple(sorted(plan.readings))
    assert all(plan.windows[0].opens < at < plan.lights_on for at in plan.readings)
    assert bool(plan.out_of_reach) == (plan.chance_held < 0.5) == bool(plan.would_help)
    assert all(reason.endswith(".") for reason in plan.reasons)


def test_no_view_promises_that_anything_is_safe() -> None:
    tank, records, now = _drawn()
    for view in _views(tank, records, now):
        said = " ".join(value for _, value in _leaves(view) if isinstance(value, str))
        assert "safe" not in said.lower()
