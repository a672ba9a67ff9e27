"""Use case: what changed in a tank whose probe's log is in the store, by its own description and records."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from dawnlevel.desk.steadiness.explaining import explained
from dawnlevel.desk.steadiness.logfile import probe_log
from dawnlevel.desk.steadiness.recorded import Written, longest_window
from dawnlevel.desk.steadiness.timetable import on_time
from dawnlevel.desk.steadiness.watch import Watched, WatchView, make_card, watch_probe
from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.store import Store
from dawnlevel.tank import KhTitration, Record, Tank, TimerSetting
from dawnlevel.watch.days import Card

LONGEST = timedelta(days=400)
"""How far back from its end a log is looked at: a year, and some weeks of the last (judgement)."""


def tank_watch(store: Store, name: str, now: datetime, since: datetime | None = None) -> WatchView:
    """What the tank's stored log says: the view of `tank_watched`."""
    return tank_watched(store, name, now, since).view


def tank_watched(store: Store, name: str, now: datetime, since: datetime | None = None) -> Watched:
    """What the tank's stored log says and what it was made of, from `since` on, up to `now`.

    What the keeper wrote down about the time of a change is among its causes, first where it fits.
    Without `since` the last 400 days of the log. Raises NotEnoughRecordsError where there is no log, or no
    KH or gas schedule to read it by.
    """
    tank = store.tank(name)
    zone = ZoneInfo(tank.timezone)
    records = [stored.record for stored in store.records(name, until=now)]
    card = tank_card(tank, records)
    span = store.samples_span(name)
    if span is not None and since is None:
        since = min(span[1], now) - LONGEST
    samples = store.samples(name, since, now)
    if not len(samples):
        raise NotEnoughRecordsError(
            "No probe's log is stored.", where=name, cure="Bring one in: dawnlevel probe import FILE"
        )
    versions, log = store.tank_versions(name), probe_log(samples, zone)
    card = on_time(card, records, versions, log.day_0, zone)
    return explained(watch_probe(log, card, zone), Written(records, versions, zone))


def tank_card(tank: Tank, records: Sequence[Record]) -> Card:
    """What reading a log needs, from the tank and its standing records sorted by time, as it stands last.

    Of several windows of the timer the longest counts: the days are cut by it. Raises NotEnoughRecordsError
    that names everything that is missing.
    """
    kh = next((one.kh_dkh for one in reversed(records) if isinstance(one, KhTitration)), None)
    timers = [one for one in records if isinstance(one, TimerSetting) and one.windows_h]
    missing = []
    if kh is None or kh <= 0.0:
        missing.append(("a KH above nought", "dawnlevel kh 4"))
    if not timers:
        missing.append(("a gas schedule", "dawnlevel timer 10:30-19:00"))
    if kh is None or missing:
        raise NotEnoughRecordsError(
            f"A probe's log cannot be read without {' and '.join(what for what, _ in missing)}.",
            where=tank.name,
            cure=f"Record it: {', '.join(how for _, how in missing)}",
        )
    lights = tank.photoperiod
    return make_card(longest_window(timers[-1]), (lights.lights_on_h, lights.lights_off_h), kh, tank.temp_c)
