"""What oxygen readings tell: possible tanks that agree with them count more, in all that follows."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import numpy.typing as npt

from dawnlevel.balance.oxygen import Breath, oxygen_levels
from dawnlevel.chemistry import oxygen_saturation_mg_l
from dawnlevel.estimate.posterior import Posterior
from dawnlevel.plan.daynight import (
    DAY_H,
    Waters,
    co2_ahead,
    oxygen_ahead,
    script_ahead,
    uptake,
    waters,
)
from dawnlevel.tank import OxygenReading, Record, Tank
from dawnlevel.units import hpa_to_atm

Array = npt.NDArray[np.float64]

READ_SD_MG_L = 0.5
"""Sd [mg/L] of a reading of which nothing is said: drop kits go in steps of 1 mg/L; common practice, no
source."""

MISSED_SD_MG_L = 0.3
"""Sd [mg/L] of what a well-mixed balance misses at one place and moment; judgement."""

OLD_SD_MG_L = 0.8
"""Sd [mg/L] that a month adds to what a reading says of today: plants grow, animals are fed; judgement."""

COUNTS_D = 30.0
"""Days for which a reading counts; own choice."""

_COPIES = 12
"""Oxygen's unknowns drawn for each draw of the CO2 balance."""

_PAST_H, _SETTLED_H, _STEP_H = 72.0, 24.0, 0.25
_LEAST_EFFECTIVE = 64.0
_SLIP = 0.01  # share of readings that are slips of eye or pen, as the estimate takes it for pH


@dataclass(frozen=True, slots=True)
class OxygenTold:
    """Possible tanks after the oxygen readings.

    Attributes:
        water: the draws, equally weighted.
        counted: the readings that count, as mg/L with their sd [mg/L]; the oldest first.
        efficiency: share of the draws that agreed with them; 1 without readings.
    """

    water: Waters
    counted: tuple[tuple[OxygenReading, float, float], ...]
    efficiency: float


def read_mg_l(reading: OxygenReading, tank: Tank, pressure_atm: float) -> float:
    """What a reading says in mg/L; percent count from what the air gives at its temperature and pressure.

    `pressure_atm` [atm] is the tank's own, where the reading has none. Source: Benson & Krause 1980/84.
    """
    if reading.oxygen_mg_l is not None:
        return reading.oxygen_mg_l
    temp_c = tank.temp_c if reading.temp_c is None else reading.temp_c
    pressure = pressure_atm if reading.pressure_hpa is None else float(hpa_to_atm(reading.pressure_hpa))
    saturation = float(oxygen_saturation_mg_l(temp_c, pressure))
    return 0.01 * (reading.saturation_percent or 0.0) * saturation


def oxygen_told(
    posterior: Posterior, records: Sequence[Record], rate_bps: float, rng: np.random.Generator
) -> OxygenTold:
    """The posterior's draws as the oxygen readings among `records` (sorted by time) weigh them.

    `rate_bps` [bubbles/s] is the needle's present setting. Without readings the draws of `waters`. A reading
    of the last three days is held against that day as it was lived; an older one, or one of the first day,
    against the day that repeats as set now.
    """
    end = posterior.end
    kept = [
        one
        for one in records
        if isinstance(one, OxygenReading) and timedelta(0) <= end - one.at <= timedelta(days=COUNTS_D)
    ]
    if not kept:
        return OxygenTold(waters(posterior, rate_bps, rng), (), 1.0)
    many = replicated(posterior, rate_bps, rng)
    tank, pressure = posterior.model.tank, posterior.model.pressure_atm
    seen = [(one, read_mg_l(one, tank, pressure), _sd(one, end)) for one in kept]
    expected = _expected(posterior, many, records, [one.at for one in kept])
    weights = _weights(expected, np.array([row[1] for row in seen]), np.array([row[2] for row in seen]))
    chosen = _resampled(weights, posterior.size, rng)
    efficiency = float(1.0 / np.sum(weights**2) / weights.size)
    return OxygenTold(_picked(many, chosen), tuple(seen), efficiency)


def replicated(posterior: Posterior, rate_bps: float, rng: np.random.Generator) -> Waters:
    """Each draw of the posterior with `_COPIES` draws of what the CO2 balance does not tell of oxygen."""
    return _joined([waters(posterior, rate_bps, rng) for _ in range(_COPIES)])


def _sd(reading: OxygenReading, end: datetime) -> float:
    """How far a reading may lie from what the balance says of it [mg/L]."""
    months = (end - reading.at) / timedelta(days=COUNTS_D)
    error = READ_SD_MG_L if reading.error_mg_l is None else reading.error_mg_l
    return float(np.sqrt(error**2 + MISSED_SD_MG_L**2 + OLD_SD_MG_L**2 * months))


def _expected(
    posterior: Posterior, many: Waters, records: Sequence[Record], moments: list[datetime]
) -> Array:
    """Oxygen at the moments [mg/L], shape (readings, draws)."""
    lived = [_is_lived(posterior, at) for at in moments]
    found = np.empty((len(moments), many.start_mg_l.size))
    if any(lived):
        found[lived] = _as_lived(posterior, many, [at for at, was in zip(moments, lived, strict=True) if was])
    if not all(lived):
        others = [at for at, was in zip(moments, lived, strict=True) if not was]
        found[[not was for was in lived]] = _as_repeated(posterior, many, records, others)
    return found


def _is_lived(posterior: Posterior, at: datetime) -> bool:
    """Whether the records tell the day before `at`."""
    since = max(posterior.model.timeline.origin, posterior.end - timedelta(hours=_PAST_H))
    return at - since >= timedelta(hours=_SETTLED_H)


def _as_lived(posterior: Posterior, many: Waters, moments: list[datetime]) -> Array:
    """Oxygen by the levels and lights of the days just lived."""
    timeline = posterior.model.timeline
    last = timeline.hour(posterior.end)
    first = max(0.0, last - _PAST_H)
    edges = np.linspace(first, last, max(round((last - first) / _STEP_H), 1) + 1)
    middles = 0.5 * (edges[1:] + edges[:-1])
    light = np.array([timeline.light[timeline.step_of(hour)] for hour in middles])
    co2 = np.tile(posterior.levels_at([timeline.moment(hour) for hour in middles]), (1, _COPIES))
    start = np.full(many.start_mg_l.size, many.breath.saturation_mg_l)
    taken_up = light[:, None] * uptake(many, co2)
    oxygen = oxygen_levels(start, many.breath, np.diff(edges), light, taken_up, np.ones(light.size))
    return oxygen[[int(np.argmin(np.abs(edges - timeline.hour(at)))) for at in moments]]


def _as_repeated(
    posterior: Posterior, many: Waters, records: Sequence[Record], moments: list[datetime]
) -> Array:
    """Oxygen at the same hour of the day that repeats as set now."""
    script, _ = script_ahead(posterior.model.tank, records, posterior.end)
    oxygen = oxygen_ahead(many, script, co2_ahead(many, script))
    ago = [(posterior.end - at) / timedelta(hours=1) for at in moments]
    return oxygen[[script.edge(2.0 * DAY_H - hours % DAY_H) for hours in ago]]


def _weights(expected: Array, seen_mg_l: Array, sd_mg_l: Array) -> Array:
    """Weights of the draws, shape (n,), sum 1; where hardly any agrees, readings are read more coarsely."""
    off = (expected - seen_mg_l[:, None]) / sd_mg_l[:, None]
    for coarser in (1.0, 1.5, 2.0, 3.0, 5.0):
        density = (1.0 - _SLIP) * np.exp(-0.5 * (off / coarser) ** 2) + _SLIP * 0.05
        logs = np.log(density).sum(axis=0)
        weights = np.exp(logs - logs.max())
        weights /= weights.sum()
        if 1.0 / np.sum(weights**2) >= _LEAST_EFFECTIVE:
            break
    return np.asarray(weights)


def _resampled(weights: Array, n: int, rng: np.random.Generator) -> npt.NDArray[np.intp]:
    """Indices of n draws in proportion to their weights, by systematic resampling."""
    places = (rng.random() + np.arange(n)) / n
    return np.asarray(np.minimum(np.searchsorted(np.cumsum(weights), places), weights.size - 1))


def _joined(parts: Sequence[Waters]) -> Waters:
    return _each(parts[0], lambda read: np.concatenate([read(part) for part in parts]))


def _picked(many: Waters, chosen: npt.NDArray[np.intp]) -> Waters:
    return _each(many, lambda read: read(many)[chosen])


def _each(like: Waters, make: Callable[[Callable[[Waters], Array]], Array]) -> Waters:
    """`like` with each of its arrays made anew by `make`, which is handed what reads that array."""
    breath: dict[str, Any] = {
        name: make(lambda water, name=name: getattr(water.breath, name))  # type: ignore[misc]  # bound here
        for name in (one.name for one in fields(Breath))
        if name != "saturation_mg_l"
    }
    rest: dict[str, Any] = {
        name: make(lambda water, name=name: getattr(water, name))  # type: ignore[misc]  # bound here
        for name in (one.name for one in fields(Waters))
        if name != "breath"
    }
    return replace(like, breath=replace(like.breath, **breath), **rest)
