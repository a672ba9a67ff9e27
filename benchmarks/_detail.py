"""Everything about one policy on one tank, day by day, as plain data for the detail file."""

import math
from dataclasses import asdict
from typing import Any

from benchmarks._causes import find_cause
from benchmarks._goal import Goal
from benchmarks._said import DaySaid
from benchmarks._scoring import GasDay, first_breach, gas_day
from benchmarks._watched import Sample, Watched

_DIGITS = 4


def detail(watched: Watched, goal: Goal, days: int, stopped_h: float) -> dict[str, Any]:
    """The tank's card, each day's course, what was said for it, and why it failed if it did.

    Causes are sought only where advice was noted; `stopped_h` is when the policy stopped with an error [h].
    """
    played = [_day(watched, goal, gas_day(watched, goal, day), stopped_h) for day in range(1, days + 1)]
    found: dict[str, Any] = rounded(
        {
            "card": watched.card(),
            "quantity": goal.quantity,
            "days": played,
            "breach": _breach(watched, goal),
        }
    )
    return found


def _day(watched: Watched, goal: Goal, day: GasDay, stopped_h: float) -> dict[str, Any]:
    said = watched.report.days.get(day.number)
    noted = bool(watched.report.days) or math.isfinite(stopped_h)
    cause = asdict(find_cause(watched, goal, day, stopped_h)) if noted and not day.dialled_in else None
    return {
        "day": day.number,
        "hit": day.hit,
        "dialled_in": day.dialled_in,
        "lights_on_h": day.lights_on,
        "at_lights_on": _sample(day.at_lights),
        "gas_closed_h": day.closed_at,
        "left_band_h": day.left_at,
        "said": asdict(said) if said is not None else None,
        "last_forecast": _last_forecast(said),
        "cause": cause,
    }


def _sample(sample: Sample | None) -> dict[str, float | None] | None:
    if sample is None:
        return None
    return {name: None if math.isnan(value) else value for name, value in asdict(sample).items()}


def _last_forecast(said: DaySaid | None) -> dict[str, Any] | None:
    """The forecast of lights-on that counts: the one made at the last reading."""
    forecast = said.last_forecast() if said is not None else None
    return asdict(forecast) if forecast is not None else None


def _breach(watched: Watched, goal: Goal) -> dict[str, Any] | None:
    """The first moment above the ceiling or the band's top + 0.15, with the chance of it stated before."""
    first = first_breach(watched, goal)
    if first is None:
        return None
    day = math.floor(first.hour / 24.0)
    said = watched.report.days.get(day, DaySaid())
    told = [look.breach_if_done for look in said.looks if look.hour <= first.hour]
    stated = next((chance for chance in reversed(told) if chance is not None), None)
    if stated is None and said.planned is not None:
        stated = said.planned.chance_breach
    over = first.co2_mg_l > float(str(watched.card()["co2_limit_mg_l"]))
    return {
        "day": day,
        "hour": first.hour,
        "co2_mg_l": first.co2_mg_l,
        "what": "ceiling" if over else "drop",
        "stated": stated,
    }


def rounded(value: Any) -> Any:  # noqa: ANN401 - any JSON
    """The same data with figures that a person can read; infinite and undefined ones become None."""
    if isinstance(value, float):
        return round(value, _DIGITS) if math.isfinite(value) else None
    if isinstance(value, dict):
        return {key: rounded(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [rounded(inner) for inner in value]
    return value
