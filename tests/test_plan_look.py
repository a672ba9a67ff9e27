"""Conditions behind a complaint: each holds in a tank made so that it does, and not in its opposite."""

from datetime import timedelta

import numpy as np
import pytest
from advice_world import at, brook, morning

from dawnlevel.plan.assess import Assessment, assess
from dawnlevel.plan.look import Look, look, worth
from dawnlevel.tank import PhReading, RateSetting, Record, TimerSetting, WaterChange

HOUR = timedelta(hours=1)


def looked(records: list[Record], *, day: int = 7, hour: int = 20) -> tuple[Assessment, Look]:
    records = sorted(records, key=lambda record: record.at)
    found = assess(brook(), records, at(hour, day=day), np.random.default_rng(1))
    return found, look(found, records)


def chance(seen: Look, name: str) -> float:
    found = seen.chance(name)
    assert found is not None
    return found


def day_of(*ph: tuple[int, float], day: int = 6) -> list[Record]:
    return [PhReading(at=at(hour, day=day), ph=value) for hour, value in ph]


def test_a_late_start_is_told_from_a_weak_needle() -> None:
    base = [record for record in morning() if not isinstance(record, PhReading | TimerSetting)]
    late = [*base, TimerSetting(at=at(20, 11, day=5), windows_h=((12.0, 19.0),))]
    late += day_of((12, 8.0), (13, 7.5), (14, 7.2), (16, 6.9), (19, 6.75))
    _, seen = looked(late, day=6)
    assert seen.lead_h == pytest.approx(1.0, abs=0.01)
    assert seen.close_before_h is None
    assert chance(seen, "low_at_lights_on") > 0.9
    assert chance(seen, "starts_late") > 0.8
    weak = [*base, TimerSetting(at=at(20, 11, day=5), windows_h=((6.0, 19.0),))]
    weak += day_of((8, 7.7), (10, 7.6), (12, 7.58), (13, 7.58), (16, 7.58), (19, 7.58))
    _, seen = looked(weak, day=6)
    assert chance(seen, "too_little_gas") > 0.8
    assert chance(seen, "starts_late") < 0.2


def test_no_gas_before_the_lights_and_an_early_close_are_read_off_the_timer() -> None:
    base = [record for record in morning() if not isinstance(record, PhReading | TimerSetting)]
    after = [
        *base,
        TimerSetting(at=at(20, 11, day=5), windows_h=((14.0, 17.0),)),
        *day_of((13, 8.0), (15, 7.4)),
    ]
    _, seen = looked(after, day=6, hour=22)
    assert seen.chance("gas_missed") == 1.0
    assert seen.close_before_h == pytest.approx(4.0, abs=0.01)
    assert seen.chance("closes_early") == 1.0


def test_days_that_differ_are_unsteady_and_days_alike_are_not() -> None:
    base = [record for record in morning() if not isinstance(record, PhReading)]
    steady = base + [r for d in (6, 7, 8) for r in day_of((11, 7.25), (13, 7.0), (17, 6.95), day=d)]
    _, seen = looked(steady, day=8)
    assert len(seen.ons) == 3
    assert chance(seen, "unsteady") < 0.2
    moved = base + [
        reading
        for d, shift, rate in ((6, 0.0, 1.8), (7, 0.5, 0.7), (8, -0.1, 2.2))
        for reading in (
            RateSetting(at=at(8, day=d), bubbles_per_second=rate),
            *day_of((11, 7.25 + shift), (13, 7.0 + shift), (17, 6.95 + shift), day=d),
        )
    ]
    _, seen = looked(moved, day=8)
    assert chance(seen, "unsteady") > 0.8


def test_before_the_first_lights_on_the_forecast_stands_in() -> None:
    found, seen = looked(morning(), day=6, hour=12)
    assert seen.ons == (at(13),)
    assert seen.lead_h is None
    assert seen.chance("gas_missed") is None
    assert seen.chance("unsteady") is None
    assert found.at_lights_on is not None
    assert np.median(seen.levels) == pytest.approx(found.at_lights_on.co2_mg_l.median, rel=1e-6)


def test_what_is_worth_measuring_follows_what_is_in_doubt() -> None:
    found, seen = looked([*morning(), WaterChange(at=at(9), fraction=0.2)], day=6, hour=12)
    about_meter = worth(found, [seen.margins["meter_off"]], just_read=False)
    by_kind = {one.kind: one.removes for one in about_meter}
    assert all(0.0 <= share <= 1.0 for share in by_kind.values())
    assert by_kind["buffers"] == max(by_kind.values())
    assert "tank_ph" not in {one.kind for one in worth(found, [seen.margins["meter_off"]], just_read=True)}
    certain = np.ones(found.posterior.size)
    assert worth(found, [certain], just_read=False) == []
