"""From scores of tanks to the figures of the report."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from benchmarks._scoring import TankScore

FIRST_QUIET_DAY = 5
_RUN_WITH_QUIET_DAYS = 7
_SETTLING_DAYS = 3


def _mean(values: Sequence[float]) -> float | None:
    """The mean, or None of nothing."""
    return round(sum(values) / len(values), 6) if values else None


def summarise(scores: Sequence[TankScore], days: int) -> dict[str, Any]:
    """The figures of one policy over its tanks; shares of tanks, means over tanks, None where undefined."""

    def by_day(member: Callable[[TankScore], list[bool]]) -> list[float | None]:
        return [_mean([float(member(s)[day]) for s in scores]) for day in range(days)]

    def per_day(member: Callable[[TankScore], list[int]], first: int) -> float | None:
        if first > days:
            return None
        return _mean([sum(member(s)[first - 1 :]) / (days - first + 1) for s in scores])

    forecasts = [float(held) for s in scores for held in s.forecasts_held]
    quiet = None
    if days >= _RUN_WITH_QUIET_DAYS:
        first = FIRST_QUIET_DAY
        quiet = {
            "dialled_in_share": _mean([float(x) for s in scores for x in s.dialled_in[first - 1 :]]),
            "readings_per_day": per_day(lambda s: s.readings, first),
            "rate_changes_per_day": per_day(lambda s: s.rate_changes, first),
        }
    return {
        "dialled_in_by_day": by_day(lambda s: s.dialled_in),
        "lights_on_hit_by_day": by_day(lambda s: s.hit),
        "breach_share": _mean([float(s.breach) for s in scores]),
        "readings_per_day": _mean([(s.readings_before + sum(s.readings)) / days for s in scores]),
        "rate_changes_per_day_after_3": per_day(lambda s: s.rate_changes, _SETTLING_DAYS + 1),
        "quiet": quiet,
        "interval_coverage_90": _mean(forecasts),
        "seconds_per_tank": _mean([s.seconds for s in scores]),
    }


def whole_report(
    done: Sequence[Mapping[str, TankScore]], policies: Sequence[str], days: int, seed: int
) -> dict[str, Any]:
    """What goes into the JSON file, for the tanks that are done."""
    return {
        "policies": {name: summarise([tank[name] for tank in done], days) for name in policies},
        "tanks": len(done),
        "days": days,
        "seed": seed,
    }
