"""Which gas days the estimate steps through: all of a short history, the telling ones of a long one.

Stepping through every day of a tank kept for months would cost more than it tells: gains drift, so old days
say little of today. Kept are the latest days, the days read last, and the last days read often (ramps teach
gas exchange and gain). What is left out is skipped: the level goes over from the evening before the gap to
the evening after it as if the days between had been like their neighbours. KH counts and baseline cups
count from any day. How many days are kept is own choice; tests compare with the whole history.
"""

from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from dawnlevel.estimate.timeline import day_turns
from dawnlevel.tank import CellSighting, PhReading, Record, Tank

WHOLE_DAYS = 8
"""Histories up to this many gas days are stepped through whole."""

LATEST_DAYS, READ_DAYS, RAMP_DAYS = 3, 5, 3
RAMP_READINGS = 3
"""Readings from which a day counts as read often."""

MOST_READINGS = 24
"""pH readings a gas day that count: a probe's minutes share their errors, so more would tell no more."""


@dataclass(frozen=True, slots=True)
class Memory:
    """What counts of a tank's records.

    Attributes:
        records: the records the likelihood and the timeline use, sorted by time.
        spans: the stretches (UTC) that are stepped through, in order.
        lead_ins: those stretches whose days only lead into a remembered day.
    """

    records: tuple[Record, ...]
    spans: tuple[tuple[datetime, datetime], ...]
    lead_ins: tuple[tuple[datetime, datetime], ...]


def remember(tank: Tank, records: Sequence[Record], start: datetime, end: datetime) -> Memory:
    """What counts of `records` (sorted by time) for an estimate from `start` to `end` (UTC)."""
    turns = [start, *(at for at in day_turns(tank, start, end) if start < at < end), end]
    days = [_day_number(turns, record.at) for record in records]
    kept_days = _kept_days(records, days, len(turns) - 1)
    lead_ins = sorted({day - 1 for day in kept_days if day > 0} - set(kept_days))
    counted = _thinned(records, days)
    standing = tuple(
        record
        for record, day in zip(records, days, strict=True)
        if not isinstance(record, PhReading | CellSighting) or (day in kept_days and id(record) in counted)
    )
    return Memory(
        records=standing,
        spans=_spans(turns, sorted({*kept_days, *lead_ins})),
        lead_ins=_spans(turns, lead_ins),
    )


def _day_number(turns: Sequence[datetime], at: datetime) -> int:
    """Which stretch between `turns` holds `at`; the last for its end."""
    return min(max(bisect_right(turns, at) - 1, 0), len(turns) - 2)


def _kept_days(records: Sequence[Record], days: Sequence[int], n_days: int) -> list[int]:
    """Numbers of the days that are remembered, in order."""
    if n_days <= WHOLE_DAYS:
        return list(range(n_days))
    readings = Counter(
        day for record, day in zip(records, days, strict=True) if isinstance(record, PhReading | CellSighting)
    )
    read = sorted(readings)
    ramps = [day for day in read if readings[day] >= RAMP_READINGS]
    latest = range(n_days - LATEST_DAYS, n_days)
    older = [day for day in read if day not in latest]
    ramps = [day for day in ramps if day not in latest and day not in older[-READ_DAYS:]]
    return sorted({*latest, *older[-READ_DAYS:], *ramps[-RAMP_DAYS:]})


def _thinned(records: Sequence[Record], days: Sequence[int]) -> set[int]:
    """Identities of the readings that count: of a day read too often, some spread over all of them."""
    by_day: dict[tuple[int, type], list[Record]] = {}
    for record, day in zip(records, days, strict=True):
        by_day.setdefault((day, type(record)), []).append(record)
    return {
        id(found[index])
        for found in by_day.values()
        for index in np.unique(np.linspace(0, len(found) - 1, min(len(found), MOST_READINGS)).round()).astype(
            int
        )
    }


def _spans(turns: Sequence[datetime], days: Sequence[int]) -> tuple[tuple[datetime, datetime], ...]:
    """The days' stretches, neighbours joined."""
    spans: list[tuple[datetime, datetime]] = []
    for day in days:
        begin, end = turns[day], turns[day + 1]
        if spans and spans[-1][1] == begin:
            spans[-1] = (spans[-1][0], end)
        else:
            spans.append((begin, end))
    return tuple(spans)
