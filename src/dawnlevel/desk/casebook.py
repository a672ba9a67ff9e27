"""One tank's case: its records loaded and assessed, and the pieces every view shares."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from dawnlevel.desk.advice.probe_now import probe_now
from dawnlevel.desk.views import (
    BandView,
    CurveView,
    NowView,
    PictureView,
    PointView,
    ProbeNowView,
    SpanView,
)
from dawnlevel.estimate.posterior import Interval, Posterior, interval
from dawnlevel.plan.assess import Assessment, assess
from dawnlevel.plan.day import counted_until_h
from dawnlevel.plan.future import Hours
from dawnlevel.plan.goal import Goal, Translation, translate
from dawnlevel.plan.horizon import Horizon
from dawnlevel.store import Store
from dawnlevel.tank import PhReading, Record, Tank, TargetKind
from dawnlevel.tank.clock import light_spans

Array = npt.NDArray[np.float64]

SEED = 20260

_BEHIND = timedelta(hours=12)
_EVERY = timedelta(minutes=15)


@dataclass(frozen=True, slots=True)
class Case:
    """A tank, its standing records up to `now`, the assessment, and what its probe shows."""

    tank: Tank
    records: list[Record]
    now: datetime
    found: Assessment
    probe: ProbeNowView | None

    @property
    def zone(self) -> ZoneInfo:
        """The tank's time zone."""
        return ZoneInfo(self.tank.timezone)

    def local(self, moment: datetime) -> datetime:
        """`moment` in the tank's zone, to the second."""
        return moment.astimezone(self.zone).replace(microsecond=0)


def open_case(store: Store, name: str, now: datetime, seed: int = SEED) -> Case:
    """Load and assess tank `name` at `now` (aware). Raises NoSuchTankError, NotEnoughRecordsError."""
    now = now.astimezone(UTC)  # hours are added to it: in a zone of its own that would be wall-clock time
    tank = store.tank(name)
    records = [stored.record for stored in store.records(name, until=now)]
    found = assess(tank, records, now, np.random.default_rng(seed))
    return Case(tank, records, now, found, probe_now(store, tank, records, now))


def band_view(case: Case) -> BandView:
    """The target, and what it means in the other unit."""
    goal = case.found.goal
    ends = translate(goal, case.found.posterior)
    is_drop = goal.kind is TargetKind.DROP
    has_baseline = case.found.posterior.baseline_ph is not None
    return BandView(
        unit="pH drop" if is_drop else "mg/L",
        low=round(goal.shown(goal.low), 3),
        high=round(goal.shown(goal.high), 3),
        other_unit="mg/L" if is_drop else "pH drop",
        low_in_other=ends.low_end if is_drop or has_baseline else None,
        high_in_other=ends.high_end if is_drop or has_baseline else None,
        rests_on=_rests_on(case, ends),
        ceiling_mg_l=case.tank.co2_limit_mg_l,
    )


def _rests_on(case: Case, ends: Translation) -> str:
    """On what the translation between drop and mg/L rests, in one sentence."""
    spread = ends.low_end.high_90 / max(ends.low_end.low_90, 1e-9)
    rests = "It rests on the KH count, the baseline cup, the meter's offset and the room's air"
    if case.found.goal.kind is TargetKind.DROP and spread > 2.0:
        return rests + "; together they leave a factor of two: `dawnlevel explain` says what narrows it."
    return rests + "."


def now_view(case: Case) -> NowView:
    """Level and drop now."""
    posterior = case.found.posterior
    level = posterior.levels[-1:]
    drop = None
    if posterior.baseline_ph is not None:
        drop = interval(posterior.baseline_ph - posterior.meter_ph(level)[0] - posterior.unknowns.day_ph[-1])
    return NowView(case.local(case.now), interval(level[0]), drop)


def counted_until(case: Case, ahead: Horizon, start_h: float) -> datetime | None:
    """Until when a day whose gas starts at `start_h` counts as unwatched; None: until lights-off."""
    until_h = counted_until_h(case.found.posterior, ahead, start_h)
    return None if until_h >= ahead.lights_off_h else case.local(ahead.moment(until_h))


def shown_interval(goal: Goal, quantity: Interval) -> Interval:
    """An interval of the goal's quantity as the keeper knows it: drop in pH, or mg/L."""
    values = (quantity.median, quantity.low_50, quantity.high_50, quantity.low_90, quantity.high_90)
    return Interval(*(goal.shown(value) for value in values))


def picture_view(
    case: Case, ahead: Horizon, levels_ahead: Array | None, windows_h: Sequence[tuple[float, float]]
) -> PictureView:
    """The day's picture: hours behind, and ahead at `ahead.hours` for levels of shape (S+1, n).

    `windows_h` are the hours ahead in which the gas is open [h from now].
    """
    posterior = case.found.posterior
    timeline = posterior.model.timeline
    begin = max(timeline.origin, case.now - _BEHIND)
    count = int((case.now - begin) / _EVERY) + 1
    behind = [case.now - _EVERY * back for back in range(count - 1, -1, -1)]
    moments, drawn = list(behind), posterior.levels_at(behind)
    gas = _past_gas(case, begin)
    for opens_h, closes_h in windows_h:
        opens, closes = case.local(ahead.moment(opens_h)), case.local(ahead.moment(closes_h))
        if gas and gas[-1].closes >= opens:
            gas[-1] = SpanView(gas[-1].opens, closes)
        else:
            gas.append(SpanView(opens, closes))
    if levels_ahead is not None:
        moments += [ahead.moment(float(hour)) for hour in ahead.hours.edges_h[1:]]
        drawn = np.concatenate((drawn, levels_ahead[1:]))
    low, high = _band_mg_l(case)
    end = moments[-1]
    lights = light_spans(case.tank.photoperiod, case.zone, begin, end)
    return PictureView(
        now=case.local(case.now),
        curve=_curve(case, moments, drawn),
        readings=_points(case, posterior, begin),
        gas=tuple(gas),
        light=tuple(SpanView(case.local(max(on, begin)), case.local(min(off, end))) for on, off in lights),
        band_low_mg_l=low,
        band_high_mg_l=high,
        ceiling_mg_l=case.tank.co2_limit_mg_l,
    )


def _curve(case: Case, moments: list[datetime], drawn: Array) -> CurveView:
    """Quantiles of `drawn` (m, n) at `moments`."""
    low_90, low_50, median, high_50, high_90 = np.quantile(drawn, (0.05, 0.25, 0.5, 0.75, 0.95), axis=1)
    as_tuple = [tuple(np.round(row, 3).tolist()) for row in (median, low_50, high_50, low_90, high_90)]
    return CurveView(tuple(case.local(moment) for moment in moments), *as_tuple)


def _band_mg_l(case: Case) -> tuple[float, float]:
    """The band's ends in mg/L (medians, where the target is a drop)."""
    goal = case.found.goal
    if goal.kind is TargetKind.CO2:
        return 10.0**goal.low, 10.0**goal.high
    ends = translate(goal, case.found.posterior)
    return ends.low_end.median, ends.high_end.median


def _points(case: Case, posterior: Posterior, begin: datetime) -> tuple[PointView, ...]:
    """The pH readings since `begin` as CO2, by the posterior's alkalinity and meter."""
    found = []
    for record in case.records:
        if not isinstance(record, PhReading) or record.at < begin:
            continue
        co2 = interval(posterior.co2_of_reading(record.ph, record.at))
        found.append(PointView(case.local(record.at), record.ph, co2.median, co2.low_90, co2.high_90))
    return tuple(found)


def _past_gas(case: Case, begin: datetime) -> list[SpanView]:
    """Open gas between `begin` and now."""
    timeline = case.found.posterior.model.timeline
    spans: list[SpanView] = []
    for step, rate in enumerate(timeline.rate_bps):
        opens, closes = timeline.moment(timeline.edges_h[step]), timeline.moment(timeline.edges_h[step + 1])
        if rate <= 0 or closes <= begin:
            continue
        if spans and spans[-1].closes >= case.local(opens):
            spans[-1] = SpanView(spans[-1].opens, case.local(closes))
        else:
            spans.append(SpanView(case.local(max(opens, begin)), case.local(closes)))
    return spans


def level_at(hours: Hours, levels: Array, hour_h: float) -> Interval:
    """Level at the grid's edge nearest `hour_h` [mg/L] for levels of shape (S+1, n)."""
    return interval(levels[int(np.argmin(np.abs(hours.edges_h - hour_h)))])
