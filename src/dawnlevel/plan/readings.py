"""When the next pH reading is worth taking."""

import math
from dataclasses import dataclass
from datetime import datetime, timedelta

from dawnlevel.plan.horizon import EARLIEST_CLOSE_H, Horizon
from dawnlevel.tank import PhReading, Record, Tank

SHORTEST_GAP_H = 1.0 / 3.0
"""Readings nearer than this tell little new: 20-30 min is common practice, no source."""

LATEST_FIRST_H = 1.0
"""A ramp is first read no later than this after the gas opens, lest a strong rate go unseen; own choice."""

LAST_BEFORE_LIGHTS_H = 0.2
"""The ramp's last reading comes this long before the lights, so that a hand can still act; own choice."""

SURE = 0.93
"""A settled tank whose day succeeds untouched with at least this chance needs no reading; own choice."""

EASES_H = 1.0 / 3.0
"""Uneasy fish and their water are looked at again after this long; own choice."""

CHECK_H = 96.0
"""A settled tank is read at least this often. Once a week is common practice, no source; needles drift by a
few percent a day, and on practice tanks most settled days that failed were days nobody read. Own choice."""


@dataclass(frozen=True, slots=True)
class NextReading:
    """When to read next, and why."""

    at: datetime
    reason: str


def ramp_times_h(start_h: float, lights_on_h: float, count: int) -> list[float]:
    """Hours at which a ramp is read `count` times between start and lights-on, the last just before it."""
    last = lights_on_h - LAST_BEFORE_LIGHTS_H
    if count <= 0 or last <= start_h:
        return []
    first = start_h + min(0.3 * (lights_on_h - start_h), LATEST_FIRST_H)
    if count == 1:
        return [start_h + 0.55 * (lights_on_h - start_h)]
    gap = max((last - first) / (count - 1), SHORTEST_GAP_H)
    times = [last - gap * back for back in range(count)]
    return sorted(time for time in times if time > start_h + SHORTEST_GAP_H / 2)


def tuning_times_h(
    start_h: float, lights_on_h: float, lights_off_h: float, count: int
) -> list[tuple[float, str]]:
    """Hours at which a day is read while a tank is tuned, and what for: the ramp, and twice under light."""
    held = lights_off_h - EARLIEST_CLOSE_H - lights_on_h
    return [
        *((hour, "the ramp") for hour in ramp_times_h(start_h, lights_on_h, count)),
        (lights_on_h + 0.3 * held, "whether the level holds"),
        (lights_on_h + 0.75 * held, "the late level"),
    ]


def next_reading(
    tank: Tank, records: list[Record], ahead: Horizon, start_h: float | None, chance_if_left: float | None
) -> NextReading | None:
    """The next moment worth a reading while a tank is tuned; None where none is.

    `start_h` is when the day's gas opens or opened [h from now]. The ramp is read as often as the keeper
    is willing to, and the level twice under light. `chance_if_left` is not None for a settled tank: the
    chance that the day succeeds untouched. Such a tank is read once, in the ramp while a change still
    helps, and only where that chance has sunk or four days have passed.
    """
    if start_h is None or ahead.lights_off_h <= 0:
        return None
    taken = [record.at for record in records if isinstance(record, PhReading)]
    last = (taken[-1] - ahead.now) / timedelta(hours=1) if taken else -1e9
    if chance_if_left is not None:
        return _check(ahead, start_h, last, chance_if_left)
    for hour, reason in tuning_times_h(start_h, ahead.lights_on_h, ahead.lights_off_h, tank.reads_per_ramp):
        if hour > max(last + SHORTEST_GAP_H * 0.75, -0.15):
            return NextReading(ahead.moment(max(hour, 0.0)), reason)
    return None


def _check(ahead: Horizon, start_h: float, last_h: float, chance_if_left: float) -> NextReading | None:
    """The next check of a settled tank."""
    hour = ramp_times_h(start_h, ahead.lights_on_h, 1)
    if not hour or hour[0] <= max(last_h + SHORTEST_GAP_H, -0.15):
        return None
    at = max(hour[0], 0.0)
    if chance_if_left < SURE:
        return NextReading(ahead.moment(at), "the forecast is less sure than it was")
    days = max(math.ceil((last_h + CHECK_H - at) / 24.0), 0)
    return NextReading(ahead.moment(at + 24.0 * days), "the regular check")
