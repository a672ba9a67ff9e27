"""Use case: where the tank stands now, the forecast for lights-on, and the one thing to do next."""

from datetime import datetime, timedelta

from dawnlevel.desk.advice.odd import odd_action, odd_note, reads_again
from dawnlevel.desk.casebook import (
    SEED,
    Case,
    band_view,
    counted_until,
    now_view,
    open_case,
    picture_view,
    shown_interval,
)
from dawnlevel.desk.shelf.reminders import due_reminders
from dawnlevel.desk.views import ActionView, DayView, ForecastView, Phase, ReadingView, TodayView
from dawnlevel.desk.wording import (
    band_text,
    clock_text,
    drop_or_level,
    level_text,
    over_text,
    percent,
    rate_text,
)
from dawnlevel.estimate.posterior import interval
from dawnlevel.plan.day import levels_ahead
from dawnlevel.plan.fish import DISTRESS_STEPS, UNEASY_FACTOR, UNEASY_STEPS
from dawnlevel.plan.flow import gas_arriving
from dawnlevel.plan.goal import CEILING_RISK
from dawnlevel.plan.horizon import Horizon
from dawnlevel.plan.odd import CHANGED
from dawnlevel.plan.over import OVER_STEPS, READ_LATELY, last_ph_at
from dawnlevel.plan.readings import EASES_H
from dawnlevel.plan.schedule import Schedule, countable
from dawnlevel.plan.steer import Action, LightsOn, Steering, lights_on_forecast
from dawnlevel.store import Store
from dawnlevel.tank import FishState


def today_view(store: Store, name: str, now: datetime, seed: int = SEED) -> TodayView:
    """The tank `name` at `now` (aware). Raises NoSuchTankError, NotEnoughRecordsError."""
    return today_of(open_case(store, name, now, seed))


def today_of(case: Case) -> TodayView:
    """The view of an opened case."""
    found, ahead = case.found, case.found.ahead
    phase = _phase(case)
    followed, levels = _followed(case), None
    if followed is not None:
        levels = levels_ahead(found.posterior, found.luck, ahead, [followed])[:, 0, :]
    return TodayView(
        tank=case.tank.name,
        timezone=case.tank.timezone,
        phase=phase,
        settled=found.settled,
        band=band_view(case),
        now=now_view(case),
        lights_on=case.local(ahead.moment(ahead.lights_on_h)),
        lights_off=case.local(ahead.moment(ahead.lights_off_h)),
        forecast=_forecast(case, found.at_lights_on),
        forecast_if_done=_forecast(case, _if_done(case, followed)),
        action=_action(case, phase),
        next_reading=_reading(case),
        days=tuple(
            DayView(
                day.day, day.co2_mg_l, shown_interval(found.goal, day.quantity), day.dialled_in, day.readings
            )
            for day in found.days
        ),
        notes=tuple(_notes(case)),
        picture=picture_view(case, ahead, levels, followed.windows_h if followed else ()),
        probe=case.probe,
    )


def _phase(case: Case) -> Phase:
    found, ahead = case.found, case.found.ahead
    if found.fish is FishState.DISTRESS:
        return Phase.ALARM
    if found.stands_over:
        return Phase.OVER
    if found.fish is FishState.UNEASY:
        return Phase.UNEASY
    return Phase.FALLING if found.is_over else _phase_of_gas(ahead)


def _phase_of_gas(ahead: Horizon) -> Phase:
    if not ahead.standing:
        return Phase.NO_PLAN
    if ahead.lights_on_h <= 0:
        return Phase.HOLDING
    return Phase.WAITING if ahead.standing[0][0] > 0 else Phase.RAMP


def _forecast(case: Case, at_lights_on: LightsOn | None) -> ForecastView | None:
    if at_lights_on is None:
        return None
    ahead = case.found.ahead
    return ForecastView(
        at=case.local(ahead.moment(ahead.lights_on_h)),
        co2_mg_l=at_lights_on.co2_mg_l,
        ph=at_lights_on.ph,
        quantity=shown_interval(case.found.goal, at_lights_on.quantity),
        chance_in_band=at_lights_on.in_band,
    )


def _followed(case: Case) -> Schedule | None:
    """The gas of the day if the advice is followed, the fish's first; None where no gas is due."""
    found = case.found
    if found.steering is None:
        return None
    closed = Schedule(((0.0, 0.0),), found.present_bps, is_new=False)
    if found.fish is FishState.DISTRESS or found.stands_over:
        return closed
    if found.fish is FishState.UNEASY:
        return Schedule(found.ahead.standing, _uneasy_rate(case), is_new=True)
    odd = odd_action(case)
    if odd is None:
        return found.steering.schedule
    left = Schedule(found.ahead.standing, found.present_bps, is_new=False)
    return closed if odd.kind == "close_and_read" else left


def _if_done(case: Case, followed: Schedule | None) -> LightsOn | None:
    found = case.found
    if followed is None:
        return None
    return lights_on_forecast(found.posterior, found.goal, found.luck, found.ahead, followed)


def _reading(case: Case) -> ReadingView | None:
    if case.found.fish is FishState.DISTRESS:
        return None
    if case.found.stands_over:
        wait = timedelta(hours=EASES_H) if _is_lately_read(case) else timedelta(0)
        return ReadingView(case.local(case.now + wait), "whether the level falls; watch the fish")
    if case.found.fish is FishState.UNEASY:
        return ReadingView(
            case.local(case.now + timedelta(hours=EASES_H)), "whether it eases; watch the fish"
        )
    if reads_again(case) is not None:
        return ReadingView(case.local(case.now), "whether the last reading was a slip")
    reading = case.found.reading
    if reading is None:
        return None
    return ReadingView(case.local(reading.at), reading.reason)


def _action(case: Case, phase: Phase) -> ActionView:
    """The one next action."""
    if phase is Phase.ALARM:
        return _urgent(
            "close_gas", "Gas off now. Aerate hard.", "The fish are in distress.", None, DISTRESS_STEPS
        )
    if phase is Phase.OVER:
        return _over(case)
    if phase is Phase.UNEASY:
        return _uneasy(case)
    return odd_action(case) or _of_the_day(case, phase)


def _of_the_day(case: Case, phase: Phase) -> ActionView:
    steering = case.found.steering
    if phase is Phase.NO_PLAN:
        return ActionView(
            "plan", "Plan the next gas day.", "The gas timer has no window before the next lights-on."
        )
    if phase is Phase.FALLING or steering is None:
        return ActionView(
            "wait",
            "Nothing to do: the gas is off for today.",
            "The level is meant to fall before lights-off.",
        )
    return _steer(case, steering)


def _urgent(kind: str, text: str, reason: str, rate: float | None, steps: tuple[str, ...]) -> ActionView:
    return ActionView(kind, text, reason, rate, steps=steps)


def _is_lately_read(case: Case) -> bool:
    last = last_ph_at(case.records, case.now)
    return last is not None and case.now - last <= READ_LATELY


def _over(case: Case) -> ActionView:
    """The gas closes, or stays closed, until the level is below the ceiling."""
    found, is_read = case.found, _is_lately_read(case)
    flows, standing = found.gas_is_open, found.ahead.standing
    text = "Close the gas now." if flows else "Keep the gas closed."
    if standing and not flows:
        opens = case.local(found.ahead.moment(standing[0][0]))
        text = f"Keep the gas closed; the timer would open it at {clock_text(opens)}."
    where = "CO2 stands" if is_read else "No pH was read in the last hours; by all records CO2 stands"
    reason = (
        f"{where} at {level_text(interval(found.posterior.levels[-1]))}, ceiling "
        f"{found.goal.ceiling_mg_l:g} mg/L; the chance that it is above it now is "
        f"{percent(found.over_ceiling)}. The target waits."
    )
    steps = OVER_STEPS if is_read else ("Read pH in the tank now and record it.", *OVER_STEPS)
    return _urgent("close_gas" if flows else "keep_closed", text, reason, None, steps)


def _uneasy_rate(case: Case) -> float:
    """Where uneasy fish want the needle [bubbles/s]: lower than now, and than the advice would have it."""
    lower = countable(case.found.present_bps * UNEASY_FACTOR)
    steering = case.found.steering
    if steering is not None and steering.action is Action.LOWER:
        lower = min(lower, steering.schedule.rate_bps)
    return lower


def _uneasy(case: Case) -> ActionView:
    lower = _uneasy_rate(case)
    return _urgent(
        "lower_and_aerate",
        f"Lower to {rate_text(lower)} and aerate.",
        "The fish were seen uneasy. The target waits until they are calm.",
        lower,
        UNEASY_STEPS,
    )


def _steer(case: Case, steering: Steering) -> ActionView:
    closes = case.local(case.found.ahead.moment(steering.schedule.close_h))
    rate = steering.schedule.rate_bps
    if steering.action is Action.HOLD:
        text = f"Hold at {rate_text(rate)}."
    else:
        text = f"{steering.action.value.capitalize()} to {rate_text(rate)}."
    odd = case.found.odd
    is_less = len(odd) >= CHANGED and odd[-1].is_less
    if steering.action is Action.RAISE and (is_less or gas_arriving(case.found.posterior) is not None):
        text = f"See that gas flows; only then raise to {rate_text(rate)}."
    if steering.schedule.later is not None:
        at, then = steering.schedule.later
        moment = clock_text(case.local(case.found.ahead.moment(at)))
        text += f" Lower to about {rate_text(then)} at lights-on ({moment})."
    if steering.closes_moved:
        text += f" Close the gas at {clock_text(closes)}."
    return ActionView(
        kind=steering.action.value,
        text=text,
        reason=_reason(case, steering),
        rate_bps=rate,
        gas_closes=closes,
        then_rate_bps=None if steering.schedule.later is None else steering.schedule.later[1],
        chance_if_done=steering.held,
        chance_if_left=steering.held_if_left,
        breach_if_done=steering.breach,
        breach_if_left=steering.breach_if_left,
        breach_until=counted_until(case, case.found.ahead, steering.schedule.start_h),
        steps=(),
    )


def _reason(case: Case, steering: Steering) -> str:
    """Why, with the numbers the choice rests on."""
    found = case.found
    band = band_text(found.goal)
    where = "The level is past lights-on"
    if found.at_lights_on is not None:
        shown = shown_interval(found.goal, found.at_lights_on.quantity)
        where = f"Left alone, the forecast for lights-on is {drop_or_level(found.goal, shown)}, band {band}"
    if steering.breach_if_left > CEILING_RISK and steering.action is Action.LOWER:
        return (
            f"{where}; the chance of passing {over_text(found.goal)} is "
            f"{percent(steering.breach_if_left)} and falls to {percent(steering.breach)}."
        )
    if steering.action is Action.HOLD:
        settled = "The tank is settled, and no" if found.settled else "No"
        return (
            f"{where}; the chance of hitting and holding it is {percent(steering.held)}. {settled} "
            "other rate is clearly better."
        )
    return (
        f"{where}; the chance of hitting and holding it goes from {percent(steering.held_if_left)} to "
        f"{percent(steering.held)}."
    )


def _notes(case: Case) -> list[str]:
    """What else the keeper should know, in order of weight."""
    found, notes = case.found, []
    if found.fish is FishState.DISTRESS:
        notes.append("Tuning is locked until the fish are calm and you have recorded it: dawnlevel fish calm")
    odd = odd_note(case)
    if odd:
        notes.append(odd)
    if found.settled and not found.stands_over:
        notes.append(
            "Settled: three days in the band. Leave the needle alone and read when asked to, every few days."
        )
    if found.steering is not None and not found.stands_over and found.steering.breach > CEILING_RISK:
        notes.append(
            f"Even with the best choice the chance of passing {over_text(found.goal)} is "
            f"{percent(found.steering.breach)} (bound {percent(CEILING_RISK)}). Watch the fish; "
            "`dawnlevel explain` names the measurement that would narrow it."
        )
    arrives = gas_arriving(found.posterior)
    if arrives is not None:
        notes.append(
            f"A bubble seems to bring {percent(arrives)} of what is usual. Before you set the needle, look "
            "whether gas flows: counter, gauge, hose, diffuser. Where it did not, record the hours: "
            "dawnlevel gas closed --at TIME; a full flow at a raised needle could harm the fish."
        )
    if found.posterior.draws.efficiency < 0.005:
        notes.append("The records contradict each other more than usual: see `dawnlevel explain`.")
    notes += [reminder.text for reminder in due_reminders(case.tank, case.records, case.now)]
    return notes
