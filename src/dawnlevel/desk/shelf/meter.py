"""Use case: meters and kits - what checks found, when they are due, which of them limits the CO2 figure."""

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from dawnlevel.chemistry import co2_from_ph
from dawnlevel.desk.casebook import SEED, Case, open_case
from dawnlevel.desk.cited import cited
from dawnlevel.desk.shelf.meter_views import (
    BufferCheckView,
    ErrorView,
    ImprovementView,
    InstrumentView,
    KitPlanView,
    MeterView,
)
from dawnlevel.errors import DawnlevelError, NotEnoughRecordsError
from dawnlevel.estimate.culprits import measurements
from dawnlevel.estimate.instruments import limits
from dawnlevel.store import Store
from dawnlevel.supply.kh_kit import end_point_bias_dkh, kit_plans
from dawnlevel.supply.ph_meter import Judgement, Verdict, calibration_due, drift_ph_per_week, judge
from dawnlevel.supply.thermometer import THERMOMETER_C, one_degree
from dawnlevel.tank import BufferCheck, KhTitration, Record, SolutionPrepared, Tank, TargetKind
from dawnlevel.units import dkh_to_meq_l

SOLUTION_DAYS = 182
"""Days after which the cell's solution is due to be made afresh; common practice, no source."""

KH_DAYS = 28
"""Days after which KH is due to be counted again: water changes, filter and hardscape move it; common
practice, no source."""

USUAL_KH_DKH = 4.0
_PH = 6.8
_METER_SD_PH, _STRIP_SD_PH = 0.09, 0.25
"""Sd of a pen meter's offset [pH], as the estimate takes it, and of liquid kits and strips."""

_USUAL_DROP = 1.1
_MOST_CHECKS = 5

_SOURCES = (
    "nist_buffers", "jis_z_8802", "makers_acceptance", "meter_drift", "ph_pen_error", "ph_liquid_error",
    "kh_kit_error", "thermometers", "plummer_busenberg_1982", "solution_age",
)  # fmt: skip

_WORDS = {
    Verdict.GOOD: "good",
    Verdict.WORN: "worn but usable: clean and soak the probe, or replace it soon",
    Verdict.UNFIT: "unfit: clean and soak the probe, check it in fresh buffers, else replace it",
}


def meter_view(store: Store, name: str, now: datetime, seed: int = SEED) -> MeterView:
    """Meters and kits of tank `name` at `now` (aware). Raises NoSuchTankError."""
    now = now.astimezone(UTC)
    tank = store.tank(name)
    records = [stored.record for stored in store.records(name, until=now)]
    try:
        case = open_case(store, name, now, seed)
    except NotEnoughRecordsError:
        case = None
    kh = _kh(records)
    checks = [one for one in records if isinstance(one, BufferCheck)]
    improvements = () if case is None else _improvements(case)
    return MeterView(
        tank=name,
        timezone=tank.timezone,
        at=now.astimezone(ZoneInfo(tank.timezone)).replace(microsecond=0),
        checks=tuple(_check(tank, one, kh) for one in reversed(checks[-_MOST_CHECKS:])),
        due=_day(tank, calibration_due(checks[-1].at)) if checks else None,
        drift_ph_per_week=_drift(checks),
        solution_due=solution_due(tank, records),
        kh_dkh=kh,
        kit=tuple(
            KitPlanView(p.multiple, p.step_dkh, p.drops, p.counting_percent, p.with_bias_percent)
            for p in kit_plans(kh, tank.kh_step_dkh)
        ),
        end_point_bias_dkh=end_point_bias_dkh(kh),
        factor_now=None if case is None else _factor(case, 0.0),
        limits=() if case is None else _limits(case),
        improvements=improvements,
        errors=_errors(tank, kh),
        advice=_advice(improvements),
        sources=cited(_SOURCES),
    )


def _kh(records: Sequence[Record]) -> float:
    """KH at the latest count [dKH]; 4 where none, or nothing, was counted."""
    counts = [one.kh_dkh for one in records if isinstance(one, KhTitration)]
    return min(max(counts[-1], 0.5), 40.0) if counts and counts[-1] > 0.0 else USUAL_KH_DKH


def _day(tank: Tank, moment: datetime) -> date:
    return moment.astimezone(ZoneInfo(tank.timezone)).date()


def solution_due(tank: Tank, records: Sequence[Record]) -> date | None:
    """When the cell's solution is due to be made afresh; None where none is recorded."""
    made = [one.at for one in records if isinstance(one, SolutionPrepared)]
    return _day(tank, made[-1] + timedelta(days=SOLUTION_DAYS)) if made else None


def kh_due(tank: Tank, records: Sequence[Record]) -> date | None:
    """When KH is due to be counted again; None where it was never counted."""
    counted = [one.at for one in records if isinstance(one, KhTitration)]
    return _day(tank, counted[-1] + timedelta(days=KH_DAYS)) if counted else None


def _drop(tank: Tank) -> float:
    """The drop the tank is steered by [pH]; a usual one where it is steered by CO2."""
    if tank.target.kind is TargetKind.DROP:
        return 0.5 * (tank.target.low + tank.target.high)
    return _USUAL_DROP


def _check(tank: Tank, check: BufferCheck, kh_dkh: float) -> BufferCheckView:
    at = check.at.astimezone(ZoneInfo(tank.timezone)).replace(microsecond=0)
    try:
        found = judge(check)
    except DawnlevelError as error:
        return BufferCheckView(at, None, None, Verdict.UNFIT.value, check.adjusted, None, None, str(error))
    by_ph, by_drop = _percent_by_ph(found, kh_dkh), 100.0 * (found.drop_factor(_drop(tank)) - 1.0)
    return BufferCheckView(
        at=at,
        slope_percent=found.slope_percent,
        offset_mv=found.offset_mv,
        verdict=found.verdict.value,
        adjusted=check.adjusted,
        co2_by_drop_percent=by_drop,
        co2_by_ph_percent=by_ph,
        text=(
            f"Slope {found.slope_percent:.0f} %, offset {found.offset_mv:+.0f} mV: {_WORDS[found.verdict]}. "
            f"Until it was adjusted, CO2 by the drop was {_off(by_drop)}, by pH and KH {_off(by_ph)}."
        ),
    )


def _percent_by_ph(found: Judgement, kh_dkh: float) -> float:
    """How far CO2 told by pH and KH is off where the meter shows 6.8 [%]."""
    alkalinity = dkh_to_meq_l(kh_dkh)
    told = float(co2_from_ph(_PH, alkalinity, 25.0))
    true = float(co2_from_ph(_PH - found.reading_error_ph(_PH), alkalinity, 25.0))
    return 100.0 * (told / true - 1.0)


def _off(percent: float) -> str:
    if abs(percent) < 1.0:
        return "told right"
    return f"told {abs(percent):.0f} % too {'high' if percent > 0 else 'low'}"


def _drift(checks: Sequence[BufferCheck]) -> float | None:
    """Drift between the last adjustment and the check after it [pH a week]."""
    for place in range(len(checks) - 1, 0, -1):
        if checks[place - 1].adjusted:
            try:
                return drift_ph_per_week(checks[place - 1], checks[place])
            except DawnlevelError:
                return None
    return None


def _factor(case: Case, removed: float) -> float:
    """The level's 90 % factor either way once a share of the doubt is removed [-]."""
    logs = np.log(case.found.posterior.levels[-1])
    return float(np.exp(1.645 * logs.std() * np.sqrt(1.0 - removed)))


def _limits(case: Case) -> tuple[InstrumentView, ...]:
    return tuple(
        InstrumentView(one.kind, one.label, one.share, _factor(case, one.share))
        for one in limits(case.found.posterior)
    )


def _improvements(case: Case) -> tuple[ImprovementView, ...]:
    return tuple(
        ImprovementView(one.kind, one.label, one.removes, _factor(case, one.removes))
        for one in measurements(case.found.posterior)
    )


def _advice(improvements: tuple[ImprovementView, ...]) -> str:
    """What to do first."""
    if not improvements:
        return "The records tell no level yet: the errors below are what instruments cost in any tank."
    first = improvements[0]
    return (
        f"What would narrow CO2 most: {first.label}. It removes about {100 * first.removes:.0f} % of the "
        f"doubt: the level is then known within a factor of {first.factor_after:.2f} (nine in ten)."
    )


def _errors(tank: Tank, kh_dkh: float) -> tuple[ErrorView, ...]:
    """What usual errors do to CO2, one standard deviation."""
    usual, *_, largest = kit_plans(kh_dkh, tank.kh_step_dkh)
    degree = one_degree(min(max(tank.temp_c, 1.0), 30.0), kh_dkh)
    strip = THERMOMETER_C[0][1]

    def ph(error: float) -> float:
        return float(100.0 * (10.0**error - 1.0))

    return (
        ErrorView("pH meter, calibrated within a month", f"{_METER_SD_PH:g} pH", ph(_METER_SD_PH)),
        ErrorView("liquid pH kit or strips", f"{_STRIP_SD_PH:g} pH", ph(_STRIP_SD_PH)),
        ErrorView("KH kit, usual sample", f"steps of {usual.step_dkh:g} dKH", usual.with_bias_percent),
        ErrorView(
            f"KH kit, {largest.multiple}-fold sample",
            f"steps of {largest.step_dkh:g} dKH",
            largest.with_bias_percent,
        ),
        ErrorView("stick-on thermometer, pH with KH", f"{strip:g} °C", strip * abs(degree.co2_percent)),
        ErrorView("stick-on thermometer, drop", f"{strip:g} °C", strip * abs(degree.air_co2_percent)),
    )
