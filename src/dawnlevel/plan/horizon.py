"""The day that is being planned, in hours from now."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from dawnlevel.estimate.timeline import gas_day, solenoid_events
from dawnlevel.plan.future import Hours
from dawnlevel.tank import Record, Tank
from dawnlevel.tank.clock import light_spans, local_day, next_lights_on, wall_clock

EARLIEST_LEAD_H = 4.0
"""Where the keeper names no earliest start, gas may start this long before the lights; 1-3 h is common
practice, no source."""

LATEST_CLOSE_H, EARLIEST_CLOSE_H = 0.5, 2.5
"""The gas closes between these many hours before lights-off; 1-2 h is common practice, no source."""

_STEP_H = 0.25


@dataclass(frozen=True, slots=True)
class Horizon:
    """One gas day seen from `now` (UTC); hours count from now and may be negative.

    Attributes:
        now: the moment the hours count from.
        lights_on_h, lights_off_h: the day's lights.
        earliest_h: earliest gas start.
        standing: windows (open, close) of the timer as it stands, from now to the end of the day.
        flows_until_h: when the gas of the day that runs now closes, where a later day is planned; else 0.
        hours: the grid, from now to lights-off.
    """

    now: datetime
    lights_on_h: float
    lights_off_h: float
    earliest_h: float
    standing: tuple[tuple[float, float], ...]
    hours: Hours
    flows_until_h: float = 0.0

    def moment(self, hour_h: float) -> datetime:
        """The moment (UTC) `hour_h` hours from now."""
        return self.now + timedelta(hours=hour_h)

    @property
    def close_span_h(self) -> tuple[float, float]:
        """Earliest and latest closing of the gas [h from now]."""
        return self.lights_off_h - EARLIEST_CLOSE_H, self.lights_off_h - LATEST_CLOSE_H


def horizon(tank: Tank, records: list[Record], now: datetime, *, of_today: bool) -> Horizon:
    """The gas day that runs now (`of_today`: until its lights-off) or the next one that can be planned."""
    zone = ZoneInfo(tank.timezone)
    lights_on = next_lights_on(tank.photoperiod, zone, now)
    if of_today:
        running = light_spans(tank.photoperiod, zone, now, now)
        if running and running[-1][1] > now:
            lights_on = running[-1][0]
    elif _has_begun(tank, records, now, lights_on):
        lights_on = next_lights_on(tank.photoperiod, zone, lights_on)
    light = tank.photoperiod
    lights_off = wall_clock(local_day(lights_on, zone), light.lights_on_h + light.hours, zone)
    earliest = _earliest(tank, lights_on)
    events = solenoid_events(tank, records, now, lights_off)
    hour = timedelta(hours=1)
    on_h, off_h, earliest_h = ((at - now) / hour for at in (lights_on, lights_off, earliest))
    standing = _windows(events, now, off_h)
    flows_until_h = 0.0
    if not of_today and standing and standing[0][0] <= 0.0 and standing[0][1] <= earliest_h:
        flows_until_h = standing[0][1]
    grid = _grid(tank, now, on_h, off_h, earliest_h, flows_until_h)
    return Horizon(now, on_h, off_h, earliest_h, standing, grid, flows_until_h)


def _earliest(tank: Tank, lights_on: datetime) -> datetime:
    """Earliest gas start before this lights-on, in wall-clock time."""
    if tank.earliest_start_h is None:
        return lights_on - timedelta(hours=EARLIEST_LEAD_H)
    zone = ZoneInfo(tank.timezone)
    day = lights_on.astimezone(zone).date()
    earliest = wall_clock(day, tank.earliest_start_h, zone)
    return (
        earliest if earliest < lights_on else wall_clock(day - timedelta(days=1), tank.earliest_start_h, zone)
    )


def _has_begun(tank: Tank, records: list[Record], now: datetime, lights_on: datetime) -> bool:
    """Whether gas has flowed for the coming lights-on already: that day is steered, no longer planned."""
    earliest = _earliest(tank, lights_on)
    if earliest > now or light_spans(tank.photoperiod, ZoneInfo(tank.timezone), now, now):
        return False
    events = solenoid_events(tank, records, earliest, now)
    before = [is_open for at, is_open in events if at <= earliest]
    return before[-1:] == [True] or any(is_open for at, is_open in events if at > earliest)


def _windows(
    events: list[tuple[datetime, bool]], now: datetime, end_h: float
) -> tuple[tuple[float, float], ...]:
    """Open windows between now and `end_h` that the events give [h from now]."""
    windows: list[tuple[float, float]] = []
    opened: float | None = None
    for at, is_open in events:
        hour = max((at - now) / timedelta(hours=1), 0.0)
        if is_open and opened is None:
            opened = hour
        elif not is_open and opened is not None:
            windows.append((opened, hour))
            opened = None
    if opened is not None:
        windows.append((opened, end_h))
    return tuple(window for window in windows if window[1] > window[0])


def _grid(
    tank: Tank, now: datetime, on_h: float, off_h: float, earliest_h: float, flows_until_h: float
) -> Hours:
    """Edges from now to lights-off: quarter hours from the earliest start, hours before it."""
    fine_from = max(earliest_h, 0.0)
    on_before = on_h - 24.0
    off_before = on_before + tank.photoperiod.hours
    marks = {0.0, off_h, fine_from, flows_until_h, on_before, off_before, *([on_h] if on_h > 0 else [])}
    marks.update(np.arange(off_h, fine_from, -_STEP_H).tolist())
    if on_h > 0:
        marks.update(np.arange(on_h, fine_from, -_STEP_H).tolist())
    marks.update(np.arange(0.0, fine_from, 1.0).tolist())
    edges = np.array(sorted(mark for mark in marks if 0.0 <= mark <= off_h))
    edges = edges[np.concatenate(([True], np.diff(edges) > 1e-6))]
    middle = 0.5 * (edges[1:] + edges[:-1])
    today = gas_day(tank, now)
    is_next = [gas_day(tank, now + timedelta(hours=float(hour))) > today for hour in middle]
    light = ((middle >= on_h) & (middle < off_h)) | ((middle >= on_before) & (middle < off_before))
    return Hours(edges, light.astype(np.float64), np.array(is_next, dtype=np.float64))
