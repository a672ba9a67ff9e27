"""A level above the livestock ceiling closes the gas before anything is tuned.

At 4 dKH (1.426 meq/L) and 25 degC, pK1 6.352 and 44.01 g/mol (Plummer & Busenberg 1982), pH 6.3 stands for
about 71 mg/L and pH 6.9 for about 18; the ceiling of the tank is 30.
"""

import dataclasses
import re
from datetime import timedelta

import pytest

from dawnlevel.desk.advice.overview import Attention, card_of
from dawnlevel.desk.animals.whatif import whatif_view
from dawnlevel.desk.animals.whatif_views import WhatIfView
from dawnlevel.desk.animals.whatif_words import brief_text, hours_text
from dawnlevel.desk.trouble.complaint import complaint_view
from dawnlevel.desk.trouble.complaint_causes import Complaint
from dawnlevel.desk.trouble.complaint_views import ComplaintView
from dawnlevel.desk.views import Phase, TodayView
from dawnlevel.tank import (
    BaselineCup,
    BaselineMethod,
    FishSighting,
    FishState,
    GasSwitch,
    KhTitration,
    PhReading,
    RateSetting,
    Record,
    Tank,
    TimerSetting,
)
from tests.estimate_worlds import in_order, make_tank, when
from tests.plan_worlds import seen_today, store_with

NOW_H = 14.5


def _world(ph: float, *more: Record, now_h: float, read_h: float) -> tuple[Tank, list[Record]]:
    """A tank of 4 dKH whose meter has shown `ph` three times by `read_h`, gas from 9 to 18."""
    tank = dataclasses.replace(make_tank(temp_c=25.0), co2_limit_mg_l=30.0)
    records = [
        KhTitration(at=when(0.4), kh_dkh=4.0),
        BaselineCup(at=when(0.5), ph=8.1, method=BaselineMethod.AERATED, hours=2.0),
        RateSetting(at=when(0.6), bubbles_per_second=4.0),
        TimerSetting(at=when(0.7), windows_h=((9.0, 18.0),)),
        *(PhReading(at=when(read_h - back), ph=ph) for back in (3.0, 1.5, 0.0)),
        *more,
    ]
    return tank, in_order([one for one in records if one.at <= when(now_h)])


def _seen(ph: float, *more: Record, now_h: float = NOW_H, read_h: float = NOW_H - 0.2) -> TodayView:
    """That tank's day at `now_h`."""
    return seen_today(*_world(ph, *more, now_h=now_h, read_h=read_h), when(now_h))


def _faults(ph: float) -> WhatIfView:
    tank, records = _world(ph, now_h=NOW_H, read_h=NOW_H - 0.2)
    with store_with(tank, records) as store:
        return whatif_view(store, tank.name, when(NOW_H))


def test_far_above_the_ceiling_the_one_next_thing_is_to_close_the_gas() -> None:
    today = _seen(6.3)
    assert (today.phase, today.action.kind, today.action.text) == (
        Phase.OVER,
        "close_gas",
        "Close the gas now.",
    )
    assert "ceiling 30 mg/L" in today.action.reason
    assert any("fish" in step for step in today.action.steps)
    assert today.next_reading is not None
    assert today.next_reading.at - today.now.at <= timedelta(minutes=30)
    assert today.picture.gas[-1].closes <= when(NOW_H)  # the forecast is of a tank whose gas is closed
    assert not any("best choice" in note for note in today.notes)
    assert card_of(today).attention is Attention.ALARM


def test_below_the_ceiling_the_day_is_steered_as_ever() -> None:
    today = _seen(6.9)
    assert today.phase is Phase.HOLDING
    assert today.action.kind in {"hold", "lower", "raise"}


def test_with_the_gas_closed_it_stays_closed_until_the_level_has_fallen() -> None:
    closed = GasSwitch(at=when(NOW_H - 0.1), is_open=False)
    today = _seen(6.3, closed)
    assert (today.phase, today.action.kind) == (Phase.OVER, "keep_closed")
    assert today.action.text.startswith("Keep the gas closed")
    # without gas CO2 falls by 0.4 of itself an hour: pH rises by 0.4 / ln 10 = 0.174 an hour
    falls = [PhReading(at=when(NOW_H + hours), ph=round(6.3 + 0.174 * hours, 2)) for hours in (1, 2, 3, 4)]
    later = _seen(6.3, closed, *falls, now_h=NOW_H + 4.1)
    assert (later.phase, later.action.kind) == (Phase.FALLING, "wait")


def test_before_the_timer_opens_it_is_named_so_that_it_can_be_stopped() -> None:
    today = _seen(6.3, now_h=24.0 + 8.0, read_h=24.0 + 7.9)
    assert today.action.text == "Keep the gas closed; the timer would open it at 09:00."


def test_a_level_known_from_old_readings_only_is_read_first() -> None:
    today = _seen(6.3, now_h=19.5, read_h=12.0)
    assert today.phase is Phase.OVER
    assert "No pH was read in the last hours" in today.action.reason
    assert today.action.steps[0].startswith("Read pH in the tank now")
    assert today.next_reading is not None
    assert today.next_reading.at == today.now.at


@pytest.mark.parametrize(
    ("state", "phase"), [(FishState.DISTRESS, Phase.ALARM), (FishState.UNEASY, Phase.OVER)]
)
def test_fish_in_distress_come_first_and_uneasy_ones_close_the_gas_too(
    state: FishState, phase: Phase
) -> None:
    today = _seen(6.3, FishSighting(at=when(NOW_H - 0.1), state=state))
    assert (today.phase, today.action.kind) == (phase, "close_gas")


def test_faults_of_a_tank_above_its_ceiling_say_so_and_no_hours() -> None:
    view = _faults(6.3)
    assert "above the ceiling now" in view.over_now
    assert view.usual.to_ceiling.already > 0.9
    for fault in view.faults:
        assert hours_text(fault.outcome.to_ceiling).startswith("passed already as it begins")
        assert brief_text(fault.outcome).startswith("above the ceiling as it begins")
    below = _faults(6.9)
    assert below.over_now == ""
    assert below.usual.to_ceiling.already < 0.1


def _asked(complaint: Complaint, ph: float, *, has_cup: bool = True, now_h: float = NOW_H) -> ComplaintView:
    tank, records = _world(ph, now_h=now_h, read_h=now_h - 0.2)
    kept = [one for one in records if has_cup or not isinstance(one, BaselineCup)]
    with store_with(tank, kept) as store:
        return complaint_view(store, tank.name, complaint, when(now_h))


def test_a_complaint_of_too_little_is_answered_with_what_the_records_say_against_it() -> None:
    high = _asked(Complaint.LOW, 6.3)
    assert high.answer.startswith("By your records it was not too low")
    assert "Close the gas" in high.first[0]
    assert high.remedy is None
    low = _asked(Complaint.LOW, 7.8)
    assert not low.answer.startswith("By your records")
    assert low.first == ()


def test_fish_at_the_surface_are_answered_with_oxygen_and_what_eases_them() -> None:
    view = _asked(Complaint.FISH, 7.2, now_h=24.0 + 8.5)  # oxygen is lowest towards the lights
    oxygen = next(one for one in view.causes if one.kind == "low_oxygen")
    assert oxygen.probability is not None
    assert "no reading of oxygen yet" in oxygen.evidence
    told = re.search(r"CO2 goes from (\d+) to (\d+) mg/L", " ".join(view.first))
    assert told is not None
    assert int(told[2]) < int(told[1])
    assert "oxygen" in {one.kind for one in view.measurements}


def test_without_a_cup_ph_and_kh_still_speak_for_the_fish() -> None:
    view = _asked(Complaint.FISH, 6.3, has_cup=False)
    assert view.needs
    assert "By pH and KH alone CO2 is about" in view.answer
    assert "above the ceiling of 30 mg/L: close the gas" in view.answer
    fine = _asked(Complaint.FISH, 7.2, has_cup=False)
    assert "the ceiling is 30 mg/L" in fine.answer


@pytest.mark.parametrize("ph", [7.6, 7.8, 8.0])
def test_readings_that_agree_outweigh_what_was_expected_of_the_gas(ph: float) -> None:
    """An empty cylinder at a recorded 4 bubbles/s: at 4 dKH pH 7.8 stands for 2.2 mg/L, 8.0 for 1.4."""
    today = _seen(ph)
    expected = 1.426 * 10.0 ** (6.352 - ph) * 44.01
    assert expected / 1.6 < today.now.co2_mg_l.median < 1.6 * expected
    assert today.phase is Phase.HOLDING
    assert any("look whether gas flows" in note for note in today.notes)
    if today.action.kind == "raise":
        assert today.action.text.startswith("See that gas flows")


def test_one_slip_among_readings_that_agree_changes_little() -> None:
    today = _seen(6.9, PhReading(at=when(NOW_H - 0.1), ph=8.6))
    without = _seen(6.9)
    assert today.now.co2_mg_l.median == pytest.approx(without.now.co2_mg_l.median, rel=0.15)
