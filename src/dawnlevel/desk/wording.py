"""Numbers as a keeper says them; one place, so that every face says the same."""

from datetime import datetime

from dawnlevel.estimate.posterior import Interval
from dawnlevel.plan.goal import BREACH_DROP, Goal
from dawnlevel.tank import TargetKind

_COUNT_S = 20


def rate_text(rate_bps: float) -> str:
    """A rate with the count that checks it: `1.5 bubbles/s (30 in 20 s)`."""
    return (
        f"{rate_bps:.2f}".rstrip("0").rstrip(".")
        + f" bubbles/s ({round(rate_bps * _COUNT_S)} in {_COUNT_S} s)"
    )


def clock_text(moment: datetime) -> str:
    """Wall-clock time, HH:MM."""
    return f"{moment:%H:%M}"


def percent(share: float) -> str:
    """A chance in whole percent; the ends say so rather than promise."""
    if share < 0.005:
        return "under 1 %"
    if share > 0.995:
        return "over 99 %"
    return f"{100 * share:.0f} %"


def level_text(value: Interval) -> str:
    """CO2 with its 90 % interval."""
    return f"{value.median:.1f} mg/L (9 in 10: {value.low_90:.1f} to {value.high_90:.1f})"


def drop_text(value: Interval) -> str:
    """A pH drop with its 90 % interval."""
    return f"a drop of {value.median:.2f} (9 in 10: {value.low_90:.2f} to {value.high_90:.2f})"


def drop_or_level(goal: Goal, shown: Interval) -> str:
    """The goal's quantity, already in the keeper's unit, with its interval."""
    return drop_text(shown) if goal.kind is TargetKind.DROP else level_text(shown)


def over_text(goal: Goal) -> str:
    """What no day may pass: the livestock ceiling, and for a drop its own bound."""
    drop = f" or a drop of {goal.high + BREACH_DROP:.2f}" if goal.kind is TargetKind.DROP else ""
    return f"the ceiling of {goal.ceiling_mg_l:g} mg/L{drop}"


def band_text(goal: Goal) -> str:
    """The band in the keeper's unit."""
    if goal.kind is TargetKind.DROP:
        return f"{goal.low:.2f} to {goal.high:.2f}"
    return f"{goal.shown(goal.low):.0f} to {goal.shown(goal.high):.0f} mg/L"
