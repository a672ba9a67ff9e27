"""Everything the advice rests on, worked out once from the records."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from dawnlevel.estimate.posterior import Posterior, posterior
from dawnlevel.plan.day import DayPlan, plan_day
from dawnlevel.plan.fish import standing_state
from dawnlevel.plan.future import Chances, chances
from dawnlevel.plan.goal import Goal, goal
from dawnlevel.plan.horizon import Horizon, horizon
from dawnlevel.plan.odd import CHANGED, OddReading, odd_readings
from dawnlevel.plan.over import OVER_LIKELY, level_told, over_ceiling
from dawnlevel.plan.past import DayPast, days_past, is_settled
from dawnlevel.plan.readings import NextReading, next_reading
from dawnlevel.plan.schedule import Schedule
from dawnlevel.plan.steer import LightsOn, Steering, lights_on_forecast, steer
from dawnlevel.tank import FishState, RateSetting, Record, Tank


@dataclass(frozen=True, slots=True)
class Assessment:
    """Where the tank stands at `now` and what lies ahead today.

    Attributes:
        posterior: the estimate.
        goal: the target as a band.
        luck: the future's chances, shared by all schedules.
        days: the gas days behind.
        settled: whether the last days were dialled in.
        fish: the sighting that counts.
        present_bps: the needle's count, or the keeper's first rate where none was set.
        ahead: the gas day that runs, or the next.
        steering: raise, hold or lower; None where no gas is due.
        at_lights_on: forecast if nothing is touched; None where lights-on is past or no gas is due.
        reading: when to read next.
        odd: the latest readings that do not fit what was read before; from `CHANGED` on the posterior rests
            on them, what meter and cell showed before is set aside.
        over_ceiling: chance that the level stands above the livestock ceiling now.
        is_over: whether the lights are on but the gas is closed for the day; then `ahead` is the next day.
    """

    posterior: Posterior
    goal: Goal
    luck: Chances
    days: list[DayPast]
    settled: bool
    fish: FishState
    present_bps: float
    ahead: Horizon
    steering: Steering | None
    at_lights_on: LightsOn | None
    reading: NextReading | None
    odd: tuple[OddReading, ...]
    over_ceiling: float
    is_over: bool

    @property
    def stands_over(self) -> bool:
        """Whether the level is rather above the livestock ceiling now than not."""
        return self.over_ceiling >= OVER_LIKELY

    @property
    def gas_is_open(self) -> bool:
        """Whether gas flows now, by timer and hand as recorded."""
        return bool(self.ahead.standing) and self.ahead.standing[0][0] <= 0.0


def present_rate(tank: Tank, records: list[Record]) -> float:
    """The needle's count [bubbles/s]: the last one set above nought, else the keeper's first rate."""
    counts = [
        r.bubbles_per_second for r in records if isinstance(r, RateSetting) and r.bubbles_per_second > 0
    ]
    return counts[-1] if counts else tank.first_rate_bps


def assess(tank: Tank, records: list[Record], now: datetime, rng: np.random.Generator) -> Assessment:
    """The assessment of `tank` at `now` (UTC) from its standing records, sorted by time."""
    known = [record for record in records if record.at <= now]
    estimate = posterior(tank, known, now, rng)
    odd = odd_readings(estimate)
    if len(odd) >= CHANGED:  # the tank is no longer the one that the older readings taught
        estimate = posterior(tank, known, now, rng, since=odd[0].at)
    luck = chances(estimate, rng)
    told = level_told(known, estimate.levels[-1], tank.co2_limit_mg_l)
    band = goal(tank.target, estimate, tank.co2_limit_mg_l, told)
    days = days_past(estimate, band, known, now)
    settled = not odd and is_settled(days)
    rate = present_rate(tank, known)
    ahead = horizon(tank, known, now, of_today=True)
    is_over = ahead.lights_on_h <= 0 and not ahead.standing
    if is_over:
        ahead = horizon(tank, known, now, of_today=False)
    steering = steer(estimate, band, luck, ahead, rate, settled=settled)
    at_lights_on = None
    if steering is not None:
        left = Schedule(ahead.standing, rate, is_new=False)
        at_lights_on = lights_on_forecast(estimate, band, luck, ahead, left)
    start_h = ahead.standing[0][0] if ahead.standing else None
    if start_h == 0.0:
        start_h = _opened_h(estimate, ahead)
    chance_if_left = steering.held_if_left if settled and steering is not None else None
    reading = next_reading(tank, known, ahead, start_h, chance_if_left)
    return Assessment(
        posterior=estimate,
        goal=band,
        luck=luck,
        days=days,
        settled=settled,
        fish=standing_state(known, now),
        present_bps=rate,
        ahead=ahead,
        steering=steering,
        at_lights_on=at_lights_on,
        reading=reading,
        odd=odd,
        over_ceiling=over_ceiling(estimate.levels[-1], tank.co2_limit_mg_l),
        is_over=is_over,
    )


def _opened_h(estimate: Posterior, ahead: Horizon) -> float:
    """When the gas that flows now was opened [h from now, not above 0]."""
    timeline = estimate.model.timeline
    closed = np.flatnonzero(timeline.rate_bps <= 0)
    opened = timeline.edges_h[closed[-1] + 1] if closed.size else timeline.edges_h[0]
    return max(float(opened - timeline.edges_h[-1]), ahead.lights_on_h - 12.0)


def plan_next_day(
    found: Assessment, tank: Tank, records: list[Record], now: datetime
) -> tuple[Horizon, DayPlan]:
    """The schedule for the next gas day that has not begun."""
    known = [record for record in records if record.at <= now]
    ahead = horizon(tank, known, now, of_today=False)
    plan = plan_day(found.posterior, found.goal, found.luck, ahead, found.present_bps, settled=found.settled)
    return ahead, plan
