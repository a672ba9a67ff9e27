"""What the benchmarks are to reach, beside what they reached."""

from collections.abc import Mapping
from typing import Any

from benchmarks._shares import Figure

PERCENT, PLAIN = "%", ""


def goals(figures: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Every goal whose figures are there: what, the figure measured, unit, the goal, whether it is met."""
    rows: list[dict[str, Any]] = []
    runs = figures["runs"]
    if "tuning" in runs:
        rows += _tuning(runs["tuning"]["policies"]["dawnlevel"], figures["coverage"]["tuning"])
    if "level" in runs:
        rows += _level(runs["level"]["policies"]["dawnlevel"], figures["coverage"]["level"])
    return rows + _speed(figures)


def _tuning(found: Mapping[str, Any], held: Mapping[str, Any]) -> list[dict[str, Any]]:
    by_day = found["dialled_in_by_day"]
    rows = [
        _least(f"dialled in on day {day}", by_day[day - 1], least)
        for day, least in ((1, 0.85), (2, 0.96), (3, 0.97), (4, 0.97))
        if len(by_day) >= day
    ]
    tuning, quiet = found["tuning"], found["quiet"]
    rows += [
        _most("tank-days with more than 8 readings, days 1 to 4", tuning["days_over_most"], 0.0, PERCENT),
        _least("dialled in, share of tank-days from day 5 on", quiet["dialled_in"], 0.93),
        _most("needle changes a day from day 5 on", quiet["rate_changes"], 0.3, PLAIN),
        _most("readings a day from day 5 on", quiet["readings"], 1.5, PLAIN),
        _most("tanks with any breach", found["breach"], 0.01, PERCENT),
        _between("lights-on pH within its 90 % interval", held["ph"]["held_90"], 0.86, 0.94),
        _most("processor seconds per tank-day", found["cpu_seconds_per_day"], 1.0, PLAIN),
    ]
    return rows


def _level(found: Mapping[str, Any], held: Mapping[str, Any]) -> list[dict[str, Any]]:
    hit = found["hit_by_day"]
    what = "20-30 mg/L, aerated cup: true CO2 "
    rows = [_least(f"{what}in the band at lights-on of day 2", hit[1], 0.85)] if hit[1:] else []
    return [*rows, _between(f"{what}within its 90 % interval", held["co2_mg_l"]["held_90"], 0.86, 0.94)]


def _speed(figures: Mapping[str, Any]) -> list[dict[str, Any]]:
    rows = []
    if "chemistry" in figures:
        ratios, wanted = figures["chemistry"]["ratios"], figures["chemistry"]["goals"]
        for key, name in (("pyco2sys", "PyCO2SYS"), ("phreeqc", "PHREEQC")):
            rows.append(_least(f"{name}'s time a point over ours", _alone(ratios[key]), wanted[key], PLAIN))
    if "advice" in figures:
        advice, sampler = figures["advice"]["advice"], figures["advice"]["sampler"]
        median, ratio = _alone(advice["median_processor_ms"]), _alone(sampler["ratio"])
        rows.append(_most("one new reading to new advice, processor ms", median, advice["goal_ms"], PLAIN))
        rows.append(_least("effective draws a second over emcee's", ratio, sampler["goal"], PLAIN))
    return rows


def _alone(value: float) -> Figure:
    """A figure measured once, without an interval."""
    return {"value": value, "low": None, "high": None, "n": 1}


def _least(what: str, figure: Figure, least: float, unit: str = PERCENT) -> dict[str, Any]:
    return _row(what, figure, unit, f"at least {_text(least, unit)}", (least, None))


def _most(what: str, figure: Figure, most: float, unit: str) -> dict[str, Any]:
    return _row(what, figure, unit, f"at most {_text(most, unit)}", (None, most))


def _between(what: str, figure: Figure, low: float, high: float) -> dict[str, Any]:
    return _row(what, figure, PERCENT, f"{100 * low:g} to {100 * high:g} %", (low, high))


def _row(
    what: str, figure: Figure, unit: str, goal: str, ends: tuple[float | None, float | None]
) -> dict[str, Any]:
    (low, high), value, met = ends, figure["value"], None
    if value is not None:
        met = (low is None or value >= low) and (high is None or value <= high)
    return {"what": what, "measured": figure, "unit": unit, "goal": goal, "met": met}


def _text(value: float, unit: str) -> str:
    return f"{100.0 * value:g} %" if unit == PERCENT else f"{value:g}"
