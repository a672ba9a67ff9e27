"""A tank's cylinder out of its records: what was counted, weighed and read since it was connected."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from dawnlevel.arguments import Floats
from dawnlevel.balance.injection import BUBBLE_MG
from dawnlevel.estimate.posterior import Interval
from dawnlevel.estimate.timeline import solenoid_events
from dawnlevel.supply.cylinder import Contents, CylinderFacts, Gauged, UsePrior, Weighed, contents
from dawnlevel.supply.use import bubbles_counted
from dawnlevel.tank import (
    CylinderExchange,
    CylinderWeighing,
    GaugeReading,
    RateSetting,
    Record,
    Tank,
    TimerSetting,
    WeighedWith,
)

SHARES = (0.5, 0.25, 0.75, 0.05, 0.95)
"""Quantiles in the order of an Interval."""

_DAILY_G_PER_L, _DAILY_LOG_SD = 0.07, 0.84
"""Gas a day where bubbles are not counted: 7 g in 100 L, a factor 4 either way at 90 % (computed: 490 mg/h
for 8 to 10 h at 70 % dissolved; the spread is common practice, no source)."""

_MOST_GAUGES = 5
"""Gauge readings that count, the latest: older ones, mostly flat, tell nothing more; own choice."""

_LOOK_BACK = timedelta(days=7)
_FAR_D = 20_000.0


def as_interval(quantiles: Floats) -> Interval:
    """The interval of quantiles at `SHARES`."""
    return Interval(*(float(value) for value in quantiles))


@dataclass(frozen=True, slots=True)
class CylinderCase:
    """A tank's cylinder at `now`.

    Attributes:
        exchange: the record of its connection.
        found: what the records say of its contents.
        prior: gas per count before the weighings.
        by_bubbles: whether use is counted in bubbles; else in days.
        counts: counts from connection to now.
        counts_per_day: counts a day as set now.
        gauge: the latest gauge reading since; None without one.
        weighings: how often it was weighed since.
    """

    tank: Tank
    now: datetime
    exchange: CylinderExchange
    found: Contents
    prior: UsePrior
    by_bubbles: bool
    counts: float
    counts_per_day: float
    gauge: GaugeReading | None
    weighings: int

    @property
    def left_kg(self) -> Interval:
        """Gas left now [kg]."""
        return as_interval(self.found.quantiles(self.found.left_kg(self.counts), SHARES))

    @property
    def use_g_per_day(self) -> Interval:
        """Gas that goes a day as set now [g]."""
        return as_interval(self.found.quantiles(1e3 * self.found.use_kg * self.counts_per_day, SHARES))

    @property
    def runs_out(self) -> tuple[date, date, date] | None:
        """Early end of nine in ten, likely day, late end; None where no gas is due."""
        days = self.found.days_left(self.counts, self.counts_per_day, (0.05, 0.5, 0.95))
        if not np.all(np.isfinite(days)):
            return None
        zone = ZoneInfo(self.tank.timezone)
        early, likely, late = (
            (self.now + timedelta(days=min(float(day), _FAR_D))).astimezone(zone).date() for day in days
        )
        return early, likely, late


def open_cylinder(tank: Tank, records: Sequence[Record], now: datetime) -> CylinderCase | None:
    """The cylinder last connected by `now` (aware), from standing `records` sorted by time; None: none.

    BadInputError where its weighings contradict each other.
    """
    exchanges = [one for one in records if isinstance(one, CylinderExchange) and one.at <= now]
    if not exchanges:
        return None
    exchange = exchanges[-1]
    since = [one for one in records if exchange.at <= one.at <= now]
    weighings = [one for one in since if isinstance(one, CylinderWeighing)]
    gauges = [one for one in since if isinstance(one, GaugeReading)][-_MOST_GAUGES:]
    by_bubbles = any(isinstance(one, RateSetting) and one.at <= now for one in records)
    moments = [*(one.at for one in weighings), *(one.at for one in gauges), now]
    counts, per_day = _counted(tank, records, exchange.at, moments, by_bubbles=by_bubbles)
    split = len(weighings)
    prior = (
        UsePrior(BUBBLE_MG.median * 1e-6, BUBBLE_MG.log_sd)
        if by_bubbles
        else UsePrior(_DAILY_G_PER_L * tank.volume_l * 1e-3, _DAILY_LOG_SD)
    )
    facts = CylinderFacts(exchange.gas_kg, exchange.tare_kg, exchange.capacity_l)
    weighed = _weighed(weighings, counts[:split])
    found = contents(facts, prior, weighed, _gauged(gauges, counts[split:-1]))
    latest = gauges[-1] if gauges else None
    return CylinderCase(
        tank, now, exchange, found, prior, by_bubbles, float(counts[-1]), per_day, latest, split
    )


def _weighed(weighings: Sequence[CylinderWeighing], counts: Floats) -> Weighed:
    return Weighed(
        counts=counts,
        gross_kg=np.array([one.gross_kg for one in weighings], dtype=np.float64),
        scale_kg=np.array([one.scale_kg for one in weighings], dtype=np.float64),
        has_regulator=np.array([float(one.stood is WeighedWith.REGULATOR) for one in weighings]),
    )


def _gauged(gauges: Sequence[GaugeReading], counts: Floats) -> Gauged:
    return Gauged(
        counts=counts,
        gauge_bar=np.array([one.gauge_bar for one in gauges], dtype=np.float64),
        temp_c=np.array([np.nan if one.temp_c is None else one.temp_c for one in gauges], dtype=np.float64),
    )


def _counted(
    tank: Tank, records: Sequence[Record], start: datetime, moments: Sequence[datetime], *, by_bubbles: bool
) -> tuple[Floats, float]:
    """Counts from `start` to each moment, and counts a day as set at the last: bubbles, or days."""
    now = moments[-1]
    if not by_bubbles:
        days = [(moment - start) / timedelta(days=1) for moment in moments]
        return np.array(days, dtype=np.float64), 1.0
    rates = [(one.at, one.bubbles_per_second) for one in records if isinstance(one, RateSetting)]
    switches = solenoid_events(tank, records, min(start, now - _LOOK_BACK), now)
    counts = bubbles_counted(start, moments, switches, rates)
    timers = [one for one in records if isinstance(one, TimerSetting) and one.at <= now]
    if timers:
        hours = sum((closes - opens) % 24.0 for opens, closes in timers[-1].windows_h)
        rate = [count for at, count in rates if at <= now][-1]
        return counts, rate * 3600.0 * hours
    begins = max(start, now - _LOOK_BACK)
    lived = max((now - begins) / timedelta(days=1), 1e-9)
    return counts, float(bubbles_counted(begins, [now], switches, rates)[0]) / lived
