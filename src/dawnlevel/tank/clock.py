"""Wall-clock time: when timers and lights really switch, daylight saving included."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from dawnlevel.tank.nouns import Photoperiod


def wall_clock(day: date, hour_h: float, zone: ZoneInfo) -> datetime:
    """The moment (UTC) at which a clock on the wall of `zone` shows `hour_h` on `day`.

    `hour_h` counts from that day's midnight and may pass 24. An hour skipped in spring is taken as
    the same elapsed time after midnight's offset; one that comes twice in autumn is its first.
    """
    whole, rest = divmod(hour_h, 24.0)
    local = datetime.combine(day + timedelta(days=int(whole)), time(0)) + timedelta(hours=rest)
    return local.replace(tzinfo=zone).astimezone(UTC)


def local_day(moment: datetime, zone: ZoneInfo) -> date:
    """The calendar day that `zone` has at `moment`."""
    return moment.astimezone(zone).date()


def local_hour(moment: datetime, zone: ZoneInfo) -> float:
    """Wall-clock hours since local midnight at `moment`."""
    local = moment.astimezone(zone)
    return local.hour + local.minute / 60 + (local.second + local.microsecond / 1e6) / 3600


def daily_spans(
    opens_h: float, closes_h: float, zone: ZoneInfo, start: datetime, end: datetime
) -> Iterator[tuple[datetime, datetime]]:
    """Spans (UTC) of a daily window that overlap [start, end]; hours are wall-clock.

    A window with `closes_h` <= `opens_h` runs over midnight.
    """
    length_h = (closes_h - opens_h) % 24.0
    day = local_day(start, zone) - timedelta(days=1)
    last = local_day(end, zone)
    while day <= last:
        opens, closes = wall_clock(day, opens_h, zone), wall_clock(day, opens_h + length_h, zone)
        if closes >= start and opens <= end:
            yield opens, closes
        day += timedelta(days=1)


def light_spans(
    photoperiod: Photoperiod, zone: ZoneInfo, start: datetime, end: datetime
) -> list[tuple[datetime, datetime]]:
    """Spans (UTC) in which the lights are on, as far as they overlap [start, end]."""
    return list(daily_spans(photoperiod.lights_on_h, photoperiod.lights_off_h, zone, start, end))


def next_lights_on(photoperiod: Photoperiod, zone: ZoneInfo, moment: datetime) -> datetime:
    """The first lights-on (UTC) strictly after `moment`."""
    day = local_day(moment, zone)
    for ahead in range(-1, 3):
        lights_on = wall_clock(day + timedelta(days=ahead), photoperiod.lights_on_h, zone)
        if lights_on > moment:
            return lights_on
    raise AssertionError  # a day is never longer than three days
