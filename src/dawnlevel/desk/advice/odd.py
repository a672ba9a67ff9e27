"""What Today says of readings that do not fit: read again after one, look for what changed after several."""

from datetime import timedelta

from dawnlevel.desk.casebook import Case
from dawnlevel.desk.views import ActionView
from dawnlevel.desk.wording import clock_text, percent
from dawnlevel.plan.odd import CHANGED, OddReading
from dawnlevel.plan.over import OVER_LIKELY, READ_LATELY, over_ceiling

_AGAIN = (
    "Rinse the probe, wait until it shows the same for a minute, and record what it shows.",
    "Look at the counter meanwhile: do bubbles pass as recorded?",
    "If it shows the same again, the tank has changed: what to look for is told then.",
)

_LESS = (
    "Cylinder and gauge: is there gas? Counter, hose, diffuser: does it pass?",
    "The timer and the valve: are they open when recorded?",
    "All well there: count KH, which a water change moves, and check the meter in a buffer.",
    "Record what you find: an exchange, a count, the gas opened or closed by hand, KH.",
)
_MORE = (
    "Does the valve close when the timer does? Is the count as recorded?",
    "Does the surface move as it did?",
    "All well there: count KH, which a water change moves, and check the meter in a buffer.",
    "Watch the fish. Record what you find: a count, the gas opened or closed by hand, KH.",
)
"""What to look at, the likeliest first; common practice, no source."""

_LOOKED_FOR, _LOOKED_FOR_TIME = 3, timedelta(hours=8)
"""Readings and hours for which the change is looked for before the day is steered again; own choice."""


def reads_again(case: Case) -> OddReading | None:
    """The one late reading that is to be taken again; None where there is none such."""
    odd = case.found.odd
    if len(odd) != 1 or case.now - odd[0].at > READ_LATELY:
        return None
    return odd[0]


def odd_action(case: Case) -> ActionView | None:
    """Read again after one reading that does not fit, look for the change after more; None: nothing such."""
    again = reads_again(case)
    if again is not None:
        return _again(case, again)
    odd = case.found.odd
    is_new = CHANGED <= len(odd) <= _LOOKED_FOR and case.now - odd[0].at <= _LOOKED_FOR_TIME
    return _find_change(odd) if is_new else None


def _find_change(odd: tuple[OddReading, ...]) -> ActionView:
    is_less = odd[-1].is_less
    text = "See whether gas flows before you touch the needle." if is_less else "See what brings more CO2."
    reason = (
        f"The last {len(odd)} readings ({_shown(odd)}) do not fit what was read before (expected "
        f"{odd[-1].expected_ph:.2f}): the tank has changed."
    )
    steps = _LESS if is_less else _MORE
    return ActionView("find_change", text, reason, steps=steps)


def _shown(odd: tuple[OddReading, ...]) -> str:
    earlier = "..., " if len(odd) > _LOOKED_FOR else ""
    return earlier + ", ".join(f"{one.ph:.2f}" for one in odd[-_LOOKED_FOR:])


def _again(case: Case, odd: OddReading) -> ActionView:
    """Read again, and close the gas until then where the reading stands for a level above the ceiling."""
    over = over_ceiling(odd.co2_mg_l, case.found.goal.ceiling_mg_l)
    reason = (
        f"pH {odd.ph:.2f} at {clock_text(case.local(odd.at))} is far from what your records expect "
        f"({odd.expected_ph:.2f}): a slip, or the tank has changed."
    )
    if over < OVER_LIKELY:
        return ActionView("read_again", "Read pH again now.", reason, steps=_AGAIN)
    reason += (
        f" If it is right, CO2 is above the ceiling of {case.found.goal.ceiling_mg_l:g} mg/L (chance "
        f"{percent(over)})."
    )
    steps = ("Watch the fish.", *_AGAIN)
    if case.found.gas_is_open:
        return ActionView("close_and_read", "Close the gas and read pH again now.", reason, steps=steps)
    text = "Read pH again now, and see that the gas is closed."
    return ActionView("read_again", text, reason, steps=steps)


def odd_note(case: Case) -> str:
    """What readings that do not fit mean, for the notes; empty where all fit or one is to be taken again."""
    odd = case.found.odd
    if not odd or reads_again(case) is not None:
        return ""
    if len(odd) < CHANGED:
        at = case.local(odd[0].at)
        return (
            f"pH {odd[0].ph:.2f} of {at:%a} {at:%H:%M} does not fit the other records (they expect "
            f"{odd[0].expected_ph:.2f}) and counts for little. Put a slip right: dawnlevel log"
        )
    side = "less" if odd[-1].is_less else "more"
    return (
        f"The last {len(odd)} readings ({_shown(odd)}) say {side} CO2 than what was read before "
        f"(expected {odd[-1].expected_ph:.2f}). What was learnt before is set aside, so the forecast is wide "
        "until more is read. Record what you find."
    )
