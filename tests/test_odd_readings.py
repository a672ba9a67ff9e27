"""Readings that do not fit a tank well known: one is read again, several in a row mean that it changed.

The days before follow dC/dt = g - k C in closed form (C in multiples of the degassed level, g on while the
gas is open), so pH = cup - log10 C at constant alkalinity; nothing of the estimate is used to draw them.
"""

import dataclasses
import math
from datetime import timedelta

from dawnlevel.desk.advice.overview import Attention, card_of
from dawnlevel.desk.views import Phase, TodayView
from dawnlevel.tank import (
    BaselineCup,
    BaselineMethod,
    KhTitration,
    PhReading,
    RateSetting,
    Record,
    TimerSetting,
)
from tests.estimate_worlds import in_order, make_tank, when
from tests.plan_worlds import seen_today

CUP_PH, EXCHANGE_PER_H, NIGHT, PLATEAU = 7.6, 0.35, 2.0, 23.0
OPENS_H, CLOSES_H = 10.0, 18.75
DAY_H = 24.0 * 3


def _ph(hours_of_gas: float) -> float:
    level = PLATEAU - (PLATEAU - NIGHT) * math.exp(-EXCHANGE_PER_H * hours_of_gas)
    return round(CUP_PH - math.log10(level), 2)


def _seen(now_h: float, *more: tuple[float, float], ceiling: float = 30.0) -> TodayView:
    """Day 3 at `now_h` [h of the day] after three days all alike, with `more` (hour, pH) that day."""
    tank = dataclasses.replace(make_tank(temp_c=25.0), co2_limit_mg_l=ceiling)
    records: list[Record] = [
        KhTitration(at=when(0.2), kh_dkh=4.0),
        BaselineCup(at=when(0.3), ph=CUP_PH, method=BaselineMethod.AERATED, hours=2.0),
        RateSetting(at=when(0.4), bubbles_per_second=1.5),
        TimerSetting(at=when(0.5), windows_h=((OPENS_H, CLOSES_H),)),
    ]
    for day in range(3):
        read = {OPENS_H + after: after for after in (0.67, 1.33, 1.95)} | {15.0: 1.95}
        records += [PhReading(at=when(24.0 * day + hour), ph=_ph(after)) for hour, after in read.items()]
    records += [PhReading(at=when(DAY_H + hour), ph=ph) for hour, ph in more]
    return seen_today(tank, in_order(records), when(DAY_H + now_h))


def test_a_day_like_the_others_is_steered_as_ever() -> None:
    today = _seen(11.4, (10.67, _ph(0.67)), (11.33, _ph(1.33)))
    assert today.action.kind in {"hold", "raise", "lower"}
    assert today.settled


def test_one_reading_far_off_is_read_again_at_once() -> None:
    today = _seen(10.7, (10.67, 7.5))
    assert today.action.kind == "read_again"
    assert "7.50" in today.action.reason
    assert today.next_reading is not None
    assert today.next_reading.at == today.now.at
    assert not today.settled
    assert card_of(today).attention is Attention.NOW
    assert not any("counts for little" in note for note in today.notes)


def test_a_slip_seen_to_be_one_changes_nothing_more() -> None:
    today = _seen(10.8, (10.67, 7.5), (10.75, _ph(0.75)))
    assert today.action.kind in {"hold", "raise", "lower"}
    without = _seen(10.8, (10.75, _ph(0.75)))
    assert abs(math.log(today.now.co2_mg_l.median / without.now.co2_mg_l.median)) < 0.1


def test_one_left_alone_is_told_later_as_a_note() -> None:
    today = _seen(15.0, (10.67, 7.5))
    assert today.action.kind != "read_again"
    assert any("counts for little" in note for note in today.notes)


def test_an_empty_cylinder_is_believed_from_the_second_reading_on() -> None:
    """The level stays where the night left it: pH 7.5 stands for 10^0.1 times the degassed level."""
    today = _seen(11.4, (10.67, 7.5), (11.33, 7.5))
    assert today.now.drop_ph is not None
    assert abs(today.now.drop_ph.median - 0.1) < 0.05
    assert today.action.kind == "find_change"
    assert "gas flows" in today.action.text
    assert not today.settled


def test_a_valve_stuck_open_is_read_again_and_then_believed() -> None:
    once = _seen(8.1, (8.0, 5.9))
    assert once.action.kind == "read_again"
    assert once.action.text == "Read pH again now, and see that the gas is closed."
    twice = _seen(8.3, (8.0, 5.9), (8.2, 5.9))
    assert twice.phase is Phase.OVER
    assert twice.now.drop_ph is not None
    assert abs(twice.now.drop_ph.median - 1.7) < 0.05


def test_while_gas_flows_such_a_reading_closes_it_until_it_is_read_again() -> None:
    once = _seen(10.7, (10.67, 5.9))
    assert once.action.kind == "close_and_read"
    assert once.action.text.startswith("Close the gas")
    assert once.picture.gas[-1].closes <= once.now.at


def test_a_tank_back_to_what_it_was_is_the_old_one_again() -> None:
    today = _seen(15.1, (10.67, 7.5), (11.33, 7.5), (15.0, _ph(1.95)))
    assert today.action.kind in {"hold", "raise", "lower"}
    assert today.next_reading is None or today.next_reading.at - today.now.at > timedelta(0)
