"""Use case: a probe's log and a tank card in, what changed and the daily figures out; no store needed."""

import json
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from dawnlevel.desk.one_thread import one_blas_thread
from dawnlevel.desk.steadiness.logfile import ProbeLog, read_log
from dawnlevel.errors import BadInputError
from dawnlevel.tank.clock import wall_clock
from dawnlevel.units import dkh_to_meq_l
from dawnlevel.watch.causes import CHECKS, judge_causes
from dawnlevel.watch.days import BEFORE_H, BIN_H, Bins, Card, cut_days
from dawnlevel.watch.figures import Figures, daily_figures
from dawnlevel.watch.findings import FEWEST_DAYS, Finding, find_changes
from dawnlevel.watch.fit import EXCHANGE, GAIN, UPTAKE

_NEEDED = ("gas_on_h", "gas_off_h", "lights_on_h", "lights_off_h", "kh_dkh", "timezone")
_USUAL_TEMP_C = 24.0  # common practice, no source

UNITS = {
    "injection_weaker": "share of the usual gas", "injection_stronger": "share of the usual gas",
    "exchange_faster": "share of the usual exchange", "exchange_slower": "share of the usual exchange",
    "uptake_higher": "share of the usual uptake", "uptake_lower": "share of the usual uptake",
    "start_late": "h", "start_early": "h", "start_missed": "share of days", "stuck_open": "share of nights",
    "baseline_shift": "pH", "probe_step": "pH", "probe_drift": "pH a day",
    "gas_empty": "share of the usual gas",
    "unsteady": "scatter of the gas from day to day, as a share",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class CauseView:
    """One cause with what the log says for and against it; `is_recorded`: the keeper wrote it down."""

    cause: str
    speaks_for: tuple[str, ...]
    speaks_against: tuple[str, ...]
    is_recorded: bool = False


@dataclass(frozen=True, slots=True)
class FindingView:
    """One change: kind, since when, how sure, how large, why perhaps, and the check that decides."""

    kind: str
    since: datetime
    since_interval_h: float
    since_earliest: datetime
    since_latest: datetime
    probability: float
    size: float
    size_unit: str
    causes: tuple[CauseView, ...]
    check: str


@dataclass(frozen=True, slots=True)
class DayView:
    """One gas day's figures; null where the log cannot tell."""

    day: date
    exchange_per_h: float
    exchange_sd: float
    gain_mg_l_h: float
    gain_sd: float
    uptake_mg_l_h: float
    uptake_sd: float
    start_h: float
    stop_h: float
    co2_lights_on_mg_l: float
    co2_gas_off_mg_l: float
    ph_night: float
    scatter: float
    gas_share: float
    state: str


@dataclass(frozen=True, slots=True)
class WatchView:
    """What a log says: findings, most important first, the days, how the file was read.

    `is_long_enough`: whether there are days enough to say what is usual.
    """

    findings: tuple[FindingView, ...]
    days: tuple[DayView, ...]
    columns: tuple[str, ...]
    readings: int
    left_out: int
    doubled: int
    comparable_days: int
    is_long_enough: bool
    timezone: str


@dataclass(frozen=True, slots=True)
class Watched:
    """What was made of a log: the view, and what closer looks are made from."""

    view: WatchView
    found: tuple[Finding, ...]
    figures: Figures
    placed: "Placed"


def watch_view(
    log: bytes, log_name: str, card: bytes, card_name: str, of_clock: ZoneInfo | None = None
) -> WatchView:
    """Read both files and judge; BadLinesError, BadInputError, NotEnoughRecordsError say what is wrong.

    `of_clock`: the zone of the log's local times, where it is not the card's.
    """
    known, zone = read_card(card, card_name)
    return watch_probe(read_log(log, log_name, zone, of_clock), known, zone).view


@one_blas_thread()
def watch_probe(probe: ProbeLog, card: Card, zone: ZoneInfo) -> Watched:
    """Judge a log that has been read. NotEnoughRecordsError where it holds no gas day."""
    bins = cut_days(probe.hours, probe.ph, probe.temp_c, card)
    figures = daily_figures(bins, card)
    placed = Placed(probe, bins, card, zone)
    found = tuple(find_changes(figures))
    view = WatchView(
        tuple(_finding(one, figures, placed) for one in found),
        _days(figures, placed),
        tuple(f"{what}: {name}" for what, name in probe.columns.items()),
        int(probe.hours.size),
        probe.left_out,
        probe.doubled,
        int(figures.usable.sum()),
        bool(figures.usable.sum() >= FEWEST_DAYS),
        zone.key,
    )
    return Watched(view, found, figures, placed)


def make_card(
    gas_h: tuple[float, float], lights_h: tuple[float, float], kh_dkh: float, temp_c: float
) -> Card:
    """A card from wall-clock hours (on, off) [h], over midnight too, KH [dKH], temperature [degC]."""
    (on, off), (light_on, light_off) = gas_h, lights_h
    return Card(
        gas_on_h=on,
        gas_off_h=off + 24.0 * (off <= on),
        lights_on_h=light_on,
        lights_off_h=light_off + 24.0 * (light_off <= light_on),
        alkalinity_meq_l=float(dkh_to_meq_l(kh_dkh)),
        temp_c=temp_c,
    )


@dataclass(frozen=True, slots=True)
class Placed:
    """What places a gas day and a bin of it in time; `card` with what holds from later days on."""

    probe: ProbeLog
    bins: Bins
    card: Card
    zone: ZoneInfo

    def card_of(self, row: int) -> Card:
        """The card that holds on a gas day."""
        return self.card.on(self.bins.first_day + row)

    def lit(self, row: int) -> int:
        """The bin of a gas day in which the lights come on."""
        card = self.card_of(row)
        return int(((card.lights_on_h - card.begin_h) % 24.0) / BIN_H)

    def day(self, row: int) -> date:
        """The calendar day on which a gas day's gas should open."""
        hour = 24.0 * (self.bins.first_day + row) + self.card_of(row).gas_on_h
        return (self.probe.day_0 + timedelta(hours=hour)).date()

    def moment(self, row: int, place: int) -> datetime:
        """The moment at which a bin of a gas day begins."""
        hour = 24.0 * (self.bins.first_day + row) + self.card_of(row).begin_h + place * BIN_H
        return wall_clock(self.probe.day_0.date(), hour, self.zone)

    def clocks_changed(self, row: int) -> bool:
        """Whether the zone's clocks changed within two days of a gas day."""
        around = [self.moment(row + shift, 0).astimezone(self.zone).utcoffset() for shift in (-2, 2)]
        return around[0] != around[1]


def read_card(content: bytes, file: str) -> tuple[Card, ZoneInfo]:
    """The tank card of a JSON file; BadInputError names everything that is missing or wrong at once."""
    try:
        card = json.loads(content.decode("utf-8-sig"))
    except ValueError as error:
        raise BadInputError(f"The card is no JSON ({error}).", where=file, cure="Export it again.") from error
    if not isinstance(card, dict):
        raise BadInputError("The card is no JSON object.", where=file, cure="Give the keys of a tank card.")
    problems = [f"{key} is missing" for key in _NEEDED if card.get(key) is None]
    numbers: dict[str, float] = {}
    for key, value in card.items():
        if key.endswith(("_h", "_dkh", "_c", "_bps", "_l", "_ppm")) and value is not None:
            if isinstance(value, bool) or not isinstance(value, int | float):
                problems.append(f"{key} is {value!r}, no number")
            else:
                numbers[key] = float(value)
    problems += [
        f"{key} is {numbers[key]:g}, not above 0" for key in ("kh_dkh",) if numbers.get(key, 1.0) <= 0.0
    ]
    try:
        zone = ZoneInfo(str(card.get("timezone") or "UTC"))
    except (OSError, ValueError, KeyError):
        problems.append(f"timezone is {card['timezone']!r}, no zone's name (like Europe/Lisbon)")
    if problems:
        cure = "Mend the card: hours of the day as numbers (13.5 is 13:30), KH in dKH, a zone's name."
        raise BadInputError(f"The card cannot be used: {'; '.join(problems)}.", where=file, cure=cure)
    hours = {name: (numbers[f"{name}_on_h"], numbers[f"{name}_off_h"]) for name in ("gas", "lights")}
    temp_c = numbers.get("temp_c", _USUAL_TEMP_C)
    return make_card(hours["gas"], hours["lights"], numbers["kh_dkh"], temp_c), zone


def _finding(one: Finding, figures: Figures, placed: Placed) -> FindingView:
    since = placed.moment(one.day, one.bin)
    earliest = min(placed.moment(one.first_day - 1, one.bin), since)
    latest = max(placed.moment(one.last_day, one.bin), since)
    causes = judge_causes(one, figures, clocks_changed=placed.clocks_changed(one.day))
    size = float(np.expm1(one.size)) if one.kind.startswith(("injection", "exchange", "uptake")) else one.size
    return FindingView(
        one.kind, since, (latest - earliest) / timedelta(hours=1), earliest, latest,
        round(one.probability, 4),
        float(f"{size:.3g}"), UNITS[one.kind],
        tuple(CauseView(cause.cause, cause.speaks_for, cause.speaks_against) for cause in causes),
        CHECKS[one.kind],
    )  # fmt: skip


def _days(figures: Figures, placed: Placed) -> tuple[DayView, ...]:
    fits, bins = figures.fits, placed.bins
    night = max(int(BEFORE_H / BIN_H) - 2, 0)
    views = []
    for row in range(fits.rows.size):
        if fits.rows[row] <= 0.0:
            continue
        value, error = fits.values[row], fits.errors[row]
        state = (
            "no gas" if figures.missed[row] else "gas all night" if figures.open_night[row] else "as usual"
        )
        views.append(
            DayView(
                placed.day(row), float(value[EXCHANGE]), float(error[EXCHANGE]), float(value[GAIN]),
                float(error[GAIN]), float(value[UPTAKE]), float(error[UPTAKE]), float(fits.start_h[row]),
                float(fits.stop_h[row]), float(bins.co2_mg_l[row, placed.lit(row)]),
                float(figures.level_off_mg_l[row]), float(bins.ph[row, night]), float(fits.scatter[row]),
                float(figures.dose[row]), state,
            )
        )  # fmt: skip
    return tuple(views)
