"""Use case: the hand-over - the plan as it is set, what to look at, what to do when, and on what it rests."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, timedelta

from dawnlevel.desk.advice.explain import explain_of
from dawnlevel.desk.advice.routine import WEEKLY_CHECKS, standing_rate, standing_timer
from dawnlevel.desk.casebook import Case, band_view, open_case, picture_view, shown_interval
from dawnlevel.desk.cited import cited
from dawnlevel.desk.handover.handover_evidence import evidence_of
from dawnlevel.desk.handover.handover_views import (
    CellHourView,
    ClockSpanView,
    DateView,
    EvidenceView,
    FactView,
    HandoverPack,
    HandoverView,
    LeftOutView,
    Units,
)
from dawnlevel.desk.handover.handover_words import (
    ASSUMPTIONS,
    FISH_SOURCES,
    LEAVE_ALONE,
    cautions,
    in_units,
    moment_text,
    wall_text,
    when,
)
from dawnlevel.desk.handover.owners import tanks_of
from dawnlevel.desk.phrases import band_text
from dawnlevel.desk.shelf.due_dates import due_dates
from dawnlevel.desk.views import BandView, DayView, ForecastView, SourceView
from dawnlevel.desk.wording import percent, rate_text
from dawnlevel.errors import BadInputError, NotEnoughRecordsError
from dawnlevel.plan.assess import plan_next_day
from dawnlevel.plan.cell import Array, colour_chances, likeliest
from dawnlevel.plan.day import DayPlan, evaluate, levels_ahead
from dawnlevel.plan.goal import CEILING_RISK
from dawnlevel.plan.horizon import Horizon
from dawnlevel.plan.schedule import Schedule
from dawnlevel.plan.steer import lights_on_forecast
from dawnlevel.store import Store
from dawnlevel.supply.handling import HANDLING
from dawnlevel.tank import FishState, Tank, TimerSetting
from dawnlevel.tank.clock import local_day, wall_clock
from dawnlevel.units import cm_to_inch, l_to_us_gallon

COUNT_S = 20
"""How long bubbles are counted: long enough for a whole number to tell the rate [s] (common practice)."""

_CELL_HOURS_H = (0.0, 2.0, 4.0, 6.0)
"""Hours after lights-on at which the cell is told; own choice."""

_SOURCES = (*FISH_SOURCES, *(rule.source for rule in HANDLING))

_CLEARLY = 0.05
"""How much larger a chance of hitting and holding must be to speak of another plan; own choice."""

_EVEN = 0.5
"""A chance below this asks for more tuning; own choice."""


@dataclass(frozen=True, slots=True)
class _Ahead:
    """The next gas day as it is set, and what the advice would set."""

    horizon: Horizon
    standing: Schedule
    levels_mg_l: Array
    best: DayPlan


def handover_view(store: Store, name: str, units: Units = Units.METRIC) -> HandoverView:
    """The hand-over of tank `name`, as of its latest record.

    Raises NoSuchTankError; NotEnoughRecordsError where no timer or needle is set or nothing can be told
    yet; BadInputError while the fish are in distress.
    """
    records = store.records(name)
    now = records[-1].record.at if records else store.tank_described_at(name)
    case = open_case(store, name, now)
    if case.found.fish is FishState.DISTRESS:
        raise BadInputError(
            "The fish are in distress: nothing is handed over until they are calm.",
            where=f"tank {name}",
            cure="Gas off, aerate, ask a veterinarian; when they are calm record it: dawnlevel fish calm",
        )
    timer, rate = standing_timer(case.records), standing_rate(case.records)
    if timer is None or not timer.windows_h or rate is None:
        raise NotEnoughRecordsError(
            "No gas timer and needle are set that could be handed over.",
            where=f"tank {name}",
            cure="Accept a plan first: dawnlevel plan --accept",
        )
    seen = evidence_of(store, case, units)
    return _view(case, timer, rate, _next_day(case, timer, rate), units, *seen)


def handover_pack(store: Store, name: str, units: Units = Units.METRIC) -> HandoverPack:
    """The hand-over of tank `name` alone. Raises what `handover_view` raises."""
    return HandoverPack(store.tank(name).owner, (handover_view(store, name, units),))


def owner_handover(
    store: Store, owner: str, units: Units = Units.METRIC, begun: Callable[[str], None] = lambda _: None
) -> HandoverPack:
    """The hand-over of all tanks of `owner`, and of no other's; `begun` is told each tank's name in turn.

    Tanks that cannot be handed over are left out and named. NoSuchOwnerError; NotEnoughRecordsError where
    none can be handed over.
    """
    ready: list[HandoverView] = []
    left_out: list[LeftOutView] = []
    tanks = tanks_of(store, owner)
    for tank in tanks:
        begun(tank.name)
        try:
            ready.append(handover_view(store, tank.name, units))
        except (NotEnoughRecordsError, BadInputError) as error:
            left_out.append(LeftOutView(tank.name, f"{error.what} {error.cure}"))
    if not ready:
        raise NotEnoughRecordsError(
            f"None of the tanks of {tanks[0].owner} can be handed over yet.",
            where=f"owner {tanks[0].owner}",
            cure=" ".join(f"{one.tank}: {one.why}" for one in left_out),
        )
    return HandoverPack(tanks[0].owner, tuple(ready), tuple(left_out))


def _next_day(case: Case, timer: TimerSetting, rate_bps: float) -> _Ahead:
    found = case.found
    ahead, best = plan_next_day(found, case.tank, case.records, case.now)
    windows = tuple(sorted(_window_h(case, ahead, window) for window in timer.windows_h))
    standing = Schedule(windows, rate_bps, is_new=False)
    levels = levels_ahead(found.posterior, found.luck, ahead, [standing])[:, 0, :]
    return _Ahead(ahead, standing, levels, best)


def _window_h(case: Case, ahead: Horizon, window_h: tuple[float, float]) -> tuple[float, float]:
    """A daily window (wall-clock hours) on the day of `ahead` [h from now]."""
    opens_h, closes_h = window_h
    lights_on = ahead.moment(ahead.lights_on_h)
    day = local_day(lights_on, case.zone)
    lead = (case.tank.photoperiod.lights_on_h - opens_h - 12.0) % -24.0 + 12.0
    opens_on = case.tank.photoperiod.lights_on_h - lead
    opens = wall_clock(day, opens_on, case.zone)
    closes = wall_clock(day, opens_on + (closes_h - opens_h) % 24.0, case.zone)
    return max((opens - ahead.now) / timedelta(hours=1), 0.0), (closes - ahead.now) / timedelta(hours=1)


def _view(
    case: Case,
    timer: TimerSetting,
    rate_bps: float,
    ahead: _Ahead,
    units: Units,
    evidence: EvidenceView,
    more: tuple[SourceView, ...],
) -> HandoverView:
    tank, found, why = case.tank, case.found, explain_of(case)
    chances = evaluate(found.posterior, found.goal, found.luck, ahead.horizon, [ahead.standing])
    breach = _breach(ahead, tank.co2_limit_mg_l)
    flows = ahead.horizon.flows_until_h
    band, cell = band_view(case), _cell(case, ahead, units)
    light = tank.photoperiod
    return HandoverView(
        tank=tank.name,
        timezone=tank.timezone,
        as_of=case.local(case.now),
        units=units,
        gas=tuple(_span(window, units) for window in timer.windows_h),
        lights=_span((light.lights_on_h, light.lights_off_h), units),
        rate_bps=rate_bps,
        count=round(rate_bps * COUNT_S),
        count_s=COUNT_S,
        band=band,
        target=band_text(band),
        target_ph=_target_ph(found.posterior.baseline_ph, band),
        lights_on=case.local(ahead.horizon.moment(ahead.horizon.lights_on_h)),
        forecast=_forecast(case, ahead),
        cell=cell,
        leave_alone=LEAVE_ALONE,
        when=when(cell),
        weekly=WEEKLY_CHECKS,
        dates=_dates(case, units),
        cautions=cautions(units),
        facts=_facts(tank, units),
        chance_hit=float(chances.hit[0]),
        chance_held=float(chances.held[0]),
        chance_breach=breach,
        over_ceiling=_over_ceiling(breach),
        other_plan=_other_plan(case, ahead, float(chances.held[0]), units),
        days=_days(case),
        settled=found.settled,
        picture=picture_view(
            case,
            ahead.horizon,
            ahead.levels_mg_l,
            (*(((0.0, flows),) if flows > 0 else ()), *ahead.standing.windows_h),
        ),
        routes=why.routes,
        verdict=why.verdict,
        evidence=evidence,
        assumptions=(*ASSUMPTIONS, _rests_on(band)),
        sources=tuple(dict.fromkeys((*why.sources, *cited(_SOURCES), *more))),
    )


def _breach(ahead: _Ahead, ceiling_mg_l: float) -> float:
    """Chance that the level passes the ceiling [mg/L] on the gas day as set, from the gas's opening on.

    A plan counts only the hours before somebody reads and corrects; whoever is handed a plan does neither.
    """
    begins_h = min(ahead.horizon.lights_on_h, *(opens for opens, _ in ahead.standing.windows_h))
    day = ahead.levels_mg_l[ahead.horizon.hours.edges_h >= begins_h - 1e-6]
    return float((day.max(axis=0) > ceiling_mg_l).mean())


def _over_ceiling(breach: float) -> str:
    if breach <= CEILING_RISK:
        return ""
    return (
        f"As it is set, CO2 passes the ceiling in {percent(breach)} of possible tanks. Read pH through a gas "
        "day and settle the tank before anybody is asked to leave it alone."
    )


def _target_ph(baseline_ph: float | None, band: BandView) -> tuple[float, float] | None:
    """The band on the keeper's meter: the recorded baseline less the drop."""
    if baseline_ph is None:
        return None
    if band.unit == "pH drop":
        return baseline_ph - band.high, baseline_ph - band.low
    if band.low_in_other is None or band.high_in_other is None:
        return None
    return baseline_ph - band.high_in_other.median, baseline_ph - band.low_in_other.median


def _rests_on(band: BandView) -> str:
    rests = re.sub(r": `dawnlevel explain`[^.]*", "", band.rests_on)  # an owner may have no computer
    return rests.replace("It rests", f"What the target means in {band.other_unit} rests", 1)


def _span(window_h: tuple[float, float], units: Units) -> ClockSpanView:
    return ClockSpanView(wall_text(window_h[0], units), wall_text(window_h[1], units))


def _forecast(case: Case, ahead: _Ahead) -> ForecastView:
    found = case.found
    told = lights_on_forecast(found.posterior, found.goal, found.luck, ahead.horizon, ahead.standing)
    if told is None:
        raise AssertionError  # the next gas day lies ahead by construction
    return ForecastView(
        at=case.local(ahead.horizon.moment(ahead.horizon.lights_on_h)),
        co2_mg_l=told.co2_mg_l,
        ph=told.ph,
        quantity=shown_interval(found.goal, told.quantity),
        chance_in_band=told.in_band,
    )


def _cell(case: Case, ahead: _Ahead, units: Units) -> tuple[CellHourView, ...]:
    light, on_h = case.tank.photoperiod, ahead.horizon.lights_on_h
    after = [hour for hour in _CELL_HOURS_H if hour <= light.hours]
    chances = colour_chances(
        case.found.posterior, ahead.horizon.hours, ahead.levels_mg_l, [on_h + hour for hour in after]
    )
    told = []
    for place, hour in enumerate(after):
        first, *second = likeliest(chances, place)
        shown = wall_text(light.lights_on_h + hour, units)
        told.append(
            CellHourView(
                shown, first.value, float(chances[first][place]), "".join(one.value for one in second)
            )
        )
    return tuple(told)


def _dates(case: Case, units: Units) -> tuple[DateView, ...]:
    found: Sequence[DateView] = [
        DateView(one.day, one.title[:1].upper() + one.title[1:], in_units(one.text, units))
        for one in due_dates(case.tank, case.records, case.now.astimezone(UTC))
    ]
    return tuple(found)


def _facts(tank: Tank, units: Units) -> tuple[FactView, ...]:
    us = units is Units.US
    volume = f"{l_to_us_gallon(tank.volume_l):.3g} US gal" if us else f"{tank.volume_l:.3g} L"
    depth = f"{cm_to_inch(tank.depth_cm):.3g} in" if us else f"{tank.depth_cm:.3g} cm"
    return (
        FactView("Water", f"{volume}, {depth} deep"),
        FactView("Temperature", in_units(f"{tank.temp_c:.4g} °C", units)),
        FactView("Plants, surface, diffuser", f"{tank.planting}, {tank.surface}, {tank.diffuser}"),
        FactView("Ceiling for the livestock", f"{tank.co2_limit_mg_l:g} mg/L CO2 (mg/L is also called ppm)"),
    )


def _other_plan(case: Case, ahead: _Ahead, held: float, units: Units) -> str:
    """What the advice would set instead, where that is clearly better; or that no plan is good yet."""
    best, schedule = ahead.best, ahead.best.schedule
    if best.held <= held + _CLEARLY:
        return (
            ""
            if held >= _EVEN
            else (
                "For whoever tunes this tank: as it is set, the band is hit and held with a chance of "
                f"{percent(held)} only. Tune it further before it is handed over."
            )
        )
    windows = ", ".join(
        f"{_clock(case, ahead, opens, units)}-{_clock(case, ahead, closes, units)}"
        for opens, closes in schedule.windows_h
    )
    return (
        f"For whoever tunes this tank: the advice would set {windows} at {rate_text(schedule.rate_bps)}, "
        f"with a chance of {percent(best.held)} to hit and hold the band instead of {percent(held)}. Accept "
        "that plan before this one is handed over."
    )


def _clock(case: Case, ahead: _Ahead, hour_h: float, units: Units) -> str:
    return moment_text(case.local(ahead.horizon.moment(hour_h)), units)


def _days(case: Case) -> tuple[DayView, ...]:
    return tuple(
        DayView(
            day.day, day.co2_mg_l, shown_interval(case.found.goal, day.quantity), day.dialled_in, day.readings
        )
        for day in case.found.days
    )
