"""Records made into steps: when gas flowed at which setting, when the lights were on, what was read."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from dawnlevel.tank import GasSwitch, RateSetting, Record, Tank, TimerSetting, WaterChange
from dawnlevel.tank.clock import daily_spans, light_spans, local_day

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]

LONGEST_LIT_STEP_H = 1.0
"""Longest step while plants take up CO2: keeps the linearised uptake within 0.05 mg/L (measured in tests)."""

_HALF_DAY = timedelta(hours=12)
_SECONDS_PER_H = 3600.0


@dataclass(frozen=True, slots=True)
class Timeline:
    """S steps between S + 1 edges.

    Attributes:
        origin: the moment (UTC) of hour 0.
        edges_h: hours since `origin`, shape (S+1,).
        rate_bps: counted rate while the solenoid is open, else 0 [bubbles/s], shape (S,).
        setting: which needle setting holds, shape (S,); -1 before the first.
        day: which gas day (0, 1, ...) each step belongs to, shape (S,); it turns 12 h after mid-light.
        light: 1 with the lights on, else 0, shape (S,).
        replaced: share of the water replaced at the step's start, shape (S,).
        n_settings, n_days: how many of each.
    """

    origin: datetime
    edges_h: Array
    rate_bps: Array
    setting: Index
    day: Index
    light: Array
    replaced: Array
    n_settings: int
    n_days: int

    @property
    def dt_h(self) -> Array:
        """Length of each step [h], shape (S,)."""
        return np.diff(self.edges_h)

    def hour(self, moment: datetime) -> float:
        """Hours since the origin at `moment`."""
        return (moment - self.origin) / timedelta(hours=1)

    def moment(self, hour_h: float) -> datetime:
        """The moment (UTC) `hour_h` hours after the origin."""
        return self.origin + timedelta(hours=float(hour_h))

    def edge_of(self, hour_h: float) -> int:
        """Index of the edge at `hour_h` (which must be one of the edges, to the nearest second)."""
        return _edge_of(self.edges_h, hour_h)

    def step_of(self, hour_h: float) -> int:
        """Index of the step that contains `hour_h`; the last step where it lies beyond the end."""
        found = int(np.searchsorted(self.edges_h, hour_h + 1e-9, side="right")) - 1
        return min(max(found, 0), self.dt_h.size - 1)


def gas_day(tank: Tank, moment: datetime) -> date:
    """The gas day of `moment`: it turns 12 h after the middle of the light, in wall-clock time."""
    middle_h = tank.photoperiod.lights_on_h + tank.photoperiod.hours / 2
    zone = ZoneInfo(tank.timezone)
    return local_day(moment - timedelta(hours=middle_h) + _HALF_DAY, zone)


def solenoid_events(
    tank: Tank, records: Iterable[Record], start: datetime, end: datetime
) -> list[tuple[datetime, bool]]:
    """When the solenoid opened (True) or closed, in order: timer edges and switching by hand.

    A timer set within one of its windows opens at once; a hand at the same moment has the last word.
    """
    zone = ZoneInfo(tank.timezone)
    timers = [record for record in records if isinstance(record, TimerSetting)]
    by_hand = [(record.at, record.is_open) for record in records if isinstance(record, GasSwitch)]
    events: list[tuple[datetime, bool]] = []
    for position, timer in enumerate(timers):
        until = timers[position + 1].at if position + 1 < len(timers) else end
        is_open = False
        for opens_h, closes_h in timer.windows_h:
            for opens, closes in daily_spans(opens_h, closes_h, zone, timer.at, max(until, timer.at)):
                is_open = is_open or opens <= timer.at < closes
                events += [(at, now) for at, now in ((opens, True), (closes, False)) if timer.at < at < until]
        events.append((timer.at, is_open))
    events += by_hand
    events.sort(key=lambda event: event[0])
    since = start - timedelta(days=3)
    before = [event for event in events if event[0] < since]
    return before[-1:] + [event for event in events if since <= event[0] <= end]


def build_timeline(
    tank: Tank, records: Sequence[Record], start: datetime, end: datetime, extra: Iterable[datetime] = ()
) -> Timeline:
    """Steps from `start` to `end` (UTC) with an edge at every event, reading and `extra` moment.

    `records` must be sorted by time. Settings are numbered in order of their RateSetting records;
    setting the same count again without another in between is the same setting.
    """
    switches = solenoid_events(tank, records, start, end)
    rates = [record for record in records if isinstance(record, RateSetting)]
    changes = [record for record in records if isinstance(record, WaterChange)]
    lights = light_spans(tank.photoperiod, ZoneInfo(tank.timezone), start, end)
    moments = {start, end, *extra, *(record.at for record in records), *(at for at, _ in switches)}
    moments.update(at for span in lights for at in span)
    moments.update(_day_turns(tank, start, end))
    hours = _hours(moments, start, end)
    hours = _refined(hours, _spans_h(lights, start))
    middle = 0.5 * (hours[1:] + hours[:-1])
    light = _inside(middle, _spans_h(lights, start)).astype(np.float64)
    setting, count = _settings(rates, middle, start)
    # a needle set at `end` holds in no step yet, but what follows depends on it
    latest_setting, _ = _settings(rates, np.array([_hour(end, start)]), start)
    is_open = _latest(middle, [(_hour(at, start), float(now)) for at, now in switches], 0.0)
    day, n_days = _days(tank, middle, start)
    replaced = np.zeros(middle.size)
    for change in changes:
        at = _hour(change.at, start)
        edge = _edge_of(hours, at)
        if at >= 0 and edge < middle.size:
            replaced[edge] = 1.0 - (1.0 - replaced[edge]) * (1.0 - change.fraction)
    return Timeline(
        origin=start,
        edges_h=hours,
        rate_bps=count * is_open,
        setting=setting,
        day=day,
        light=light,
        replaced=replaced,
        n_settings=int(latest_setting[0]) + 1,
        n_days=n_days,
    )


def _day_turns(tank: Tank, start: datetime, end: datetime) -> Iterable[datetime]:
    """Moments at which the gas day turns: a reading late in the evening belongs to the day that was."""
    turn_h = (tank.photoperiod.lights_on_h + tank.photoperiod.hours / 2 + 12.0) % 24.0
    return (at for at, _ in daily_spans(turn_h, turn_h + 1.0, ZoneInfo(tank.timezone), start, end))


def _hour(at: datetime, start: datetime) -> float:
    return (at - start) / timedelta(hours=1)


def _hours(moments: Iterable[datetime], start: datetime, end: datetime) -> Array:
    """Sorted hours since start of the moments in [start, end], to the nearest second, each once."""
    hours = np.array([_hour(at, start) for at in moments if start <= at <= end])
    return np.unique(np.round(hours * _SECONDS_PER_H)) / _SECONDS_PER_H


def _edge_of(edges_h: Array, hour_h: float) -> int:
    """Index of the edge that a moment at `hour_h` was given by `_hours`."""
    return int(np.searchsorted(edges_h, round(hour_h * _SECONDS_PER_H) / _SECONDS_PER_H - 1e-9))


def _spans_h(spans: Iterable[tuple[datetime, datetime]], start: datetime) -> Array:
    found = [(_hour(first, start), _hour(last, start)) for first, last in spans]
    return np.array(found).reshape(-1, 2)


def _inside(hours: Array, spans_h: Array) -> npt.NDArray[np.bool_]:
    if not spans_h.size:
        return np.zeros(hours.size, dtype=bool)
    return np.asarray(((hours[:, None] >= spans_h[:, 0]) & (hours[:, None] < spans_h[:, 1])).any(axis=1))


def _refined(hours: Array, lit_h: Array) -> Array:
    """Split lit steps so that none is longer than LONGEST_LIT_STEP_H."""
    length = np.diff(hours)
    parts = np.where(
        _inside(hours[:-1] + 0.5 * length, lit_h), np.ceil(length / LONGEST_LIT_STEP_H - 1e-9), 1.0
    )
    parts = np.maximum(parts, 1.0).astype(int)
    owner = np.repeat(np.arange(length.size), parts)
    within = np.arange(owner.size) - np.repeat(np.cumsum(parts) - parts, parts)
    return np.append(hours[:-1][owner] + within * (length / parts)[owner], hours[-1])


def _latest(hours: Array, events: Sequence[tuple[float, float]], before: float) -> Array:
    """Value of the last event at or before each of `hours`."""
    if not events:
        return np.full(hours.size, before)
    at, value = np.array([event[0] for event in events]), np.array([before, *(event[1] for event in events)])
    return np.asarray(value[np.searchsorted(at, hours, side="right")])


def _settings(rates: Sequence[RateSetting], middle: Array, start: datetime) -> tuple[Index, Array]:
    """Number of the needle setting and its count in each step."""
    numbers: list[tuple[float, float]] = []
    counts: list[tuple[float, float]] = []
    number, last = -1, None
    for record in rates:
        if record.bubbles_per_second != last and record.bubbles_per_second > 0:
            number += 1
            last = record.bubbles_per_second
        numbers.append((_hour(record.at, start), float(number)))
        counts.append((_hour(record.at, start), record.bubbles_per_second))
    return _latest(middle, numbers, -1.0).astype(np.intp), _latest(middle, counts, 0.0)


def _days(tank: Tank, middle: Array, start: datetime) -> tuple[Index, int]:
    first = gas_day(tank, start)
    days = [(gas_day(tank, start + timedelta(hours=float(hour))) - first).days for hour in middle]
    numbers = np.array(days, dtype=np.intp)
    return numbers, int(numbers.max(initial=0)) + 1


__all__ = ["LONGEST_LIT_STEP_H", "Timeline", "build_timeline", "gas_day", "solenoid_events"]
