"""The next gas day: start, rate and stop (and pulses, where the timer has windows for them)."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.estimate.posterior import Posterior
from dawnlevel.plan.future import Chances, Gas, simulate, thin
from dawnlevel.plan.goal import Goal
from dawnlevel.plan.horizon import Horizon
from dawnlevel.plan.readings import ramp_times_h
from dawnlevel.plan.schedule import Schedule, countable, open_share, pulsed
from dawnlevel.plan.score import USUAL_CLOSE_H, Verdict, judge

Array = npt.NDArray[np.float64]

LARGEST_RATE_STEP = 2.0
"""Largest factor by which a day's plan may change the rate; common practice, no source."""

NEEDLE_MARGIN = 0.04
"""A needle is touched only where that raises a plan's worth by this much (its chance of success, about)."""

UNLEARNED_LOG_SD = 0.2
"""Log sd of the gain above which a ramp is a first acquaintance."""

_COARSE_DRAWS, _FINE_DRAWS, _LAST_LOOKS = 32, 96, 12
_LEADS_H = np.array([0.5, 0.75, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 8.0])
_DUTIES = (1.0, 0.75, 0.55, 0.4, 0.25, 0.12)
_SLICE = 40_000


@dataclass(frozen=True, slots=True)
class DayPlan:
    """The schedule chosen, its chances, and the best one that leaves the needle alone."""

    schedule: Schedule
    worth: float
    hit: float
    held: float
    breach: float


def evaluate(
    posterior: Posterior, goal: Goal, luck: Chances, ahead: Horizon, schedules: Sequence[Schedule]
) -> Verdict:
    """Chances of every schedule, over all draws of `posterior`; done in slices to bound memory.

    Where the gain is hardly known yet and the ramp will be read, a breach counts for the first half of
    the lead only: the readings come before the rest.
    """
    size = max(_SLICE // (posterior.size * ahead.hours.light.size), 1)
    parts = [
        _evaluate(posterior, goal, luck, ahead, schedules[first : first + size])
        for first in range(0, len(schedules), size)
    ]
    return Verdict(
        *(
            np.concatenate([getattr(part, name) for part in parts])
            for name in ("worth", "hit", "held", "breach")
        )
    )


def levels_ahead(posterior: Posterior, luck: Chances, ahead: Horizon, schedules: Sequence[Schedule]) -> Array:
    """CO2 at the grid's edges for each schedule and draw [mg/L], shape (S+1, K, n).

    Gas of the day before that still flows goes on until the timer closes it, at the present setting.
    """
    edges = ahead.hours.edges_h
    still_open = np.clip(ahead.flows_until_h - edges[:-1], 0.0, np.diff(edges)) / np.diff(edges)
    later = [schedule.later or (np.inf, 0.0) for schedule in schedules]
    changes_h = np.array([hour for hour, _ in later])
    gas = Gas(
        open_share=open_share(edges, schedules),
        rate_bps=np.array([schedule.rate_bps for schedule in schedules]),
        is_new=np.array([schedule.is_new for schedule in schedules]),
        later_bps=np.array([rate for _, rate in later]),
        is_later=ahead.hours.middle_h[:, None] > changes_h if np.isfinite(changes_h).any() else None,
        still_bps=still_open * posterior.model.timeline.rate_bps[-1],
    )
    return simulate(posterior, luck, ahead.hours, gas)


def _evaluate(
    posterior: Posterior, goal: Goal, luck: Chances, ahead: Horizon, schedules: Sequence[Schedule]
) -> Verdict:
    co2 = levels_ahead(posterior, luck, ahead, schedules)
    close = np.array([schedule.close_h for schedule in schedules])
    start = np.array([schedule.start_h for schedule in schedules])
    begins = np.minimum(start, max(ahead.earliest_h, 0.0))
    blind = np.array([counted_until_h(posterior, ahead, float(hour)) for hour in start])
    return judge(posterior, goal, luck, ahead.hours, co2, ahead.lights_on_h, close, (begins, blind))


def counted_until_h(posterior: Posterior, ahead: Horizon, start_h: float) -> float:
    """Hour until which a day whose gas starts at `start_h` counts as unwatched for the ceiling [h from now].

    Infinite: the whole day. While a bubble's gain is still guessed and the ramp is read, until its middle: by
    then somebody will have read and corrected.
    """
    learning = float(np.log(posterior.unknowns["gain_mg_l_h_per_bps"]).std()) > UNLEARNED_LOG_SD
    reads = posterior.model.tank.reads_per_ramp
    if learning and reads > 1 and ramp_times_h(start_h, ahead.lights_on_h, reads):
        return start_h + 0.5 * (ahead.lights_on_h - start_h)
    return float("inf")


def thinned(posterior: Posterior, luck: Chances, n: int) -> tuple[Posterior, Chances]:
    """Every k-th draw of both, n of them."""
    few = thin(posterior, n)
    step = max(posterior.size // n, 1)
    pick = slice(0, step * n, step)
    return few, luck.subset(pick)


def plan_day(
    posterior: Posterior, goal: Goal, luck: Chances, ahead: Horizon, present_bps: float, *, settled: bool
) -> DayPlan:
    """The best schedule for the day ahead.

    A coarse search over starts, closings, pulses and rates with few draws, then a finer one about the
    best with more; the last choice is made, and its chances stated, on all draws, since the best of many
    on few draws is luckier than it is good. The needle keeps its count unless another is clearly better.
    """
    few, few_luck = thinned(posterior, luck, _COARSE_DRAWS)
    windows = posterior.model.tank.timer_windows
    first_time = posterior.unknowns.setting_log.size == 0
    keep = _candidates(windows, ahead, [present_bps], is_new=first_time)
    verdict = evaluate(few, goal, few_luck, ahead, keep)
    kept = _best(keep, verdict, 8)
    tried: list[Schedule] = []
    changed: list[Schedule] = []
    if not settled or float(verdict.worth.max()) < 0.5:
        rates = present_bps * np.geomspace(1 / LARGEST_RATE_STEP, LARGEST_RATE_STEP, 9)
        if first_time:
            rates = np.concatenate((rates, present_bps * np.array([0.25, 0.35, 2.8])))
        tried = _candidates(windows, ahead, [countable(float(rate)) for rate in rates], is_new=True)
        changed = _best(tried, evaluate(few, goal, few_luck, ahead, tried), 8)
    many, many_luck = thinned(posterior, luck, _FINE_DRAWS)
    bounds = (min(s.rate_bps for s in tried), max(s.rate_bps for s in tried)) if tried else (0.0, np.inf)
    kept = _refine(many, goal, many_luck, ahead, kept, bounds)
    best_kept = _choice(posterior, goal, luck, ahead, kept)
    if not changed:
        return best_kept
    changed = _refine(many, goal, many_luck, ahead, changed, bounds)
    best_changed = _choice(posterior, goal, luck, ahead, changed)
    margin = NEEDLE_MARGIN * (3.0 if settled else 1.0)
    return best_changed if best_changed.worth > best_kept.worth + margin else best_kept


def _candidates(windows: int, ahead: Horizon, rates: Sequence[float], *, is_new: bool) -> list[Schedule]:
    """Schedules worth a first look."""
    first_close, last_close = ahead.close_span_h
    starts = [
        ahead.lights_on_h - lead for lead in _LEADS_H if ahead.lights_on_h - lead >= ahead.earliest_h - 1e-6
    ]
    starts = sorted({max(start, 0.0) for start in [*starts, ahead.earliest_h]})
    found = []
    for rate in rates:
        for start in starts:
            closes = (first_close, 0.5 * (first_close + last_close), last_close)
            found += [Schedule(((start, close),), rate, is_new) for close in closes]
            if windows > 1:
                found += [
                    pulsed(
                        start,
                        ahead.lights_on_h + shift,
                        ahead.lights_off_h - USUAL_CLOSE_H,
                        duty,
                        windows - 1,
                        rate,
                        is_new,
                    )
                    for duty in _DUTIES[1:]
                    for shift in (0.0, 0.5)
                ]
    return found


def _best(schedules: Sequence[Schedule], verdict: Verdict, n: int) -> list[Schedule]:
    return [schedules[index] for index in np.argsort(-verdict.worth)[:n]]


def _refine(
    posterior: Posterior,
    goal: Goal,
    luck: Chances,
    ahead: Horizon,
    schedules: Sequence[Schedule],
    bounds_bps: tuple[float, float],
) -> list[Schedule]:
    """The best of `schedules` and of their neighbours at rates within `bounds_bps`."""
    pool = list(schedules)
    verdict = evaluate(posterior, goal, luck, ahead, pool)
    for shift, factor in ((0.25, 1.07), (0.125, 1.03)):
        near = [
            found
            for schedule in _best(pool, verdict, 2)
            for found in _neighbours(schedule, ahead, shift, factor)
            if not found.is_new or bounds_bps[0] <= found.rate_bps <= bounds_bps[1]
        ]
        more = evaluate(posterior, goal, luck, ahead, near)
        verdict = Verdict(
            *(
                np.concatenate((getattr(verdict, n), getattr(more, n)))
                for n in ("worth", "hit", "held", "breach")
            )
        )
        pool += near
    return _best(pool, verdict, _LAST_LOOKS)


def _choice(
    posterior: Posterior, goal: Goal, luck: Chances, ahead: Horizon, schedules: Sequence[Schedule]
) -> DayPlan:
    """The best of `schedules` on all draws, with its chances."""
    verdict = evaluate(posterior, goal, luck, ahead, schedules)
    top = int(np.argmax(verdict.worth))
    chances = (float(getattr(verdict, name)[top]) for name in ("worth", "hit", "held", "breach"))
    return DayPlan(schedules[top], *chances)


def _neighbours(schedule: Schedule, ahead: Horizon, shift_h: float, factor: float) -> list[Schedule]:
    """Schedules a little earlier, later, stronger, weaker, with other pulses."""
    first_close, last_close = ahead.close_span_h
    moves: list[tuple[float, float, float, float]] = [
        (shift, boost, close, rate)
        for shift in (-shift_h, 0.0, shift_h)
        for boost, close in (
            (0.0, 0.0),
            (-shift_h, 0.0),
            (shift_h, 0.0),
            (0.0, -2 * shift_h),
            (0.0, 2 * shift_h),
        )
        for rate in ((1.0 / factor, 1.0, factor) if schedule.is_new else (1.0,))
    ]
    found = []
    for shift, boost, close, rate in moves:
        windows = list(schedule.windows_h)
        start = max(windows[0][0] + shift, ahead.earliest_h, 0.0)
        if len(windows) > 1:
            windows[0] = (start, windows[0][1] + boost)
            scale = 1.0 + close / 2.0
            windows[1:] = [(end - (end - begin) * scale, end) for begin, end in windows[1:]]
            gaps = [windows[i + 1][0] - windows[i][1] for i in range(len(windows) - 1)]
            if min(gaps) < 0.05 or windows[0][1] - start < 0.1:
                continue
        else:
            end = min(max(windows[0][1] + close, first_close), last_close)
            windows[0] = (start, end)
        if windows[0][1] > windows[0][0]:
            found.append(
                Schedule(
                    tuple(windows),
                    countable(schedule.rate_bps * rate) if schedule.is_new else schedule.rate_bps,
                    schedule.is_new,
                )
            )
    return found
