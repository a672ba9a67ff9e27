"""Use case: the next gas day - when to open the gas, at what rate, when to close it, and why."""

from datetime import datetime

import numpy as np

from dawnlevel.desk.casebook import (
    SEED,
    Case,
    band_view,
    counted_until,
    level_at,
    open_case,
    picture_view,
    shown_interval,
)
from dawnlevel.desk.views import ForecastView, PlanView, SpanView
from dawnlevel.desk.wording import band_text, clock_text, drop_or_level, over_text, percent, rate_text
from dawnlevel.errors import BadInputError
from dawnlevel.plan.assess import plan_next_day
from dawnlevel.plan.day import DayPlan, levels_ahead
from dawnlevel.plan.goal import CEILING_RISK
from dawnlevel.plan.horizon import Horizon
from dawnlevel.plan.reach import out_of_reach
from dawnlevel.plan.readings import ramp_times_h
from dawnlevel.plan.steer import LightsOn, lights_on_forecast
from dawnlevel.store import Store
from dawnlevel.tank import FishState


def plan_view(store: Store, name: str, now: datetime, seed: int = SEED) -> PlanView:
    """The plan for the next gas day of tank `name` at `now` (aware).

    Raises NoSuchTankError, NotEnoughRecordsError, and BadInputError while the fish are in distress.
    """
    return plan_of(open_case(store, name, now, seed))


def plan_of(case: Case) -> PlanView:
    """The plan of an opened case."""
    found = case.found
    if found.fish is FishState.DISTRESS:
        raise BadInputError(
            "The fish are in distress: no plan until they are calm.",
            where=case.tank.name,
            cure="Gas off, aerate, ask a veterinarian; when they are calm record it: dawnlevel fish calm",
        )
    ahead, plan = plan_next_day(found, case.tank, case.records, case.now)
    schedule = plan.schedule
    levels = levels_ahead(found.posterior, found.luck, ahead, [schedule])[:, 0, :]
    at_on = lights_on_forecast(found.posterior, found.goal, found.luck, ahead, schedule)
    if at_on is None:
        raise AssertionError  # the next gas day lies ahead by construction
    why, helps = out_of_reach(found.posterior, found.goal, plan)
    count = 1 if found.settled else case.tank.reads_per_ramp
    flows = ahead.flows_until_h
    running = ((0.0, flows),) if flows > 0 else ()
    times = ramp_times_h(schedule.start_h, ahead.lights_on_h, count)
    return PlanView(
        tank=case.tank.name,
        timezone=case.tank.timezone,
        day=case.local(ahead.moment(ahead.lights_on_h)).date(),
        gas_until=case.local(ahead.moment(flows)) if running else None,
        windows=tuple(
            SpanView(case.local(ahead.moment(a)), case.local(ahead.moment(b))) for a, b in schedule.windows_h
        ),
        rate_bps=schedule.rate_bps,
        present_rate_bps=found.present_bps,
        needle_changes=schedule.is_new,
        lights_on=case.local(ahead.moment(ahead.lights_on_h)),
        lights_off=case.local(ahead.moment(ahead.lights_off_h)),
        band=band_view(case),
        forecast=_forecast(case, ahead, at_on),
        end_of_gas_mg_l=level_at(ahead.hours, levels, schedule.close_h),
        at_lights_off_mg_l=level_at(ahead.hours, levels, ahead.lights_off_h),
        chance_hit=plan.hit,
        chance_held=plan.held,
        chance_breach=plan.breach,
        breach_until=counted_until(case, ahead, schedule.start_h),
        breach_bound=CEILING_RISK,
        readings=tuple(case.local(ahead.moment(hour)) for hour in times),
        reasons=tuple(_reasons(case, ahead, plan, at_on)),
        out_of_reach=why,
        would_help=helps,
        picture=picture_view(case, ahead, levels, (*running, *schedule.windows_h)),
    )


def _forecast(case: Case, ahead: Horizon, at_on: LightsOn) -> ForecastView:
    return ForecastView(
        at=case.local(ahead.moment(ahead.lights_on_h)),
        co2_mg_l=at_on.co2_mg_l,
        ph=at_on.ph,
        quantity=shown_interval(case.found.goal, at_on.quantity),
        chance_in_band=at_on.in_band,
    )


def _reasons(case: Case, ahead: Horizon, plan: DayPlan, at_on: LightsOn) -> list[str]:
    """Why this start, this rate, this stop."""
    found, schedule = case.found, plan.schedule
    unknowns = found.posterior.unknowns
    lead = ahead.lights_on_h - schedule.start_h
    half_life = float(np.log(2.0) / np.median(unknowns["kla_per_h"]))
    gain = float(np.median(unknowns["gain_mg_l_h_per_bps"])) * schedule.rate_bps
    uptake = float(np.median(unknowns["uptake_mg_l_h"]))
    shown = shown_interval(found.goal, at_on.quantity)
    slack = (ahead.lights_off_h - schedule.close_h, case.local(ahead.moment(schedule.close_h)))
    rise = (
        f"Start {lead:.2g} h before the lights: at {rate_text(schedule.rate_bps)} this tank gains about "
        f"{gain:.1f} mg/L an hour before losses, and loses half of its excess in about {half_life:.1f} h."
    )
    hold = (
        f"Under light the plants take up about {uptake:.1f} mg/L an hour; start and rate are chosen together "
        "so that loss and uptake then balance the gas: chance of hitting and holding the band "
        f"{percent(plan.held)}."
    )
    pulses = (
        "The timer gives a boost before the lights and then pulses at the same needle: one steady rate would "
        "either rise too slowly or not hold level."
    )
    stop = (
        f"Close at {clock_text(slack[1])}, {slack[0]:.2g} h before lights-off: the level is still useful "
        "late in the day and falls before the night."
    )
    until = counted_until(case, ahead, schedule.start_h)
    watched = "" if until is None else f" until {clock_text(until)}, when your readings can correct it,"
    risk = (
        f"The chance of passing {over_text(found.goal)}{watched} is {percent(plan.breach)} "
        f"(bound {percent(CEILING_RISK)})."
    )
    leave = "The needle stays: another count would bring a new setting error for little gain."
    return [
        rise,
        f"At lights-on that gives {drop_or_level(found.goal, shown)}, band {band_text(found.goal)}.",
        hold,
        *([pulses] if len(schedule.windows_h) > 1 else []),
        stop,
        risk,
        *([] if schedule.is_new else [leave]),
    ]
