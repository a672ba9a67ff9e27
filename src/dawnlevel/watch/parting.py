"""Which kind of change a keeper's few figures speak for: gas, exchange, timer, the water's KH or the meter.

Each kind moves the figures in its own way: less gas lowers the level and the cell and leaves the baseline cup
alone; a meter that jumps moves every pH and no cell; water whose KH changed moves every pH and the KH count.
What each figure moved by, before and after the change, is compared with that; sizes are summed over a grid.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.watch.steady import Series

Floats = npt.NDArray[np.float64]

LN10 = float(np.log(10.0))
LEVEL, REST, CUP, KH, CELL = "level", "rest", "cup", "kh", "cell"
"""The figures: ln CO2 against what the gas recorded should give; pH before the gas; pH of the baseline cup;
ln KH; ln CO2 by the indicator cell."""

BEFOREHAND = {
    "injection": 0.4,
    "exchange": 0.15,
    "start": 0.08,
    "start_missed": 0.07,
    "baseline_shift": 0.15,
    "probe_step": 0.15,
}
"""Chances before anything is read; judgement."""

_SHARES = np.concatenate([-np.geomspace(0.06, 0.9, 16), np.geomspace(0.06, 0.9, 16)])
_STEPS_PH = np.concatenate([-np.geomspace(0.03, 0.5, 16), np.geomspace(0.03, 0.5, 16)])
_HOURS = np.concatenate([-np.geomspace(0.25, 3.0, 10), np.geomspace(0.25, 4.0, 10)])
_MISSED = -np.geomspace(1.0, 3.0, 8)
_REST_MG_L = 2.0  # what air and animals hold a tank at without gas (judgement)
_MODEL_SHARE = 0.35  # how well an effect on a figure is known, as a share of it (judgement)


@dataclass(frozen=True, slots=True)
class Situation:
    """How the tank is run.

    Exchange [1/h], gas before lights-on [h], CO2 then [mg/L], from the gas's end to the reading at rest [h].
    """

    kla_per_h: float
    lead_h: float
    co2_mg_l: float
    dark_h: float


@dataclass(frozen=True, slots=True)
class Moved:
    """What a figure moved by when something changed, with its sd, in the figure's unit."""

    name: str
    shift: float
    error: float


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of change with its chance among all kinds, and its size in its own unit."""

    name: str
    chance: float
    size: float


def moved(series: Series, begin_d: float, before_d: float, after_d: float, end_d: float) -> Moved | None:
    """Figures from `after_d` to `end_d` against those from `begin_d` up to `before_d`; None without both."""
    known = np.isfinite(series.values)
    early = known & (series.days >= begin_d) & (series.days <= before_d)
    late = known & (series.days >= after_d) & (series.days <= end_d)
    counts = int(early.sum()), int(late.sum())
    if not all(counts):
        return None
    parts = [series.values[early], series.values[late]]
    stated = float(np.median(series.errors[known]))
    squares = sum(float(((part - part.mean()) ** 2).sum()) for part in parts)
    scatter = np.sqrt(squares / max(sum(counts) - 2, 1)) if sum(counts) > 3 else stated
    error = max(float(scatter), stated) * np.sqrt(1.0 / counts[0] + 1.0 / counts[1])
    return Moved(series.name, float(parts[1].mean() - parts[0].mean()), float(error))


def kinds_of(moves: Sequence[Moved], run: Situation, *, clocks_changed: bool = False) -> tuple[Kind, ...]:
    """The kinds that could have moved the figures so, likeliest first; chances add up to 1.

    `clocks_changed`: whether the zone's clocks changed about then, so that timers may be an hour off.
    """
    logs, sizes = {}, {}
    for kind, chance in BEFOREHAND.items():
        tried = _sizes(kind)
        shifts = effects(kind, tried, run)
        found = np.zeros(tried.size)
        for one in moves:
            effect = shifts.get(one.name, np.zeros(tried.size))
            spread = np.hypot(one.error, _MODEL_SHARE * np.abs(effect) * (one.name != LEVEL))
            found -= 0.5 * ((one.shift - effect) / spread) ** 2 + np.log(spread / one.error)
        top = float(found.max())
        more = 6.0 if kind == "start" and clocks_changed else 1.0
        logs[kind] = np.log(chance * more) + top + float(np.log(np.exp(found - top).mean()))
        sizes[kind] = float(tried[np.argmax(found)])
    best = max(logs.values())
    weights = {kind: float(np.exp(log - best)) for kind, log in logs.items()}
    total = sum(weights.values())
    kinds = [Kind(_named(kind, sizes[kind]), weights[kind] / total, sizes[kind]) for kind in weights]
    return tuple(sorted(kinds, key=lambda one: -one.chance))


def effects(kind: str, sizes: Floats, run: Situation) -> Mapping[str, Floats]:
    """What a change of `sizes` does to each figure it moves, shape (sizes,) each.

    Sizes: ln of the gas or of the exchange, hours the gas opens later, pH of a shift.
    """
    match kind:
        case "injection" | "start_missed":
            return {LEVEL: sizes, CELL: sizes, REST: _at_rest(sizes, run)}
        case "exchange":
            level = _log_rise(run.kla_per_h * np.exp(sizes), run.lead_h) - _log_rise(
                np.full_like(sizes, run.kla_per_h), run.lead_h
            )
            gone = level - run.kla_per_h * np.expm1(sizes) * run.dark_h
            return {LEVEL: level, CELL: level, REST: _at_rest(gone, run)}
        case "start":
            rate = np.full_like(sizes, run.kla_per_h)
            shorter = np.maximum(run.lead_h - sizes, 0.1)
            level = _log_rise(rate, shorter) - _log_rise(rate, run.lead_h)
            return {LEVEL: level, CELL: level}
        case "baseline_shift":
            return {LEVEL: -LN10 * sizes, REST: sizes, CUP: sizes, KH: LN10 * sizes}
        case _:
            return {LEVEL: -LN10 * sizes, REST: sizes, CUP: sizes}


def _log_rise(kla_per_h: Floats, lead_h: float | Floats) -> Floats:
    """Ln of the level that a constant gas reaches after so many hours, up to a constant."""
    return np.asarray(np.log(-np.expm1(-kla_per_h * lead_h) / kla_per_h))


def _at_rest(log_shift: Floats, run: Situation) -> Floats:
    """What is left in the morning of gas that is `exp(log_shift)` times as much, as pH."""
    left = run.co2_mg_l * np.exp(-run.kla_per_h * run.dark_h)
    return np.asarray(-np.log10((_REST_MG_L + left * np.exp(log_shift)) / (_REST_MG_L + left)))


def _sizes(kind: str) -> Floats:
    if kind == "start_missed":
        return _MISSED
    if kind == "start":
        return _HOURS
    return _STEPS_PH if kind in {"baseline_shift", "probe_step"} else _SHARES


def _named(kind: str, size: float) -> str:
    names = {
        "injection": ("injection_weaker", "injection_stronger"),
        "exchange": ("exchange_slower", "exchange_faster"),
        "start": ("start_early", "start_late"),
    }
    return names[kind][int(size > 0.0)] if kind in names else kind
