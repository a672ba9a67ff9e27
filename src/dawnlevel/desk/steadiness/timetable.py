"""By which hours of gas and light each day of a log is read: those the keeper had written down for it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from dawnlevel.desk.steadiness.recorded import longest_window
from dawnlevel.store import TankVersion
from dawnlevel.tank import Photoperiod, Record, TimerSetting
from dawnlevel.watch.days import Card

Window = tuple[float, float]


@dataclass(frozen=True, slots=True)
class _Turn:
    """From a wall-clock day on: another window of gas, or none, or a day that is judged by no hours."""

    day: int
    window: Window | None
    is_mixed: bool = False


def on_time(
    card: Card, records: Sequence[Record], versions: Sequence[TankVersion], day_0: datetime, zone: ZoneInfo
) -> Card:
    """The card with what held on other days of a log whose hours count from midnight `day_0` (wall clock).

    `records` sorted by time, a timer among them; `versions`, oldest first, one at least. Days before the
    first timer or description are read by the first. A timer holds from the first day whose gas had not begun
    when it was set; a day in the middle of whose gas it was set is not judged, nor is one on which no gas is
    due. Lights hold from the first day on which they had not come on.
    """
    timers = [one for one in records if isinstance(one, TimerSetting)]
    turns = {one.day: one for one in _turns(timers, day_0, zone)}
    lights = dict(_lamps(versions, day_0, zone))
    now = base = _with_lights(_with_window(card, _window(timers[0])), versions[0].tank.photoperiod)
    revised = []
    for day in sorted({*turns, *lights}):
        now = _with_lights(now, lights[day]) if day in lights else now
        turn = turns.get(day)
        if turn is not None and turn.is_mixed:
            revised.append((day, replace(now, is_judged=False)))
            continue
        now = _with_window(now, turn.window) if turn is not None else now
        revised.append((day, now))
    return replace(base, revised=tuple(revised))


def _window(timer: TimerSetting) -> Window | None:
    return longest_window(timer) if timer.windows_h else None


def _with_window(card: Card, window: Window | None) -> Card:
    """The card with a window; without one its hours stay, and no day is judged by them."""
    if window is None:
        return replace(card, is_judged=False)
    on, off = window
    return replace(card, gas_on_h=on, gas_off_h=off + 24.0 * (off <= on), is_judged=True)


def _with_lights(card: Card, lights: Photoperiod) -> Card:
    on, off = lights.lights_on_h, lights.lights_off_h
    return replace(card, lights_on_h=on, lights_off_h=off + 24.0 * (off <= on))


def _wall_h(moment: datetime, day_0: datetime, zone: ZoneInfo) -> float:
    return (moment.astimezone(zone).replace(tzinfo=None) - day_0) / timedelta(hours=1)


def _turns(timers: Sequence[TimerSetting], day_0: datetime, zone: ZoneInfo) -> Iterator[_Turn]:
    """What changes when a timer is set, day by day."""
    for old, new in pairwise(timers):
        before, now = _window(old), _window(new)
        if before == now:
            continue
        spans = [(one[0], one[1] + 24.0 * (one[1] <= one[0])) for one in (before, now) if one is not None]
        hour = _wall_h(new.at, day_0, zone)
        today = int(hour // 24.0)
        opens, closes = min(on for on, _ in spans), max(off for _, off in spans)
        for day in (today - 1, today, today + 1):
            if hour <= 24.0 * day + opens:
                yield _Turn(day, now)
                break
            if hour < 24.0 * day + closes:
                yield _Turn(day, now, is_mixed=True)


def _lamps(
    versions: Sequence[TankVersion], day_0: datetime, zone: ZoneInfo
) -> Iterator[tuple[int, Photoperiod]]:
    for old, new in pairwise(versions):
        lights = new.tank.photoperiod
        if lights != old.tank.photoperiod:
            hour = _wall_h(new.valid_from, day_0, zone)
            today = int(hour // 24.0)
            yield (today if hour <= 24.0 * today + lights.lights_on_h else today + 1), lights
