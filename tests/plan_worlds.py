"""Small worlds for the tests of plan and desk: tanks known to the last digit, days played out in truth."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from dawnlevel.desk.advice.today import today_view
from dawnlevel.desk.views import TodayView
from dawnlevel.estimate.model import TankModel, build_model
from dawnlevel.estimate.posterior import Posterior, recorded_baseline
from dawnlevel.estimate.sampler import Draws
from dawnlevel.estimate.timeline import build_timeline
from dawnlevel.plan.future import Chances
from dawnlevel.plan.goal import BREACH_DROP, HIT_SLACK, HOLD_SLACK, Goal
from dawnlevel.store import Store, open_store
from dawnlevel.tank import Record, Tank, TargetKind
from tests.estimate_worlds import when

Floats = npt.NDArray[np.float64]

EVERY = timedelta(minutes=5)


def told(
    tank: Tank, records: Sequence[Record], end: datetime, n: int = 64, spread: float = 0.0, **values: float
) -> Posterior:
    """A posterior that knows `values` (by unknown), else prior medians; `spread` as share of the prior's."""
    model = build_model(tank, records, end)
    z = spread * np.random.default_rng(1).standard_normal((model.size, n))
    for row, parameter in enumerate(model.parameters):
        if parameter.name in values:
            value = values[parameter.name]
            aimed = (
                np.log((value - parameter.floor) / parameter.centre)
                if parameter.is_log
                else value - parameter.centre
            )
            z[row] += aimed / parameter.spread
    unknowns = model.unknowns(z)
    return Posterior(
        model,
        Draws(z, 1.0, 1.0),
        unknowns,
        model.levels(unknowns),
        end,
        recorded_baseline(records, model.gear),
    )


def no_luck(posterior: Posterior) -> Chances:
    """A future in which every needle count is met exactly and nothing drifts."""
    nought = np.zeros(posterior.size)
    return Chances(nought, nought, nought, nought, nought)


@dataclass(frozen=True)
class Outcome:
    """What truly happened on one day."""

    hit: bool
    held: bool
    breach: bool


def played(
    known: tuple[TankModel, Floats],
    records: Sequence[Record],
    day: tuple[datetime, datetime, datetime, datetime],
    goal: Goal,
    rng: np.random.Generator,
) -> Outcome:
    """A day (since, lights-on, gas closes, lights-off) under the unknowns z (d, 1) of a model: `known`.

    `records` are all there are by then, the day's settings too; settings and days that are new are drawn.

    Levels come from the estimator's timeline at 5 min, not from the planner's own grid.
    """
    since, lights_on, closes, lights_off = day
    tank = known[0].tank
    model = build_model(tank, records, lights_off)
    z = _grown(*known, model, rng)
    every = [since + EVERY * k for k in range(int((lights_off - since) / EVERY) + 1)]
    line = build_timeline(tank, records, model.timeline.origin, lights_off, [*every, lights_on, closes])
    model = replace(model, timeline=line)
    unknowns = model.unknowns(z)
    levels = model.levels(unknowns)
    baseline = recorded_baseline(records, model.gear)
    end = Posterior(model, Draws(z, 1.0, 1.0), unknowns, levels, lights_off, baseline)
    quantity = goal.quantity(end, levels, unknowns.day_ph[-1])[:, 0]
    at = line.edges_h
    on, off = line.hour(lights_on), line.hour(closes)
    hold = quantity[(at >= on - 1e-6) & (at <= off + 1e-6)]
    margin = np.minimum(hold - goal.low, goal.high - hold)
    later = at >= line.hour(since) - 1e-6
    over = levels[later, 0].max() > goal.ceiling_mg_l
    if goal.kind is TargetKind.DROP:
        over |= quantity[later].max() > goal.high + BREACH_DROP
    hit = bool(margin[0] >= -HIT_SLACK)
    return Outcome(hit, hit and bool(margin.min() >= -HOLD_SLACK), bool(over))


def _grown(model: TankModel, z: Floats, longer: TankModel, rng: np.random.Generator) -> Floats:
    """`z` (d, 1) of `model` as unknowns of `longer`: settings and days it lacked are drawn afresh."""
    first = len(model.parameters)
    second = first + model.timeline.n_settings
    third = second + model.timeline.n_days
    parts = [z[:first]]
    for old, size in (
        (z[first:second], longer.timeline.n_settings),
        (z[second:third], longer.timeline.n_days),
        (z[third:], longer.timeline.n_days),
    ):
        parts.append(np.concatenate((old, rng.standard_normal((size - old.shape[0], 1)))))
    return np.concatenate(parts)


def store_with(tank: Tank, records: Sequence[Record]) -> Store:
    """A store in memory that holds `tank` and `records`, in the order given."""
    store = open_store("sqlite://")
    store.add_tank(tank, when(-24.0 * 400))
    store.add_records(tank.name, records)
    return store


def seen_today(tank: Tank, records: Sequence[Record], now: datetime) -> TodayView:
    """The desk's view of a tank with these records."""
    with store_with(tank, records) as store:
        return today_view(store, tank.name, now)
