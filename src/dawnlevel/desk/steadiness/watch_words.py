"""A change in plain words: what it is, how large, since when, what to do next."""

from datetime import timedelta
from zoneinfo import ZoneInfo

from dawnlevel.desk.phrases import clock, day_text, span_text
from dawnlevel.desk.steadiness.watch import FindingView

SAID = {
    "injection_weaker": "less gas dissolves than before",
    "injection_stronger": "more gas dissolves than before",
    "exchange_faster": "CO2 leaves the water faster",
    "exchange_slower": "CO2 leaves the water more slowly",
    "uptake_higher": "the plants take up more",
    "uptake_lower": "the plants take up less",
    "start_late": "the gas opens late",
    "start_early": "the gas opens early",
    "start_missed": "the gas did not open",
    "stuck_open": "the gas stayed open overnight",
    "baseline_shift": "the water's pH is shifted (KH)",
    "probe_step": "the meter's pH is shifted",
    "probe_drift": "the meter's pH creeps",
    "gas_empty": "the gas has run out",
    "unsteady": "the gas is good one day and bad the next",
}
"""What each kind of change is called, by its machine name."""

NEXT: dict[str, tuple[tuple[str, str], ...]] = {
    "injection": (
        ("Weigh the cylinder or read its gauge.", "gear"),
        ("Once the cause is put right, plan the gas anew for what the tank gets now.", "plan"),
    ),
    "exchange": (
        ("If the surface is to stay as it is now, plan the gas anew for it.", "plan"),
        ("See what else may be behind it.", "trouble"),
    ),
    "uptake": (
        ("Plan the gas for what the plants take up now.", "plan"),
        ("Plants stall or algae grow? Look for the reason.", "trouble"),
    ),
    "start": (
        ("Set the timer right and write it down, so that the forecast counts with it.", "records"),
        ("See when the gas should open tomorrow.", "plan"),
    ),
    "stuck": (
        ("Work out what a night with open gas does to this tank.", "whatif"),
        ("Write down when the valve is mended.", "records"),
    ),
    "baseline": (
        ("Measure KH and write it down.", "records"),
        ("Read a fresh cup: the drop is counted from it.", "baseline"),
    ),
    "probe": (
        ("Read the probe in both buffers and write it down.", "gear"),
        ("If the buffers are right, measure KH and read a fresh cup.", "baseline"),
    ),
    "gas": (
        ("Put a full cylinder on and write it down.", "gear"),
        ("Plan the first day with the new cylinder gently.", "plan"),
    ),
    "unsteady": (
        ("Write down the count each day: equal counts clear the needle.", "records"),
        ("See what else may be behind it.", "trouble"),
    ),
}
"""What to do next and on which page, by the first word of the kind; common practice, no source."""

CAUTIONS = {
    "injection_stronger": "More gas than planned: watch the fish first. If they gasp or hang at the surface, "
    "close the gas and aerate at once.",
    "exchange_slower": "CO2 leaves more slowly, so the same gas lifts the level higher: watch the fish "
    "first, and aerate if they gasp.",
    "stuck_open": "Gas at night, with no light for the plants, can kill fish before morning: close the main "
    "valve in the evening until this is mended, and aerate if fish gasp.",
    "gas_empty": "A cylinder that runs empty may let its pressure rise just before the end: watch the fish. "
    "For cylinder and regulator follow your gas supplier and local codes.",
}
"""What to mind first where livestock or the cylinder is at stake; common practice, no source."""


def next_steps(kind: str) -> tuple[tuple[str, str], ...]:
    """What to do next and the page it is done on, for a kind of change."""
    return NEXT[kind.partition("_")[0]]


_SHARES = {
    "injection_weaker": "about {share} less",
    "exchange_slower": "about {share} less",
    "uptake_lower": "about {share} less",
    "injection_stronger": "about {share} more",
    "exchange_faster": "about {share} more",
    "uptake_higher": "about {share} more",
    "start_missed": "on {share} of the days since",
    "stuck_open": "on {share} of the nights since",
    "unsteady": "it scatters by {share} from day to day",
}


def size_text(one: FindingView) -> str:
    """How large a change is; empty where its kind says it."""
    if one.kind in _SHARES:
        return _SHARES[one.kind].format(share=f"{100.0 * abs(one.size):.0f} %")
    if one.kind in {"start_late", "start_early"}:
        return f"by {span_text(timedelta(hours=abs(one.size)))}"
    if one.kind == "probe_drift":
        return f"by {one.size:+.3f} pH a day"
    return "" if one.kind == "gas_empty" else f"by {one.size:+.2f} pH"


def since_text(one: FindingView, zone: ZoneInfo) -> str:
    """The day from which on: `Wed 22 Apr 2026`."""
    return day_text(one.since.astimezone(zone))


def between_text(one: FindingView, zone: ZoneInfo) -> str:
    """Between which moments it began."""
    first, last = one.since_earliest.astimezone(zone), one.since_latest.astimezone(zone)
    return f"between {day_text(first)} {clock(first)} and {day_text(last)} {clock(last)}"
