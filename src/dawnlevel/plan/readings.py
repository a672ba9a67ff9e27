"""When the next pH reading is worth taking."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from dawnlevel.plan.horizon import Horizon
from dawnlevel.tank import PhReading, Record, Tank

SHORTEST_GAP_H = 1.0 / 3.0
"""Readings nearer than this tell little new: 20-30 min is common practice, no source."""

LAST_BEFORE_LIGHTS_H = 0.2
"""The ramp's last reading comes this long before the lights, so that a hand can still act; own choice."""


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
    first = start_h + 0.3 * (lights_on_h - start_h)
    if count == 1:
        return [start_h + 0.55 * (lights_on_h - start_h)]
    gap = max((last - first) / (count - 1), SHORTEST_GAP_H)
    times = [last - gap * back for back in range(count)]
    return sorted(time for time in times if time > start_h + SHORTEST_GAP_H / 2)


def next_reading(
    tank: Tank, records: list[Record], ahead: Horizon, *, settled: bool, start_h: float | None
) -> NextReading | None:
    """The next moment worth a reading in the day ahead; None where none is.

    `start_h` is when the day's gas opens or opened [h from now]. A tank being tuned is read through the
    ramp and twice under light; a settled one once, in the ramp, while a change still helps.
    """
    if start_h is None or ahead.lights_off_h <= 0:
        return None
    count = 1 if settled else tank.reads_per_ramp
    times = [(hour, "the ramp") for hour in ramp_times_h(start_h, ahead.lights_on_h, count)]
    if not settled:
        held = ahead.close_span_h[0] - ahead.lights_on_h
        times += [
            (ahead.lights_on_h + 0.3 * held, "whether it holds"),
            (ahead.lights_on_h + 0.75 * held, "late level"),
        ]
    taken = [r.at for r in records if isinstance(r, PhReading)]
    last = (taken[-1] - ahead.now) / timedelta(hours=1) if taken else -1e9
    for hour, reason in times:
        if hour > max(last + SHORTEST_GAP_H * 0.75, -0.15):
            return NextReading(ahead.moment(max(hour, 0.0)), reason)
    return None
