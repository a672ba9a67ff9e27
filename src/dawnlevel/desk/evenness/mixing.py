"""Use case: two probes' logs of one tank in, how long water at the place that follows stays there."""

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from dawnlevel.desk.casebook import SEED
from dawnlevel.desk.evenness.surveys_compared import TOLD, span_text
from dawnlevel.desk.steadiness.logfile import read_log_file
from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.estimate.posterior import Interval, interval
from dawnlevel.survey.twin import BAD_FIT_PH, Follows, follows
from dawnlevel.tank.samples import Samples

Array = npt.NDArray[np.float64]

BIN_MIN = 10
"""Readings are averaged over so many minutes (own choice)."""

LEAST_H, LEAST_MOVE_PH = 3.0, 0.15
"""What both logs need in common: hours, and how far pH moves within them (own choice)."""

MOST_H = 96.0
_GAP_BINS = 3
_SURE = 0.9


@dataclass(frozen=True, slots=True)
class MixingView:
    """Which probe's place follows the other's, and how long its water stays.

    Attributes:
        first: name of the first log.
        second: name of the second log.
        begin: from when both were read.
        end: until when.
        moved_ph: how far pH moved at the first probe meanwhile [pH].
        follower: `second` or `first`: whose place follows; empty where that cannot be told.
        chance_second: chance that it is the second's, if one of them follows.
        exchange_h: how long water at that place stays [h].
        told: share of the doubt that the logs took away.
        offset_ph: what the second probe shows too high against the first [pH].
        noise_ph: how far the place strays from simply following [pH].
        verdict: the answer in words.
        notes: what to keep in mind.
    """

    first: str
    second: str
    begin: datetime
    end: datetime
    moved_ph: float
    follower: str
    chance_second: float
    exchange_h: Interval
    told: float
    offset_ph: Interval
    noise_ph: float
    verdict: str
    notes: tuple[str, ...]


def mixing_view(first: bytes, first_name: str, second: bytes, second_name: str, zone: ZoneInfo) -> MixingView:
    """The answer of two logs; times without offset are those of a clock on the wall of `zone`.

    BadLinesError for lines that cannot be taken; NotEnoughRecordsError where they have too little in common.
    """
    logs = (read_log_file(first, first_name, zone), read_log_file(second, second_name, zone))
    hours, ph = _in_common(logs[0].samples, logs[1].samples)
    rng = np.random.default_rng(SEED)
    ways = follows(hours, ph[0], ph[1], rng), follows(hours, ph[1], ph[0], rng)
    odds = np.exp(np.clip(ways[0].log_evidence - ways[1].log_evidence, -50.0, 50.0))
    chance = float(odds / (1.0 + odds))
    is_second = chance >= 0.5
    way = ways[0] if is_second else ways[1]
    follower = "" if max(chance, 1.0 - chance) < _SURE else "second" if is_second else "first"
    names = (second_name, first_name) if is_second else (first_name, second_name)
    return MixingView(
        first=first_name,
        second=second_name,
        begin=datetime.fromtimestamp(3600.0 * float(hours[0]), zone),
        end=datetime.fromtimestamp(3600.0 * float(hours[-1]), zone),
        moved_ph=float(np.ptp(ph[0])),
        follower=follower,
        chance_second=chance,
        exchange_h=interval(way.draws_h),
        told=way.told,
        offset_ph=interval(way.offset_ph if is_second else -way.offset_ph),
        noise_ph=way.noise_ph,
        verdict=_verdict(way, follower, names),
        notes=tuple(_NOTES),
    )


_NOTES = (
    "Both probes are taken to be in water of one KH and temperature; their clocks must agree to the minute.",
    "It holds for the flow as it was while both logged: a cleaned filter, a moved outflow change it.",
)


def _verdict(way: Follows, follower: str, names: tuple[str, str]) -> str:
    late, lead = names
    if way.noise_ph > BAD_FIT_PH:
        return (
            f"{late} does not simply follow {lead}: they stray by {way.noise_ph:.2f} pH. Gas may reach it by "
            "a way of its own, or a probe wanders; no exchange time is told."
        )
    times = interval(way.draws_h)
    if not follower:
        return (
            "I can't tell which of the two follows: they move together within "
            f"{span_text(times.high_90)}. Bring one nearer to the diffuser, the other into a corner."
        )
    if way.told < TOLD:
        return f"{late} follows {lead}, but how late cannot be told yet; log a whole ramp with both."
    span = f"9 in 10: {span_text(times.low_90)} to {span_text(times.high_90)}"
    stays = f"water there stays about {span_text(times.median)} before it is exchanged ({span})"
    return f"{late} follows {lead}: {stays}."


def _in_common(first: Samples, second: Samples) -> tuple[Array, Array]:
    """Hours since 1970 and both pH, shape (m,) and (2, m), of the longest stretch that both cover."""
    bins = [_binned(one) for one in (first, second)]
    both = np.intersect1d(bins[0][0], bins[1][0])
    if both.size:
        cuts = np.flatnonzero(np.diff(both) > _GAP_BINS) + 1
        both = max(np.split(both, cuts), key=len)
        both = both[both > both[-1] - int(MOST_H * 60 / BIN_MIN)]
    ph = np.array([means[np.isin(numbers, both)] for numbers, means in bins])
    hours = both * BIN_MIN / 60.0
    long_enough = both.size >= LEAST_H * 60 / BIN_MIN
    if not long_enough or np.ptp(ph[0]) < LEAST_MOVE_PH:
        lacking = (
            f"pH moves by only {np.ptp(ph[0]):.2f} in them"
            if long_enough
            else f"they have {both.size * BIN_MIN / 60.0:.1f} hours in common"
        )
        raise NotEnoughRecordsError(
            f"The two logs tell too little: {lacking}.",
            where="mixing",
            cure=f"Log with both at once for {LEAST_H:g} hours or more, through a ramp of the gas.",
        )
    return np.asarray(hours, dtype=np.float64), ph


def _binned(samples: Samples) -> tuple[npt.NDArray[np.int64], Array]:
    """Numbers of the bins with readings, and mean pH in each."""
    numbers, place = np.unique(samples.minute_utc // BIN_MIN, return_inverse=True)
    return numbers, np.bincount(place, samples.ph) / np.bincount(place)
