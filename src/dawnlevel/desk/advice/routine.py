"""What a tuned tank asks for by the clock and once a week; one place for calendar and hand-over."""

from collections.abc import Sequence

from dawnlevel.plan.readings import ramp_times_h, tuning_times_h
from dawnlevel.tank import RateSetting, Record, Tank, TimerSetting

CELL_AFTER_H = 2.0
"""How long after lights-on the cell is looked at [h]: about its lag, see `balance.cell`; own choice."""

_LONGEST_LEAD_H = 12.0
"""A window that opens earlier than this before the lights belongs to the day before; own choice."""

WEEKLY_CHECKS = (
    "Bubbles: count them with the gas open, and compare with the count on the plan.",
    "Indicator cell: look at its colour about two hours after lights-on, against a white card.",
    "Fish: watch them for a minute at lights-on and late in the day.",
    "Timers: do both show the right time, also after a power cut or a change of the clocks?",
    "Gas: is the needle of the pressure gauge where it was, is the cylinder upright and tied?",
    "Diffuser: fine bubbles, no large ones; clean it when they grow.",
    "Surface and flow: does the surface move as before, does the filter run freely?",
    "Write down what was seen, with the day.",
)
"""What is looked at once a week; common practice, no source."""


def week_look_h(tank: Tank) -> float:
    """When the weekly look is due, in wall-clock hours: as the cell tells, and with the lights on."""
    light = tank.photoperiod
    return (light.lights_on_h + min(CELL_AFTER_H, 0.5 * light.hours)) % 24.0


def standing_timer(records: Sequence[Record]) -> TimerSetting | None:
    """The gas timer as set last, from standing `records` sorted by time; None where none is."""
    timers = [one for one in records if isinstance(one, TimerSetting)]
    return timers[-1] if timers else None


def standing_rate(records: Sequence[Record]) -> float | None:
    """The needle's count as set last, above nought [bubbles/s]; None where none is."""
    counts = [one.bubbles_per_second for one in records if isinstance(one, RateSetting)]
    counts = [one for one in counts if one > 0.0]
    return counts[-1] if counts else None


def gas_lead_h(tank: Tank, timer: TimerSetting) -> float | None:
    """How long before lights-on the timer opens the gas [h]; None where it only opens later."""
    on_h = tank.photoperiod.lights_on_h
    leads = [(on_h - opens_h) % 24.0 for opens_h, _ in timer.windows_h]
    ahead = [one for one in leads if 0.0 < one <= _LONGEST_LEAD_H]
    return max(ahead) if ahead else None


def reading_clock(tank: Tank, timer: TimerSetting | None) -> list[tuple[float, str]]:
    """When pH is read on a tuning day, (wall-clock hour, what for), in the day's order."""
    lead = None if timer is None else gas_lead_h(tank, timer)
    if lead is None:
        return []
    times = tuning_times_h(-lead, 0.0, tank.photoperiod.hours, tank.reads_per_ramp)
    return [(_on_the_wall(tank, hour), reason) for hour, reason in times]


def check_clock(tank: Tank, timer: TimerSetting | None) -> float | None:
    """When pH is read at the regular check of a settled tank, in wall-clock hours; None without a ramp."""
    lead = None if timer is None else gas_lead_h(tank, timer)
    times = [] if lead is None else ramp_times_h(-lead, 0.0, 1)
    return _on_the_wall(tank, times[0]) if times else None


def _on_the_wall(tank: Tank, hour_h: float) -> float:
    """Wall-clock hours of a time given from lights-on, to the minute."""
    return round((tank.photoperiod.lights_on_h + hour_h) * 60.0) / 60.0 % 24.0
