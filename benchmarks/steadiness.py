"""Keepers without a probe: how often a steady tank is accused, and how soon a change is told.

    python -m benchmarks.steadiness --tanks 20 --each 10 --workers 2

Practice tanks are lived for a year: surface, plants and needle wander, plants grow, water is changed weekly.
The keeper reads pH at about lights-on every day or every week, takes a baseline cup once a month, counts KH
every second week, calibrates the meter once a month, and counts bubbles weekly (a needle a tenth off is set
back).
"""

import argparse
import json
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from benchmarks._watch_worlds import World, draw_world
from dawnlevel.desk.steadiness.steadiness import steadiness_of
from dawnlevel.practice.dynamics import temp_c
from dawnlevel.tank import (
    BaselineCup,
    BaselineMethod,
    KhTitration,
    Photoperiod,
    PhReading,
    RateSetting,
    Record,
    Tank,
    TimerSetting,
)

BEGIN = datetime(2025, 1, 1, tzinfo=UTC)
YEAR_D = 365
CHANGED_D = 180
KINDS = (
    "injection_weaker", "injection_stronger", "exchange_faster", "exchange_slower", "baseline_shift",
    "probe_step",
)  # fmt: skip
ALIKE = (
    {"injection_weaker", "exchange_faster", "start_late", "start_missed"},
    {"injection_stronger", "exchange_slower", "start_early"},
    {"baseline_shift", "probe_step"},
)
"""Kinds that readings at lights-on and a cup cannot tell apart."""

_CALIBRATED_D = 30.0
_CUP_EVERY_D, _KH_EVERY_D = 30, 14
_CUP_MG_L = 0.7  # CO2 in an aerated cup, near the air's (Henry's law at 430 to 600 ppm)


@dataclass(frozen=True, slots=True)
class Outcome:
    """One keeper's record judged: alarms told, those without a change of the tank, and the change itself."""

    kind: str
    seed: int
    every_d: int
    alarms: int
    false_alarms: int
    waited_d: float | None
    dated_d: float | None
    is_held: bool
    first: str | None
    is_right: bool
    is_alike: bool


def records_of(world: World, every_d: int, days: int) -> tuple[Tank, list[Record]]:
    """What the keeper writes down."""
    card, made = world.card, world.tank.instruments
    rng = np.random.default_rng([int(world.course.rng.integers(2**31)), every_d])
    on_h, off_h = float(str(card["lights_on_h"])), float(str(card["lights_off_h"]))
    tank = Tank(
        name="Sparse",
        volume_l=float(str(card["volume_l"])),
        depth_cm=float(str(card["depth_cm"])),
        surface_cm2=float(str(card["surface_cm2"])),
        photoperiod=Photoperiod(lights_on_h=on_h, lights_off_h=off_h),
        temp_c=float(str(card["temp_c"])),
        ph_step=0.01,
        kh_step_dkh=float(str(card["kh_step_dkh"])),
    )

    def meter(true_ph: float, hour: float) -> float:
        shown = 7.0 + made.slope * (true_ph - 7.0) + made.offset_ph
        shown += made.drift_ph_per_day * ((hour / 24.0) % _CALIBRATED_D)
        if world.label.kind == "probe_step" and hour >= world.label.at_h:
            shown += world.label.size
        return round(float(shown + made.noise_ph * rng.standard_normal()), 2)

    def at(hour: float) -> datetime:
        return BEGIN + timedelta(hours=hour)

    records: list[Record] = [
        RateSetting(at=at(0.1), bubbles_per_second=float(str(card["rate_bps"]))),
        TimerSetting(at=at(0.2), windows_h=((float(str(card["gas_on_h"])), float(str(card["gas_off_h"]))),)),
    ]
    for day in range(1, days, every_d):
        hour = 24.0 * day + on_h + float(rng.uniform(-0.25, 0.25))
        records.append(PhReading(at=at(hour), ph=meter(float(np.interp(hour, world.hours, world.ph)), hour)))
    for day in range(2, days, _CUP_EVERY_D):
        hour = 24.0 * day + 20.0
        water = world.water_at(hour)
        level = _CUP_MG_L * float(np.exp(0.15 * rng.standard_normal()))
        ph = meter(water.ph(level, temp_c(world.tank, hour) - 2.0), hour)
        records.append(BaselineCup(at=at(hour), ph=ph, method=BaselineMethod.AERATED, hours=1.0))
    step = float(str(card["kh_step_dkh"]))
    for day in range(3, days, _KH_EVERY_D):
        hour = 24.0 * day + 20.5
        count = step * np.ceil(world.kh_at(hour) * float(np.exp(0.02 * rng.standard_normal())) / step)
        records.append(KhTitration(at=at(hour), kh_dkh=float(count)))
    return tank, sorted(records, key=lambda one: one.at)


def outcome(job: tuple[str, int, int]) -> Outcome:
    """Live one year and judge it."""
    kind, seed, every_d = job
    days = YEAR_D if kind == "none" else CHANGED_D
    world = draw_world(kind, seed, days)
    tank, records = records_of(world, every_d, days)
    view = steadiness_of(tank, records, BEGIN + timedelta(days=days))
    told = [one for one in view.changes if one.is_lasting or one.since == one.told_at]
    began = BEGIN + timedelta(hours=world.label.at_h) if kind != "none" else None
    before = [one for one in told if began is None or one.told_at < began]
    false = sum(not _has_moved(world, one.since, one.told_at) for one in before)
    after = [one for one in told if began is not None and one.told_at >= began]
    if began is None or not after:
        return Outcome(kind, seed, every_d, len(before), false, None, None, False, None, False, False)
    first = min(after, key=lambda one: one.told_at)
    name = first.kinds[0].kind if first.kinds else None
    return Outcome(
        kind, seed, every_d, len(before), false,
        (first.told_at - began) / timedelta(days=1),
        (first.since - began) / timedelta(days=1),
        first.since_earliest <= began <= first.since_latest,
        name, name == kind, name is not None and any({name, kind} <= alike for alike in ALIKE),
    )  # fmt: skip


def _has_moved(world: World, since: datetime, told: datetime) -> bool:
    """Whether true CO2 at lights-on since then differs by a tenth from before: then it is no false alarm."""
    on_h = float(str(world.card["lights_on_h"]))
    day, last = (int((at - BEGIN) / timedelta(days=1)) for at in (since, told))

    def mean(first: int, end: int) -> float:
        hours = 24.0 * np.arange(max(first, 1), max(end, 2)) + on_h
        return float(np.mean(np.interp(hours, world.hours, world.ph)))

    return abs(mean(day, last + 8) - mean(day - 56, day)) > 0.046  # log10 of 10 % less


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tanks", type=int, default=20, help="tank-years without a change")
    parser.add_argument("--each", type=int, default=10, help="tanks of each kind of change")
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--json", type=Path)
    chosen = parser.parse_args()
    jobs = [("none", chosen.first + i, every) for every in (1, 7) for i in range(chosen.tanks)]
    jobs += [
        (kind, chosen.first + i, every) for every in (1, 7) for kind in KINDS for i in range(chosen.each)
    ]
    with ProcessPoolExecutor(chosen.workers) as crew:
        outcomes = list(crew.map(outcome, jobs))
    for every in (1, 7):
        _say([one for one in outcomes if one.every_d == every], every)
    if chosen.json:
        chosen.json.write_text(json.dumps([asdict(one) for one in outcomes], indent=1), encoding="utf-8")


def _say(outcomes: list[Outcome], every_d: int) -> None:
    """The figures of one kind of keeper."""
    clean = [one for one in outcomes if one.kind == "none"]
    print(f"a reading every {every_d} d")
    if clean:
        years = len(clean) * YEAR_D / 365.25
        alarms, false = sum(one.alarms for one in clean), sum(one.false_alarms for one in clean)
        print(f"  {years:.0f} tank-years without a change: {alarms} alarms, {false} of them false:", end=" ")
        print(f"{false / years:.2f} a tank-year")
    for kind in KINDS:
        those = [one for one in outcomes if one.kind == kind]
        told = [one for one in those if one.waited_d is not None]
        waits = sorted(one.waited_d for one in told if one.waited_d is not None)
        if those:
            middle = f"{waits[len(waits) // 2]:.0f} d" if waits else "-"
            print(
                f"  {kind}: told {len(told)} of {len(those)}, median wait {middle}, since within interval "
                f"{sum(one.is_held for one in told)}, right kind first {sum(one.is_right for one in told)}, "
                f"right or alike {sum(one.is_alike for one in told)}"
            )


if __name__ == "__main__":
    main()
