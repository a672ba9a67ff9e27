"""What a tank's probe shows just now, offered as a reading: a log alone does not enter the estimate."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from dawnlevel.desk.views import ProbeNowView
from dawnlevel.store import Store
from dawnlevel.tank import PhReading, Record, Tank

FRESH = timedelta(minutes=15)
"""A log whose last minute is older than this says nothing of now (judgement)."""

_LAST_MIN = 5
_EPOCH = datetime.fromisoformat("1970-01-01T00:00:00+00:00")


def probe_now(store: Store, tank: Tank, records: Sequence[Record], now: datetime) -> ProbeNowView | None:
    """The median of the last five minutes of the stored log up to `now` (UTC); None where none is fresh."""
    samples = store.samples(tank.name, now - FRESH, now)
    if not len(samples):
        return None
    last = int(samples.minute_utc[-1])
    ph = float(np.median(samples.ph[samples.minute_utc > last - _LAST_MIN]))
    at = _EPOCH + timedelta(minutes=last)
    since = at - timedelta(minutes=_LAST_MIN)
    is_recorded = any(isinstance(one, PhReading) and one.at >= since for one in records)
    return ProbeNowView(at.astimezone(ZoneInfo(tank.timezone)), round(ph, 2), is_recorded)
