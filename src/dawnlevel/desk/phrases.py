"""Views in a keeper's words: one place, so that every face says the same."""

import bisect
from datetime import UTC, date, datetime, timedelta

from dawnlevel.desk.views import BandView, CurveView, Phase, PictureView
from dawnlevel.desk.wording import percent
from dawnlevel.estimate.posterior import Interval
from dawnlevel.plan.fish import DISTRESS_STEPS
from dawnlevel.plan.goal import BREACH_DROP

PHASES = {
    Phase.ALARM: "FISH IN DISTRESS",
    Phase.OVER: "CO2 ABOVE THE CEILING",
    Phase.UNEASY: "fish uneasy",
    Phase.WAITING: "gas not open yet",
    Phase.RAMP: "gas open, level rising",
    Phase.HOLDING: "lights on, gas open",
    Phase.FALLING: "gas closed for today",
    Phase.NO_PLAN: "no plan for the gas yet",
}


def spread(value: Interval, digits: int) -> str:
    """The interval in words."""
    return (
        f"even odds {value.low_50:.{digits}f} to {value.high_50:.{digits}f}, "
        f"9 in 10: {value.low_90:.{digits}f} to {value.high_90:.{digits}f}"
    )


def day_text(moment: datetime) -> str:
    """A day as people write it: `Mon 4 May 2026`."""
    return f"{moment:%a} {moment.day} {moment:%b %Y}"


def date_text(day: date) -> str:
    """A date as people write it: `4 May 2026`."""
    return f"{day.day} {day:%b %Y}"


def clock(moment: datetime) -> str:
    """Wall-clock time to the nearest minute."""
    return f"{moment + timedelta(seconds=30):%H:%M}"


def span_text(length: timedelta) -> str:
    """A length of time: `2 h 5 min`."""
    minutes = round(length / timedelta(minutes=1))
    hours, rest = divmod(abs(minutes), 60)
    return f"{hours} h {rest} min" if hours and rest else f"{hours} h" if hours else f"{rest} min"


def time_left(start: datetime, end: datetime) -> timedelta:
    """The time that passes from one moment to another, also where the clocks change in between."""
    return end.astimezone(UTC) - start.astimezone(UTC)


def chance(share: float | None) -> str:
    """A chance, or a dash where there is none."""
    return "-" if share is None else percent(share)


def quantity_text(value: float, band: BandView) -> str:
    """The target's quantity as keepers say it."""
    return f"drop {value:.2f}" if band.unit == "pH drop" else f"{value:.1f} mg/L"


def band_text(band: BandView) -> str:
    """The target, what it means in the other unit, and the ceiling."""
    is_drop = band.unit == "pH drop"
    text = f"drop {band.low:.2f} to {band.high:.2f}" if is_drop else f"{band.low:.0f} to {band.high:.0f} mg/L"
    other = band_in_other(band)
    return f"{text}{f', here {other}' if other else ''}; ceiling {band.ceiling_mg_l:g} mg/L"


def band_in_other(band: BandView) -> str:
    """What the target means in the other unit; empty where that is not known."""
    low, high = band.low_in_other, band.high_in_other
    if low is None or high is None:
        return ""
    if band.other_unit == "mg/L":
        return f"about {low.median:.0f} to {high.median:.0f} mg/L"
    return f"a drop of about {low.median:.2f} to {high.median:.2f}"


def bound_text(band: BandView) -> str:
    """What no day may pass: `30 mg/L or a drop of 1.35`."""
    drop = f" or a drop of {band.high + BREACH_DROP:.2f}" if band.unit == "pH drop" else ""
    return f"{band.ceiling_mg_l:g} mg/L{drop}"


def until_text(until: datetime | None) -> str:
    """Until when the chance of passing it counts; empty for the whole day."""
    return "" if until is None else f"until {clock(until)}, when your readings can correct it"


def say_picture(picture: PictureView, lights_on: datetime, now_word: str = "now") -> str:
    """What the picture says, in one sentence; days are named where it shows more than one lights-on.

    `now_word` is what its present is called where it will be read later.
    """
    curve, now = picture.curve, picture.now
    is_long = curve.at[-1] - now > timedelta(days=1)

    def when(moment: datetime) -> str:
        return f"{moment:%a} {clock(moment)}" if is_long else clock(moment)

    _, begin, _ = levels_at(curve, curve.at[0])
    _, middle, _ = levels_at(curve, now)
    shown = f"The picture shows about {begin:.0f} mg/L at {when(curve.at[0])}"
    parts = [f"{shown}, {middle:.0f} {now_word} ({when(now)})"]
    if now < lights_on <= curve.at[-1]:
        low, on, high = levels_at(curve, lights_on)
        parts.append(f"{on:.0f} ({low:.0f} to {high:.0f}) at lights-on, {when(lights_on)}")
    if curve.at[-1] > now:
        parts.append(f"{levels_at(curve, curve.at[-1])[1]:.0f} at {when(curve.at[-1])}")
    levels = f"{', '.join(parts[:-1])} and {parts[-1]}" if parts[1:] else parts[0]
    return (
        f"{levels}; the target lies between {picture.band_low_mg_l:.0f} and {picture.band_high_mg_l:.0f}, "
        f"the ceiling at {picture.ceiling_mg_l:.0f}."
    )


def gas_runs(until: datetime) -> str:
    """What to mind when a plan for a later day is set while today's gas still flows."""
    return f"Today's gas runs until {clock(until)}: set this after that, or today changes too."


def distress_steps() -> tuple[str, ...]:
    """What to do when fish are in distress, in order."""
    return DISTRESS_STEPS


def levels_at(curve: CurveView, moment: datetime) -> tuple[float, float, float]:
    """Lower 90 % bound, median and upper bound at a moment, linear in between [mg/L]."""
    seconds = [one.timestamp() for one in curve.at]  # differences of wall clocks would miss a change of them
    right = min(max(bisect.bisect_left(seconds, moment.timestamp()), 1), len(seconds) - 1)
    left = right - 1
    length = max(seconds[right] - seconds[left], 1.0)
    share = min(max((moment.timestamp() - seconds[left]) / length, 0.0), 1.0)
    low, middle, high = (
        (1 - share) * rows[left] + share * rows[right] for rows in (curve.low_90, curve.median, curve.high_90)
    )
    return low, middle, high
