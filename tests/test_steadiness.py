"""A keeper's few readings: charts that allow for wander, kinds told apart, page and JSON of `steady`."""

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from scipy import stats
from scipy.integrate import solve_ivp

from dawnlevel.cli.app import run
from dawnlevel.desk.steadiness.steadiness import steadiness_of, steadiness_view
from dawnlevel.desk.steadiness.steadiness_views import SteadinessView
from dawnlevel.store import open_store
from dawnlevel.tank import (
    BaselineCup,
    BaselineMethod,
    CellColour,
    CellSighting,
    KhTitration,
    Photoperiod,
    PhReading,
    RateSetting,
    Record,
    Tank,
    TimerSetting,
    WaterChange,
)
from dawnlevel.watch.parting import CUP, KH, LEVEL, REST, Moved, Situation, effects, kinds_of
from dawnlevel.watch.standard import self_starting
from dawnlevel.watch.steady import Series, chart

BEGIN = datetime(2026, 1, 5, tzinfo=UTC)
TANK = Tank(
    name="Slow",
    volume_l=90.0,
    depth_cm=35.0,
    surface_cm2=2600.0,
    photoperiod=Photoperiod(lights_on_h=12.0, lights_off_h=20.0),
    kh_step_dkh=0.5,
)
RUN = Situation(kla_per_h=0.25, lead_h=2.5, co2_mg_l=22.0, dark_h=15.0)


def at(day: float, hour: float) -> datetime:
    return BEGIN + timedelta(days=day, hours=hour)


def kept(
    every_d: int,
    days: int,
    ph: Callable[[int], float],
    cup: Callable[[int], float] = lambda _: 7.9,
    kh: Callable[[int], float] = lambda _: 4.0,
    seed: int = 3,
) -> list[Record]:
    """A keeper who reads at lights-on, with 0.015 pH of noise, takes cups and counts KH."""
    rng = np.random.default_rng(seed)
    records: list[Record] = [
        RateSetting(at=at(0, 1), bubbles_per_second=1.5),
        TimerSetting(at=at(0, 1.1), windows_h=((9.5, 19.0),)),
    ]
    for day in range(1, days, every_d):
        shown = ph(day) + 0.015 * rng.standard_normal()
        records.append(PhReading(at=at(day, 12.0 + rng.uniform(-0.2, 0.2)), ph=round(float(shown), 2)))
    for day in range(2, days, 21):
        shown = cup(day) + 0.02 * rng.standard_normal()
        records.append(
            BaselineCup(at=at(day, 21), ph=round(float(shown), 2), method=BaselineMethod.AERATED, hours=1.0)
        )
    records += [KhTitration(at=at(day, 21.5), kh_dkh=kh(day)) for day in range(3, days, 14)]
    return sorted(records, key=lambda one: one.at)


def judged(records: list[Record], days: int) -> SteadinessView:
    return steadiness_of(TANK, records, at(days, 0))


@pytest.mark.parametrize(("every_d", "days", "within_d"), [(1, 60, 6), (7, 210, 22)])
def test_weaker_gas_is_told_soon_dated_and_named(every_d: int, days: int, within_d: int) -> None:
    """A fifth to a third less CO2 at lights-on, cup and KH as before."""
    middle = days // 2
    records = kept(every_d, days, lambda day: 6.72 + 0.14 * (day >= middle))
    view = judged(records, days)
    (change,) = view.changes
    assert change.figure == "level"
    assert change.since_earliest <= at(middle, 12) <= change.since_latest + timedelta(hours=1)
    assert timedelta(0) <= change.told_at - at(middle, 11) <= timedelta(days=within_d)
    assert change.moved == pytest.approx(0.14, abs=0.04)
    assert change.kinds[0].kind == "injection_weaker"
    assert change.kinds[0].causes
    assert sum(kind.probability for kind in change.kinds) <= 1.0 + 1e-3
    assert view.answer.startswith("Not as it was")


def test_intervals_of_time_and_size_hold_what_they_promise() -> None:
    """Nine in ten of 24 weekly keepers whose level moves by 0.2 pH; fewer than 17 would be one in 200."""
    days, held_days, held_sizes = 182, 0, 0
    for seed in range(24):
        middle = 60 + 3 * seed
        view = judged(kept(7, days, lambda day, m=middle: 6.7 + 0.2 * (day >= m), seed=seed), days)
        one = max(view.changes, key=lambda change: change.probability)
        held_days += one.since_earliest <= at(middle, 12) <= one.since_latest + timedelta(hours=1)
        held_sizes += one.moved_low <= 0.2 <= one.moved_high
    assert held_days >= 17
    assert held_sizes >= 17


def test_a_meter_that_jumped_moves_the_cup_and_leaves_kh() -> None:
    step = lambda day: 0.2 * (day >= 80)  # noqa: E731
    records = kept(1, 160, lambda day: 6.72 + step(day), lambda day: 7.9 + step(day))
    change = judged(records, 160).changes[0]
    assert change.kinds[0].kind == "probe_step"
    assert change.kinds[0].size == pytest.approx(0.2, abs=0.05)


def test_water_of_another_kh_moves_cup_and_count_alike() -> None:
    step = lambda day: 0.2 * (day >= 80)  # noqa: E731
    records = kept(
        1, 160, lambda day: 6.72 + step(day), lambda day: 7.9 + step(day), lambda day: 4.0 + 2.5 * (day >= 80)
    )
    records.append(WaterChange(at=at(79, 13), fraction=0.3))
    change = judged(sorted(records, key=lambda one: one.at), 160).changes[0]
    assert change.kinds[0].kind == "baseline_shift"
    first = change.kinds[0].causes[0]
    assert "water change" in first.cause
    assert first.speaks_for


def test_a_new_count_or_an_earlier_timer_is_no_change_of_the_tank() -> None:
    """Half the gas after the keeper turned the needle to half: nothing to tell."""
    records = kept(1, 60, lambda day: 6.72 + 0.3 * (day >= 30))
    records += [RateSetting(at=at(29, 21), bubbles_per_second=0.75)]
    assert not judged(sorted(records, key=lambda one: one.at), 60).changes


def test_a_single_odd_reading_is_told_as_one() -> None:
    records = kept(7, 210, lambda day: 6.72 + 0.5 * (day == 106))
    view = judged(records, 210)
    assert [one.is_lasting for one in view.changes] == [False]
    assert view.answer.startswith("Steady")


@pytest.mark.parametrize("count", [0, 1, 3])
def test_with_few_readings_it_says_what_to_record(count: int) -> None:
    records = [record for record in kept(7, 100, lambda _: 6.7) if not isinstance(record, KhTitration)]
    view = judged(records[: 2 + count] if count else [], 100)
    assert "Too few" in view.answer
    assert view.needs
    assert not view.changes


def test_a_coarse_cell_and_a_coarse_meter_cry_no_wolf() -> None:
    """Always the same colour, always 6.7: a first lime, a first 6.6 are no change."""
    records = kept(1, 3, lambda _: 6.7)[:2]
    for day in range(1, 40):
        records.append(PhReading(at=at(day, 12), ph=6.6 if day == 39 else 6.7))
        colour = CellColour.LIME if day == 38 else CellColour.GREEN
        records.append(CellSighting(at=at(day, 12.1), colour=colour))
    coarse = Tank(
        name="Coarse", volume_l=90.0, depth_cm=35.0, surface_cm2=2600.0, photoperiod=TANK.photoperiod,
        ph_step=0.1,
    )  # fmt: skip
    assert not steadiness_of(coarse, records, at(40, 0)).changes


def test_a_wandering_level_gives_standard_normals_when_the_wander_is_known() -> None:
    """Random walk of 0.5 a day under readings of sd 1 (scaled by 3), irregular days: Kolmogorov-Smirnov."""
    rng = np.random.default_rng(12)
    days = np.cumsum(rng.uniform(0.5, 3.0, 12))
    steps = 0.5 * np.sqrt(np.diff(days, prepend=days[0])) * rng.standard_normal((3000, 12))
    figures = 3.0 * (np.cumsum(steps, axis=1) + rng.standard_normal((3000, 12)))
    found = np.array([self_starting(row, days=days, wander=0.5) for row in figures])[:, 3:]
    for column in found.T:
        assert stats.kstest(column, "norm").pvalue > 1e-3
    assert np.max(np.abs(np.corrcoef(found.T) - np.eye(9))) < 5.0 / np.sqrt(3000)


def test_false_alarms_keep_to_their_rate_where_the_level_wanders() -> None:
    """Two figures of 40 daily tank-years, wandering as much as allowed for; level and scatter unknown."""
    rng = np.random.default_rng(9)
    days, alarms = np.arange(365.0), 0
    for _ in range(40):
        for _ in range(2):
            values = np.cumsum(0.02 * rng.standard_normal(365)) + 0.06 * rng.standard_normal(365)
            series = Series("level", days, values, np.full(365, 0.05), 0.02)
            alarms += len(chart(series, 2 * 365.25).shifts)
    assert alarms / 40.0 < 1.0 + 3.0 / np.sqrt(40.0)


def test_effects_of_exchange_and_start_are_those_of_the_balance() -> None:
    """Against scipy's solver: gas for the lead, then the dark, with another exchange or a later start."""

    def lived(kla: float, lead_h: float) -> float:
        course = solve_ivp(lambda _, c: 10.0 - kla * c, (0.0, lead_h), [0.0], rtol=1e-10, atol=1e-12)
        return float(course.y[0, -1])

    usual = lived(0.25, 2.5)
    slower = effects("exchange", np.array([-0.5]), RUN)[LEVEL][0]
    assert slower == pytest.approx(np.log(lived(0.25 * np.exp(-0.5), 2.5) / usual), abs=1e-6)
    later = effects("start", np.array([1.0]), RUN)[LEVEL][0]
    assert later == pytest.approx(np.log(lived(0.25, 1.5) / usual), abs=1e-6)


def test_kinds_by_what_each_figure_did() -> None:
    low, tight = Moved(LEVEL, -0.46, 0.03), 0.02
    kinds = {
        "gas": kinds_of([low, Moved(CUP, 0.0, tight), Moved(KH, 0.0, 0.05)], RUN),
        "meter": kinds_of([low, Moved(CUP, 0.2, tight), Moved(KH, 0.0, 0.05), Moved(REST, 0.2, tight)], RUN),
        "water": kinds_of([low, Moved(CUP, 0.2, tight), Moved(KH, 0.46, 0.05)], RUN),
    }
    assert kinds["gas"][0].name == "injection_weaker"
    assert kinds["meter"][0].name == "probe_step"
    assert kinds["water"][0].name == "baseline_shift"
    assert all(sum(kind.chance for kind in one) == pytest.approx(1.0) for one in kinds.values())
    alone = kinds_of([low], RUN)
    assert alone[0].chance < 0.7  # a level alone cannot tell them apart
    late = {one.name: one.chance for one in kinds_of([low], RUN, clocks_changed=True)}
    assert late["start_late"] > {one.name: one.chance for one in alone}["start_late"]


def test_the_command_says_it_in_letters_and_as_json(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    place = str(tmp_path / "records.db")
    with open_store(place) as store:
        store.add_tank(TANK, BEGIN)
        store.add_records("Slow", kept(7, 210, lambda day: 6.72 + 0.14 * (day >= 105)))
    monkeypatch.setenv("DAWNLEVEL_NOW", at(210, 0).isoformat())
    monkeypatch.setenv("COLUMNS", "80")
    assert run(["steady", "--store", place]) == 0
    said = " ".join(capsys.readouterr().out.split())
    for part in ("Not as it was", "Since", "less gas dissolves", "check", "The figures"):
        assert part in said
    assert run(["steady", "--store", place, "--json"]) == 0
    data = json.loads(capsys.readouterr().out)["data"]
    assert data["changes"][0]["kinds"][0]["kind"] == "injection_weaker"
    assert data["false_alarms_a_year"] == 1.0
    with open_store(place) as store:
        assert steadiness_view(store, "Slow", at(90, 0)).answer.startswith("Steady")
