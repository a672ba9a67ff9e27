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
Flags = npt.NDArray[np.bool_]
Span = tuple[datetime, datetime]

LONGEST_LIT_STEP_H = 1.0
"""Longest step while plants take up CO2: keeps the linearised uptake within 0.05 mg/L (measured in tests)."""

LONGEST_LEAD_IN_STEP_H = 4.0
"""The same in days that are not read and only lead into one that is: their error has a night to fade."""

_HALF_DAY = timedelta(hours=12)
_SECONDS_PER_H = 3600.0


@dataclass(frozen=True, slots=True)
class Timeline:
    """S steps between S + 1 edges.

    Attributes:
        origin: the moment (UTC) of hour 0.
        edges_h: hours since `origin`, shape (S+1,).
        dt_h: hours lived through in each step, shape (S,): its length, or 0 where days are skipped.
        rate_bps: counted rate while the solenoid is open, else 0 [bubbles/s], shape (S,).
        setting: which needle setting holds, shape (S,); -1 before the first.
        day: which remembered gas day (0, 1, ...) each step belongs to, shape (S,); it turns 12 h after
            mid-light; days that only lead into a remembered one belong to it.
        days_between: calendar days from each remembered day's forerunner to it, shape (n_days,); 1 for the
            first.
        light: 1 with the lights on, else 0, shape (S,).
        replaced: share of the water replaced at the step's start, shape (S,).
        remembered_h: stretches of remembered days, (begin, end) [h], shape (k, 2).
        n_settings, n_days: how many of each.
    """

    origin: datetime
    edges_h: Array
    dt_h: Array
    rate_bps: Array
    setting: Index
    day: Index
    days_between: Array
    light: Array
    replaced: Array
    remembered_h: Array
    n_settings: int
    n_days: int

    def remembers(self, hour_h: float) -> bool:
        """Whether `hour_h` lies in a remembered day."""
        begin, end = self.remembered_h.T
        return bool(((begin - 1e-9 <= hour_h) & (hour_h <= end + 1e-9)).any())

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
    tank: Tank,
    records: Sequence[Record],
    start: datetime,
    end: datetime,
    extra: Iterable[datetime] = (),
    spans: Sequence[Span] = (),
    lead_ins: Sequence[Span] = (),
) -> Timeline:
    """Steps from `start` to `end` (UTC) with an edge at every event, reading and `extra` moment.

    `records` must be sorted by time. Settings are numbered in order of their RateSetting records;
    setting the same count again without another in between is the same setting. Where `spans` are given
    (begin, end; in order; the first begins at `start`, the last ends at `end`) the rest is skipped;
    `lead_ins` are those of their days that are stepped coarsely.
    """
    spans = spans or [(start, end)]
    switches = solenoid_events(tank, records, start, end)
    rates = [record for record in records if isinstance(record, RateSetting)]
    lights = light_spans(tank.photoperiod, ZoneInfo(tank.timezone), start, end)
    turns = list(day_turns(tank, start, end))
    moments = {start, end, *extra, *(record.at for record in records), *(at for at, _ in switches)}
    moments.update(at for span in (*lights, *spans, *lead_ins) for at in span)
    moments.update(turns)
    spans_h, lights_h, lead_ins_h = (_spans_h(found, start) for found in (spans, lights, lead_ins))
    hours = _hours(moments, start, end)
    hours = hours[_within(hours, spans_h)]
    hours = _refined(hours, lights_h, spans_h, lead_ins_h)
    middle = 0.5 * (hours[1:] + hours[:-1])
    is_lived = _inside(middle, spans_h)
    # a needle set at `end` holds in no step yet, but what follows depends on it
    numbers, counts = _settings(rates, np.append(middle, _hour(end, start)), start)
    numbers[:-1][~is_lived] = -1
    setting, n_settings = _renumbered(numbers)
    is_open = _latest(middle, [(_hour(at, start), float(now)) for at, now in switches], 0.0)
    day, days_between = _days(middle, _hours(turns, start, end), is_lived & ~_inside(middle, lead_ins_h))
    return Timeline(
        origin=start,
        edges_h=hours,
        dt_h=np.where(is_lived, np.diff(hours), 0.0),
        rate_bps=np.where(is_lived, counts[:-1] * is_open, 0.0),
        setting=setting,
        day=day,
        days_between=days_between,
        light=(_inside(middle, lights_h) & is_lived).astype(np.float64),
        replaced=_replaced(records, hours, start, is_lived),
        remembered_h=_outside(spans_h, lead_ins_h),
        n_settings=n_settings,
        n_days=days_between.size,
    )


def _replaced(records: Sequence[Record], hours: Array, start: datetime, is_lived: Flags) -> Array:
    """Share of the water replaced at each step's start, shape (S,); changes in skipped days are past."""
    replaced = np.zeros(is_lived.size)
    for change in records:
        if not isinstance(change, WaterChange):
            continue
        at = _hour(change.at, start)
        edge = _edge_of(hours, at)
        if at >= 0 and edge < is_lived.size and is_lived[edge] and abs(hours[edge] - at) * 3600.0 < 1.0:
            replaced[edge] = 1.0 - (1.0 - replaced[edge]) * (1.0 - change.fraction)
    return replaced


def day_turns(tank: Tank, start: datetime, end: datetime) -> Iterable[datetime]:
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


def _spans_h(spans: Iterable[Span], start: datetime) -> Array:
    """Spans as hours since start, to the nearest second like the edges, shape (k, 2)."""
    found = np.array([(_hour(first, start), _hour(last, start)) for first, last in spans]).reshape(-1, 2)
    return np.asarray(np.round(found * _SECONDS_PER_H) / _SECONDS_PER_H)


def _within(hours: Array, spans_h: Array) -> Flags:
    """Which `hours` lie in one of the spans or at its ends."""
    return np.asarray(((hours[:, None] >= spans_h[:, 0]) & (hours[:, None] <= spans_h[:, 1])).any(axis=1))


def _outside(spans_h: Array, holes_h: Array) -> Array:
    """The spans without the holes, each of which is a whole span or its beginning, shape (k, 2)."""
    ends = dict(holes_h.tolist())
    found = []
    for begin, end in spans_h.tolist():
        cuts = sorted(hole for hole in ends if begin <= hole < end)
        at = begin
        for cut in cuts:
            found.append((at, cut))
            at = ends[cut]
        found.append((at, end))
    return np.array([span for span in found if span[1] > span[0]]).reshape(-1, 2)


def _inside(hours: Array, spans_h: Array) -> Flags:
    if not spans_h.size:
        return np.zeros(hours.size, dtype=bool)
    return np.asarray(((hours[:, None] >= spans_h[:, 0]) & (hours[:, None] < spans_h[:, 1])).any(axis=1))


def _refined(hours: Array, lit_h: Array, spans_h: Array, lead_ins_h: Array) -> Array:
    """Split lit steps so that none is longer than LONGEST_LIT_STEP_H."""
    length = np.diff(hours)
    middle = hours[:-1] + 0.5 * length
    longest = np.where(_inside(middle, lead_ins_h), LONGEST_LEAD_IN_STEP_H, LONGEST_LIT_STEP_H)
    lit = _inside(middle, lit_h) & _inside(middle, spans_h)
    parts = np.where(lit, np.ceil(length / longest - 1e-9), 1.0)
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


def _renumbered(numbers: Index) -> tuple[Index, int]:
    """Settings numbered afresh without those that hold in no step, for all but the last entry; how many."""
    held = np.unique(numbers[numbers >= 0])
    afresh = np.where(numbers >= 0, np.searchsorted(held, numbers), -1)
    return afresh[:-1].astype(np.intp), int(afresh[-1]) + 1 if afresh[-1] >= 0 else held.size


def _days(middle: Array, turns_h: Array, remembered: Flags) -> tuple[Index, Array]:
    """Number of the remembered gas day each step belongs to or leads into, and the days between them."""
    number = np.searchsorted(turns_h, middle)
    kept = np.unique(number[remembered]) if remembered.any() else number[-1:]
    day = np.minimum(np.searchsorted(kept, number), kept.size - 1).astype(np.intp)
    return day, np.diff(kept, prepend=kept[0] - 1).astype(np.float64)


__all__ = ["LONGEST_LIT_STEP_H", "Timeline", "build_timeline", "day_turns", "gas_day", "solenoid_events"]
