"""Cylinder, room, solution, meter and reminders at the desk: what records of a known truth give back."""

from collections.abc import Iterator, Sequence
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from dawnlevel.desk.advice.today import today_view
from dawnlevel.desk.shelf.cylinder import cylinder_view
from dawnlevel.desk.shelf.meter import meter_view
from dawnlevel.desk.shelf.reminders import due_reminders
from dawnlevel.desk.shelf.room import GasAtHand, gas_at_hand, room_view
from dawnlevel.desk.shelf.solution import solution_view
from dawnlevel.errors import BadInputError, NotEnoughRecordsError
from dawnlevel.store import Store, open_store
from dawnlevel.tank import (
    BaselineCup,
    BaselineMethod,
    Buffer,
    BufferCheck,
    CylinderExchange,
    CylinderStandard,
    CylinderWeighing,
    GaugeReading,
    KhTitration,
    Photoperiod,
    PhReading,
    RateSetting,
    Record,
    SolutionPrepared,
    Tank,
    TimerSetting,
    WaterChange,
)

START = datetime(2026, 5, 1, tzinfo=UTC)
DAY = timedelta(days=1)
NOW = START + 30 * DAY + timedelta(hours=20)
TANK = Tank(
    name="Brook",
    volume_l=112.0,
    depth_cm=40.0,
    surface_cm2=2800.0,
    photoperiod=Photoperiod(lights_on_h=13.0, lights_off_h=21.0),
)
TRUE_MG, RATE_BPS, HOURS = 0.15, 1.5, 8.5
A_DAY_G = TRUE_MG * RATE_BPS * 3.6 * HOURS


def at(day: float) -> datetime:
    return START + day * DAY


def gas() -> list[Record]:
    return [
        RateSetting(at=at(0), bubbles_per_second=RATE_BPS),
        TimerSetting(at=at(0), windows_h=((10.5, 19.0),)),
    ]


def cylinder(**more: object) -> CylinderExchange:
    fields: dict[str, object] = {"gas_kg": 2.0, "tare_kg": 3.1, "capacity_l": 3.0}
    return CylinderExchange(at=at(0), **(fields | more))  # type: ignore[arg-type]


def weighings(days: Sequence[float]) -> list[Record]:
    """Cylinder with regulator, 0.9 kg, on an exact scale that might be off by 10 g."""
    return [CylinderWeighing(at=at(day), gross_kg=3.1 + 0.9 + 2.0 - 1e-3 * A_DAY_G * day) for day in days]


def readings() -> list[Record]:
    """Enough for a level: KH, a degassed cup, a month of readings before lights-on."""
    return [
        KhTitration(at=at(0.3), kh_dkh=4.0),
        BaselineCup(at=at(0.4), ph=8.05, method=BaselineMethod.AERATED, hours=1.0),
        *(PhReading(at=at(day + 12.8 / 24), ph=6.95 + 0.02 * (day % 3)) for day in range(1, 31)),
    ]


def kept(records: Sequence[Record]) -> Store:
    store = open_store("sqlite://", clock=lambda: NOW)
    store.add_tank(TANK, START)
    store.add_records("Brook", sorted(records, key=lambda one: one.at))
    return store


@pytest.fixture(scope="module")
def whole() -> Iterator[Store]:
    """A month with everything recorded."""
    more = [
        cylinder(standard=CylinderStandard.DOT_3AL, tested="2022-03", price=20.0),
        *weighings([0.0, 15.0, 29.0]),
        GaugeReading(at=at(29), gauge_bar=58.5, temp_c=22.0),
        BufferCheck(at=at(2), low_ph=4.06, high_ph=6.80),
        SolutionPrepared(at=at(1), kh_dkh=4.0),
    ]
    with kept([*gas(), *readings(), *more]) as store:
        yield store


# --- the cylinder ---


def test_what_is_left_and_what_a_bubble_holds(whole: Store) -> None:
    view = cylinder_view(whole, "Brook", NOW)
    used_kg = 1e-3 * A_DAY_G * 31  # each day's gas is over by eight in the evening
    assert view.left_kg.low_90 < 2.0 - used_kg < view.left_kg.high_90
    assert view.left_kg.high_90 - view.left_kg.low_90 < 0.16  # a charge filled to 2 % leaves that much
    assert view.mg_per_bubble is not None
    assert view.mg_per_bubble.low_90 < TRUE_MG < view.mg_per_bubble.high_90
    assert view.mg_per_bubble.median == pytest.approx(TRUE_MG, rel=0.06)
    assert view.use_g_per_day.median == pytest.approx(A_DAY_G, rel=0.06)
    assert view.told > 0.9
    assert not view.warnings


def test_when_it_runs_out_and_what_it_costs(whole: Store) -> None:
    view = cylinder_view(whole, "Brook", NOW)
    assert view.runs_out is not None
    true_end = (NOW + timedelta(days=(2.0 - 1e-3 * A_DAY_G * 31) / (1e-3 * A_DAY_G))).date()
    assert view.runs_out.early < true_end < view.runs_out.late
    assert view.exchange_by == view.runs_out.early
    assert view.cost_per_month is not None
    assert view.cost_per_month.median == pytest.approx(20.0 * A_DAY_G * 30.4 / 2000.0, rel=0.07)
    assert view.retest_due == date(2027, 3, 1)
    assert view.retest == "Its test is due by 1 Mar 2027."
    late = cylinder_view(whole, "Brook", datetime(2027, 3, 5, 12, tzinfo=UTC))
    assert late.retest.startswith("Its test is overdue since 1 Mar 2027")


def test_where_the_gas_goes_adds_up(whole: Store) -> None:
    day = cylinder_view(whole, "Brook", NOW).gas_day
    assert day is not None
    assert day.injected_g.median == pytest.approx(A_DAY_G, rel=0.06)
    assert 0.0 < day.dissolved_share.low_90 < day.dissolved_share.high_90 <= 1.0
    lost = day.bubbled_off_g.median / day.injected_g.median
    assert lost + day.dissolved_share.median == pytest.approx(1.0, abs=0.05)
    assert day.taken_up_share.median < day.dissolved_share.median


def test_the_gauge_and_the_heat_in_words(whole: Store) -> None:
    view = cylinder_view(whole, "Brook", NOW)
    assert view.gauge is not None
    assert view.gauge.says == "liquid"
    assert view.gauge.flat_bar == pytest.approx(59.0, abs=0.2)  # 60.0 bar absolute at 22 degC
    assert "Weigh it" in view.gauge.text
    hot = {one.temp_c: one.gauge_bar for one in view.heat}
    assert hot[40.0] == pytest.approx(105.0, rel=0.01)  # table: 106 bar absolute at a fill of 0.667
    assert hot[50.0] == pytest.approx(137.0, rel=0.01)
    assert view.liquid_full_c == pytest.approx(27.5, abs=0.2)


@pytest.mark.parametrize(
    ("bar", "temp_c", "says", "words"),
    [
        (30.0, 22.0, "gas_only", "liquid is gone"),
        (75.0, 22.0, "above", "More than liquid shows"),
        (90.0, 35.0, "no_liquid_level", "no liquid level"),
        (58.0, None, "liquid", "Flat"),
    ],
)
def test_every_meaning_of_the_gauge(bar: float, temp_c: float | None, says: str, words: str) -> None:
    with kept([cylinder(), *gas(), GaugeReading(at=at(1), gauge_bar=bar, temp_c=temp_c)]) as store:
        found = cylinder_view(store, "Brook", at(2)).gauge
    assert found is not None
    assert found.says == says
    assert words in found.text


def test_without_weighings_it_says_how_little_is_known() -> None:
    with kept([cylinder(), *gas()]) as store:
        view = cylinder_view(store, "Brook", at(10))
    assert view.mg_per_bubble is not None
    assert view.mg_per_bubble.high_90 / view.mg_per_bubble.median == pytest.approx(2.0, rel=0.05)
    assert any("factor of two" in one for one in view.warnings)
    assert "Weigh it now and again" in view.weigh_next
    assert view.gas_day is None
    assert view.no_gas_day


def test_without_counts_use_is_told_by_the_day() -> None:
    lost = [CylinderWeighing(at=at(day), gross_kg=6.0 - 0.01 * day, scale_kg=0.005) for day in (0.0, 20.0)]
    with kept([cylinder(), *lost]) as store:
        view = cylinder_view(store, "Brook", at(20))
    assert view.counted == "days"
    assert view.mg_per_bubble is None
    assert view.use_g_per_day.median == pytest.approx(10.0, rel=0.05)


def test_gas_that_bubbles_cannot_carry_is_a_leak() -> None:
    lost = [CylinderWeighing(at=at(day), gross_kg=6.0 - 0.04 * day) for day in (0.0, 20.0)]
    with kept([cylinder(), *gas(), *lost]) as store:
        warned = cylinder_view(store, "Brook", at(20)).warnings
    assert any("leak" in one for one in warned)


def test_a_closed_timer_never_empties_it() -> None:
    closed = TimerSetting(at=at(5), windows_h=())
    with kept([cylinder(), *gas(), closed]) as store:
        view = cylinder_view(store, "Brook", at(6))
    assert view.runs_out is None
    assert view.exchange_by is None


def test_a_new_cylinder_starts_afresh() -> None:
    again = CylinderExchange(at=at(20), gas_kg=2.0)
    with kept([cylinder(), *gas(), *weighings([0.0, 15.0]), again]) as store:
        view = cylinder_view(store, "Brook", at(20.1))
    assert view.left_share.median > 0.98


def test_no_cylinder_and_a_forgotten_exchange_are_told() -> None:
    with kept(gas()) as store, pytest.raises(NotEnoughRecordsError, match="dawnlevel exchange"):
        cylinder_view(store, "Brook", at(2))
    heavier = CylinderWeighing(at=at(10), gross_kg=7.5)
    with kept([cylinder(), *gas(), *weighings([0.0, 5.0]), heavier]) as store:
        with pytest.raises(BadInputError, match="fit no cylinder"):
            cylinder_view(store, "Brook", at(11))
        records = [one.record for one in store.records("Brook")]
    (told,) = [one for one in due_reminders(TANK, records, at(11)) if one.kind == "cylinder"]
    assert "exchange" in told.text


def test_a_water_change_makes_the_gas_day_wait(whole: Store) -> None:
    records = [one.record for one in whole.records("Brook")]
    with kept([*records, WaterChange(at=NOW - timedelta(hours=3), fraction=0.3)]) as store:
        view = cylinder_view(store, "Brook", NOW)
    assert view.gas_day is None
    assert "Water was changed" in view.no_gas_day


# --- the room ---


def test_the_room_against_its_limits() -> None:
    """Table: 2 kg in 30 m3, well mixed, 3.6 %; pooled over 12 m2 18 %; the 4 % limit takes 2.2 kg."""
    view = room_view(GasAtHand(None, 2.0), 30.0)
    assert view.mixed_percent == pytest.approx(3.6, abs=0.05)
    assert view.pooled_percent == pytest.approx(18.0, abs=0.3)
    passed = {(one.name, one.percent) for one in view.limits if one.passed and one.in_force}
    assert ("NIOSH short-term limit", 3.0) in passed
    deadly = next(one for one in view.limits if one.percent == 4.0)
    assert not deadly.passed
    assert deadly.mass_kg == pytest.approx(2.25, abs=0.06)
    assert "stay silent" in view.alarm
    assert "sound, but late" in room_view(GasAtHand(None, 5.0), 10.0).alarm
    assert view.use_percent is None


def test_the_charge_on_record_is_what_may_vent(whole: Store) -> None:
    gas_there = gas_at_hand(whole, "Brook", NOW)
    assert gas_there.gas_kg == 2.0
    view = room_view(gas_there, 30.0)
    assert view.use_percent == pytest.approx(100.0 * A_DAY_G / 24e3 / 1.839 / 15.0, rel=0.08)
    with kept(gas()) as store, pytest.raises(NotEnoughRecordsError, match="--gas"):
        gas_at_hand(store, "Brook", NOW)


def test_the_cylinder_in_the_room(whole: Store) -> None:
    """49 CFR 180.209: 3AL in CO2 service every 5 years. Span & Wagner: 57.3 bar over liquid at 20 degC."""
    recorded = room_view(gas_at_hand(whole, "Brook", NOW), 30.0).care
    assert recorded.retest_due == date(2027, 3, 1)
    assert recorded.is_recorded
    usual = room_view(GasAtHand(None, 2.0), 30.0).care
    assert usual.retest_due is None
    assert not usual.is_recorded
    assert {one.standard: one.years for one in usual.retests} == {"3al": 5, "3aa": 5, "foreign": 5, "adr": 10}
    assert next(one for one in usual.heat if one.temp_c == 20.0).gauge_bar == pytest.approx(56.3, abs=0.3)
    assert not any("years" in rule for rule in usual.rules)


# --- the solution ---


def test_a_kitchen_scale_is_told_that_it_cannot() -> None:
    view = solution_view(4.0, 1.0, 1.0)
    assert view.needs_g == pytest.approx(0.1198, abs=1e-4)
    assert "cannot weigh 0.12 g at all" in view.direct
    assert view.recipe.route == "two_stage"
    assert view.recipe.steps[0] == f"Weigh {view.recipe.mass_g:.4g} g of baking soda (NaHCO3)."
    assert f"{view.recipe.kh_dkh:.2f} dKH" in view.recipe.steps[-1]


def test_a_finer_balance_a_stock_and_the_colours() -> None:
    assert "straight in" in solution_view(4.0, 1.0, 0.001).direct
    assert "error of 5 %" in solution_view(4.0, 1.0, 0.01).direct
    view = solution_view(4.0, 1.0, 0.01, stock_dkh=40.0)
    assert view.stock_ml == pytest.approx(100.0)
    words = [one.word for one in view.colours]
    assert [word for place, word in enumerate(words) if word not in words[:place]] == [
        "blue",
        "green",
        "lime",
    ]
    assert next(one.word for one in view.colours if one.co2_mg_l == 30.0) == "green"
    assert np.all(np.diff([one.cell_ph for one in view.colours]) < 0.0)


# --- meters ---


def test_a_meter_with_records_says_what_limits_the_level(whole: Store) -> None:
    view = meter_view(whole, "Brook", NOW)
    assert view.factor_now is not None
    shares = [one.share for one in view.limits]
    assert shares == sorted(shares, reverse=True)
    assert all(0.0 <= share <= 1.0 for share in shares)
    assert all(1.0 < one.factor_if_known <= view.factor_now + 1e-9 for one in view.limits)
    assert all(one.factor_after <= view.factor_now + 1e-9 for one in view.improvements)
    assert view.improvements[0].label in view.advice
    (check,) = view.checks
    assert check.slope_percent == pytest.approx(100.0 * 2.74 / 2.86, abs=0.05)
    assert check.verdict == "good"
    assert check.co2_by_drop_percent == pytest.approx(100.0 * (10.0 ** (-1.1 * 0.12 / 2.86) - 1.0), abs=0.1)
    assert view.due == date(2026, 5, 31)
    assert view.solution_due == date(2026, 10, 31)
    assert view.kh_dkh == 4.0


def test_a_meter_without_records_still_says_what_instruments_cost() -> None:
    with kept([]) as store:
        view = meter_view(store, "Brook", NOW)
    assert view.factor_now is None
    assert not view.limits
    assert view.due is None
    costs = {one.label: one.co2_percent for one in view.errors}
    assert costs["liquid pH kit or strips"] == pytest.approx(78.0, abs=1.0)  # printed: 0.25 pH is x1.78


def test_drift_and_buffers_that_are_none_of_these() -> None:
    first = BufferCheck(at=at(0), low_ph=4.005, high_ph=6.865)
    later = BufferCheck(at=at(14), low_ph=4.105, high_ph=6.965, adjusted=False)
    swapped = BufferCheck(at=at(15), low_ph=4.0, high_ph=6.9, low=Buffer.BORAX, high=Buffer.PHTHALATE)
    with kept([first, later]) as store:
        assert meter_view(store, "Brook", NOW).drift_ph_per_week == pytest.approx(0.05)
    with kept([first, swapped]) as store:
        view = meter_view(store, "Brook", NOW)
    assert view.checks[0].verdict == "unfit"
    assert view.checks[0].slope_percent is None
    assert view.drift_ph_per_week is None


# --- reminders ---


def kinds(records: Sequence[Record], now: datetime) -> list[str]:
    return [one.kind for one in due_reminders(TANK, sorted(records, key=lambda one: one.at), now)]


def test_nothing_is_told_before_it_is_due(whole: Store) -> None:
    records = [one.record for one in whole.records("Brook")]
    assert kinds(records, at(27)) == []
    assert kinds([], NOW) == []
    assert kinds(gas(), NOW) == []


def test_each_thing_is_told_once_it_is_due() -> None:
    read = PhReading(at=at(0), ph=7.0)
    assert kinds([read], at(27.9)) == []
    assert kinds([read], at(28.1)) == ["buffers"]
    assert kinds([read, BufferCheck(at=at(20), low_ph=4.0, high_ph=6.9)], at(40)) == []
    assert kinds([SolutionPrepared(at=at(0), kh_dkh=4.0)], at(181)) == []
    assert kinds([SolutionPrepared(at=at(0), kh_dkh=4.0)], at(183)) == ["solution"]
    count = KhTitration(at=at(0), kh_dkh=4.0)
    assert kinds([count], at(27.9)) == []
    assert kinds([count], at(28.1)) == ["kh"]
    assert kinds([count, KhTitration(at=at(20), kh_dkh=4.0)], at(40)) == []
    stamped = cylinder(standard=CylinderStandard.ADR, tested="2016-07")
    assert kinds([stamped], at(15)) == []
    assert kinds([stamped], at(45)) == ["retest"]
    (soon,), (late,) = (
        [one for one in due_reminders(TANK, [stamped], at(day)) if one.kind == "retest"] for day in (45, 200)
    )
    assert "is due by 1 Jul 2026" in soon.text
    assert "is overdue since 1 Jul 2026" in late.text


def test_the_next_cylinder_is_told_a_week_ahead_of_the_early_end() -> None:
    records = [cylinder(), *gas(), *weighings([0.0, 30.0, 60.0, 90.0])]
    told = []
    with kept(records) as store:
        for day in range(250, 300, 5):
            early = cylinder_view(store, "Brook", at(day)).exchange_by
            assert early is not None
            told.append("cylinder" in kinds(records, at(day)))
            assert told[-1] == (early <= at(day + 7).date())
    true_end = 2000.0 / A_DAY_G  # day 290
    assert not told[0]
    assert told[-1]
    assert 250 + 5 * told.index(True) < true_end


def test_today_tells_what_is_due_and_only_then(whole: Store) -> None:
    """KH was counted on day 0.3 and buffers were on day 2: four weeks later each, and nothing before."""
    words = ("buffers", "KH was last counted", "cylinder", "solution")
    for day, due in ((27.5, ()), (29.5, words[1:2]), (30.7, words[:2])):
        notes = today_view(whole, "Brook", at(day)).notes
        assert tuple(word for word in words if any(word in note for note in notes)) == due
