"""What the draws say of the conditions behind a keeper's complaint, each with its chance.

A condition is a margin for every draw, positive where it holds, so that its chance is the share of draws in
which it does, and what a measurement would tell of it can be reckoned.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from dawnlevel.estimate.culprits import Measurement, measurements
from dawnlevel.estimate.posterior import Posterior
from dawnlevel.estimate.priors import HALF_SATURATION_MG_L
from dawnlevel.estimate.routes import CELL_STALE, tank_over_cell
from dawnlevel.plan.assess import Assessment
from dawnlevel.plan.day import levels_ahead
from dawnlevel.plan.goal import HIT_SLACK
from dawnlevel.plan.horizon import EARLIEST_CLOSE_H
from dawnlevel.plan.reach import FAST_EXCHANGE_PER_H
from dawnlevel.plan.schedule import Schedule
from dawnlevel.tank import CellSighting, Record

Array = npt.NDArray[np.float64]

DAYS_LOOKED_AT = 5
"""Lights-ons that count: older ones may have been another tank; own choice."""

UNSTEADY = 0.1
"""Standard deviation from day to day above which lights-on is unsteady [pH or log10 of mg/L]; own choice."""

FELL_LOG = 0.15
"""Fall of the gas per bubble that shows: 14 %; three times what a needle wanders in a day; own choice."""

OFF_PH, OFF_LOG = 0.1, 0.2
"""Errors of a meter [pH] and of a kit, a solution or a lagging cell [log] that mislead; own choice."""


@dataclass(frozen=True, slots=True)
class Look:
    """Conditions behind a complaint.

    Attributes:
        margins: by name, shape (n,): positive where the condition holds; what cannot be said is absent.
        ons: the lights-ons looked at (UTC), oldest first; the coming one alone where none is over.
        levels: CO2 at those [mg/L], shape (m, n).
        plateau_mg_l: where the level would end before the lights at the present rate, shape (n,).
        lead_h: hours of gas before the last lights-on; None where no lights-on is over.
        close_before_h: hours from the last gas to lights-off on the last day that is over; None without one.
    """

    margins: dict[str, Array]
    ons: tuple[datetime, ...]
    levels: Array
    plateau_mg_l: Array
    lead_h: float | None
    close_before_h: float | None

    def chance(self, name: str) -> float | None:
        """Chance that a condition holds; None where the records cannot say."""
        return float((self.margins[name] > 0).mean()) if name in self.margins else None


def look(found: Assessment, records: Sequence[Record]) -> Look:
    """Every condition that the records of an assessed tank can say something about."""
    posterior, goal = found.posterior, found.goal
    passed = [day.lights_on for day in found.days][-DAYS_LOOKED_AT:]
    ons, levels, quantity = _passed(found, passed) if passed else _coming(found)
    now_mg_l, plateau = posterior.levels[-1], _plateau(found)
    reached = goal.quantity(posterior, plateau[None, :])[0]
    low = goal.low - HIT_SLACK - quantity[-1]
    lead = _lead_h(posterior, ons[-1]) if passed else None
    closes = [hours for hours in (_close_before_h(posterior, on) for on in passed) if hours is not None]
    close = closes[-1] if closes else None
    margins = {
        "low_at_lights_on": low,
        "high_at_lights_on": quantity[-1] - goal.high - HIT_SLACK,
        "over_ceiling": np.log(now_mg_l / goal.ceiling_mg_l),
        "too_little_gas": np.minimum(goal.low - reached, low),
        "starts_late": np.minimum(reached - goal.low, low),
        "fast_exchange": np.log(posterior.unknowns["kla_per_h"] / FAST_EXCHANGE_PER_H),
        "meter_off": np.abs(posterior.unknowns["meter_offset_ph"]) - OFF_PH,
        "kit_off": np.abs(posterior.unknowns["kh_kit_log"]) - OFF_LOG,
        **_in_the_light(found, levels[-1]),
        **_of_the_cell(posterior, records),
    }
    drift = posterior.unknowns.drift_log
    if len(drift) > 1:
        margins["gas_fell"] = -FELL_LOG - (drift[-1] - drift[0])
    if len(ons) > 1:
        margins["unsteady"] = quantity.std(axis=0, ddof=1) - UNSTEADY
    if lead is not None:
        margins["gas_missed"] = np.full(posterior.size, 1.0 if lead <= 0 else -1.0)
    if close is not None:
        margins["closes_early"] = np.full(posterior.size, close - EARLIEST_CLOSE_H - 1e-6)
    return Look(margins, ons, levels, plateau, lead, close)


def worth(
    found: Assessment,
    margins: Sequence[Array],
    *,
    just_read: bool,
    chances: Sequence[float] | None = None,
) -> list[Measurement]:
    """What to measure next: the share of the doubt about whether the `margins` are positive it should remove.

    Each condition counts by its own doubt, chance times counter-chance; `chances` are those known better than
    by the draws alone.
    """
    shares = [float((margin > 0).mean()) for margin in margins] if chances is None else chances
    doubts = [share * (1.0 - share) for share in shares]
    total: dict[str, Measurement] = {}
    for doubt, margin in zip(doubts, margins, strict=True):
        if doubt < 1e-3:
            continue
        for one in measurements(found.posterior, just_read=just_read, about=margin):
            before = total[one.kind].removes if one.kind in total else 0.0
            total[one.kind] = Measurement(one.kind, one.label, before + doubt / sum(doubts) * one.removes)
    return sorted(total.values(), key=lambda one: -one.removes)


def _passed(found: Assessment, ons: list[datetime]) -> tuple[tuple[datetime, ...], Array, Array]:
    """Lights-ons that are over: moments, levels and the goal's quantity, both (m, n)."""
    posterior, timeline = found.posterior, found.posterior.model.timeline
    levels = posterior.levels_at(ons)
    days = [int(timeline.day[timeline.step_of(timeline.hour(at))]) for at in ons]
    return tuple(ons), levels, found.goal.quantity(posterior, levels, posterior.unknowns.day_ph[days])


def _coming(found: Assessment) -> tuple[tuple[datetime, ...], Array, Array]:
    """The same of the lights-on ahead, if nothing is touched."""
    posterior, ahead = found.posterior, found.ahead
    windows = ahead.standing or ((0.0, 0.0),)
    left = Schedule(windows, found.present_bps, is_new=False)
    edge = int(np.argmin(np.abs(ahead.hours.edges_h - max(ahead.lights_on_h, 0.0))))
    levels = levels_ahead(posterior, found.luck, ahead, [left])[edge]
    is_next = bool(ahead.hours.next_day[min(edge, ahead.hours.next_day.size - 1)])
    missed = found.luck.missed_ph(posterior, ahead.lights_on_h, is_next_day=is_next)
    return (ahead.moment(ahead.lights_on_h),), levels, found.goal.quantity(posterior, levels, missed)


def _gas(found: Assessment) -> Array:
    """What the present count brings [mg/L/h], shape (n,)."""
    unknowns = found.posterior.unknowns
    setting = unknowns.setting_log[-1] if unknowns.setting_log.size else 0.0
    log_gain = unknowns.drift_log[-1] + setting
    return np.asarray(unknowns["gain_mg_l_h_per_bps"] * np.exp(log_gain) * found.present_bps)


def _plateau(found: Assessment) -> Array:
    """Level at which loss balances the present gas in the dark [mg/L]: the balance at rest."""
    unknowns, gas = found.posterior.unknowns, _gas(found)
    source = gas + unknowns["kla_per_h"] * unknowns.air_co2_mg_l + unknowns["respiration_mg_l_h"]
    return np.asarray(source / (unknowns["kla_per_h"] + gas * unknowns["gain_fade"] / 30.0))


def _in_the_light(found: Assessment, level: Array) -> dict[str, Array]:
    """Why the level would fall after lights-on under the present gas: plants, or an overshoot."""
    unknowns, gas = found.posterior.unknowns, _gas(found)
    lost = (
        unknowns["kla_per_h"] * (level - unknowns.air_co2_mg_l) + gas * unknowns["gain_fade"] * level / 30.0
    )
    dark = (lost - gas - unknowns["respiration_mg_l_h"]) / level
    lit = dark + unknowns["uptake_mg_l_h"] / (level + HALF_SATURATION_MG_L)
    return {"overshoot": dark - 0.02, "uptake_over_gas": np.minimum(lit - 0.02, 0.02 - dark)}


def _of_the_cell(posterior: Posterior, records: Sequence[Record]) -> dict[str, Array]:
    """Whether the indicator cell's solution or its lag misleads."""
    strength = posterior.unknowns["cell_solution_log"]
    found = {"solution_strong": strength - OFF_LOG, "solution_weak": -strength - OFF_LOG}
    seen = [r for r in records if isinstance(r, CellSighting) and posterior.end - r.at <= CELL_STALE]
    if seen:
        ahead = np.log(tank_over_cell(posterior, seen[-1].at, seen[-1].at))
        found |= {"cell_behind_rise": ahead - OFF_LOG, "cell_behind_fall": -ahead - OFF_LOG}
    return found


def _lead_h(posterior: Posterior, on: datetime) -> float:
    """Hours of open gas in the twelve before lights-on."""
    timeline = posterior.model.timeline
    hour = timeline.hour(on)
    left, right = np.clip(timeline.edges_h[:-1], hour - 12.0, hour), np.clip(timeline.edges_h[1:], None, hour)
    return float(np.sum(np.maximum(right - left, 0.0) * (timeline.rate_bps > 0)))


def _close_before_h(posterior: Posterior, on: datetime) -> float | None:
    """Hours from the last open gas to lights-off; None where lights-off is still to come."""
    timeline, hours = posterior.model.timeline, posterior.model.tank.photoperiod.hours
    begin, end = timeline.hour(on), timeline.hour(on + timedelta(hours=hours))
    if end > timeline.edges_h[-1]:
        return None
    is_open = (timeline.rate_bps > 0) & (timeline.edges_h[:-1] < end) & (timeline.edges_h[1:] > begin)
    closes = np.minimum(timeline.edges_h[1:], end)[is_open]
    return float(end - closes.max()) if closes.size else hours
