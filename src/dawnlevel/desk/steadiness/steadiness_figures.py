"""A keeper's records made into daily figures: the level at lights-on, pH at rest, the cup, KH, the cell.

The level is judged against what the recorded gas should give (hours of gas before the reading, the count,
water changed), so that a reading taken an hour early, or after a shorter ramp, is no change of the tank.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from dawnlevel.balance.exchange import TRANSFER_VELOCITY_CM_H
from dawnlevel.chemistry import carbonate_coefficients, co2_from_ph_fast
from dawnlevel.estimate.priors import EYE_PH_SD, READ_PH_SD
from dawnlevel.estimate.timeline import gas_day, solenoid_events
from dawnlevel.tank import (
    BaselineCup,
    CellColour,
    CellSighting,
    KhTitration,
    PhReading,
    RateSetting,
    Record,
    SolutionPrepared,
    Tank,
    TimerSetting,
    WaterChange,
)
from dawnlevel.tank.clock import light_spans
from dawnlevel.units import dkh_to_meq_l
from dawnlevel.watch.parting import CELL, CUP, KH, LEVEL, LN10, REST, Situation
from dawnlevel.watch.steady import Series

Floats = npt.NDArray[np.float64]

LEAST_GAS_H, LEAST_DARK_H = 0.75, 8.0
"""Hours of gas before a reading speaks of the gas, hours without before it speaks of rest (judgement)."""

WANDER = {LEVEL: 0.014, REST: 0.003, CUP: 0.003, KH: 0.01, CELL: 0.02}
"""What a figure wanders by in a day while all is well, sd in its unit: needles creep by 0.5 to 3.5 % a day,
meters and water by thousandths of pH (common practice, no source)."""

_NEAR_H = 2.0  # without a timer a reading this near to lights-on counts as one of the level then
_DAY = timedelta(days=1)
_USUAL_MG_L, _USUAL_LEAD_H, _USUAL_DARK_H = 20.0, 2.0, 14.0  # common practice, no source
_LIGHT_DOUBT = 0.05  # ln of the level an hour from lights-on, for plants take up meanwhile (judgement)
_STEADY_DOUBT = 0.03  # ln of the level that no reading of a steady tank is better than (judgement)
_CUP_PH, _KIT_SHARE = 0.03, 0.05  # least error of a cup [pH] and of a titration [-] (common practice)
_CELL_LN = {CellColour.BLUE: 7.05, CellColour.GREEN: 6.7, CellColour.LIME: 6.43, CellColour.YELLOW: 6.15}
# pH inside a 4 dKH cell at the middle of each colour (common practice, no source; edges in estimate.priors)


@dataclass(frozen=True, slots=True)
class Gathered:
    """The figures of a tank: `series` by name, `breaks` [d] by name, days counted from `origin`.

    `run` says how the tank is run; `changed` when water was changed.
    """

    origin: datetime
    series: dict[str, Series]
    breaks: dict[str, tuple[float, ...]]
    run: Situation
    changed: tuple[datetime, ...]

    def moment(self, days: float) -> datetime:
        """The moment so many days after the origin."""
        return self.origin + timedelta(days=days)


@dataclass(frozen=True, slots=True)
class _Read:
    """One reading of pH, what the gas before it should have given, for how long that was on or off."""

    at: datetime
    ph: float
    given: float
    open_h: float
    closed_h: float
    from_light_h: float


def gather(tank: Tank, records: Sequence[Record], now: datetime, kla_per_h: float | None = None) -> Gathered:
    """The figures that records (sorted by time) up to `now` (UTC) give; exchange [1/h] where it is known."""
    kla = kla_per_h or TRANSFER_VELOCITY_CM_H[tank.surface].median / tank.depth_cm
    origin = records[0].at if records else now
    reads = _reads(tank, records, origin, now, kla)
    gassed, rested = _of_the_level(tank, reads), _of_rest(tank, reads)
    found = (
        _level(tank, gassed, origin),
        _plain(REST, [(one.at, one.ph) for one in rested], _meter_error(tank), origin),
        _cups(tank, records, origin),
        _titres(tank, records, origin),
        _cells(records, reads, origin),
    )
    timers = [one.at for one in records if isinstance(one, TimerSetting)]
    turned = [*_new_counts(records), *timers]
    breaks = {
        LEVEL: _days(turned, origin),
        CELL: _days([*turned, *(one.at for one in records if isinstance(one, SolutionPrepared))], origin),
    }
    return Gathered(
        origin,
        {one.name: one for one in found},
        breaks,
        _situation(tank, records, gassed, rested, kla),
        tuple(one.at for one in records if isinstance(one, WaterChange)),
    )


def _reads(tank: Tank, records: Sequence[Record], origin: datetime, now: datetime, kla: float) -> list[_Read]:
    """Every pH reading with the gas that came before it."""
    readings = [one for one in records if isinstance(one, PhReading)]
    zone = ZoneInfo(tank.timezone)
    ons = [on for on, _ in light_spans(tank.photoperiod, zone, origin - _DAY, now + _DAY)]
    seconds = np.array([on.timestamp() for on in ons])
    found = []
    for one, (given, open_h, closed_h) in zip(
        readings, _gas_before(tank, records, [one.at for one in readings], now, kla), strict=True
    ):
        apart = one.at.timestamp() - seconds
        nearest = float(apart[np.argmin(np.abs(apart))]) / 3600.0
        found.append(_Read(one.at, one.ph, given, open_h, closed_h, nearest))
    return found


def _gas_before(
    tank: Tank, records: Sequence[Record], moments: Sequence[datetime], now: datetime, kla: float
) -> list[tuple[float, float, float]]:
    """What the gas should have left at each moment (rising), and the hours it has been open or closed.

    In bubbles/s x h, fading with the exchange [1/h].
    """
    if not moments:
        return []
    switches = [
        (at, "gas", float(is_open)) for at, is_open in solenoid_events(tank, records, moments[0], now)
    ]
    counts = [(r.at, "rate", r.bubbles_per_second) for r in records if isinstance(r, RateSetting)]
    changed = [(r.at, "water", r.fraction) for r in records if isinstance(r, WaterChange)]
    asked = [(at, "ask", 0.0) for at in moments]
    rate, is_open, given, last, turned = 0.0, False, 0.0, None, None
    found = []
    for at, what, value in sorted([*switches, *counts, *changed, *asked], key=lambda event: event[0]):
        if last is not None:
            kept = float(np.exp(-kla * ((at - last) / timedelta(hours=1))))
            given = given * kept + is_open * rate * (1.0 - kept) / kla
        last = at
        if what == "gas" and bool(value) != is_open:
            is_open, turned = bool(value), at
        elif what == "rate":
            rate = value
        elif what == "water":
            given *= 1.0 - value
        elif what == "ask":
            since = float("inf") if turned is None else (at - turned) / timedelta(hours=1)
            flows = is_open and rate > 0.0
            found.append((given, since if flows else 0.0, 0.0 if flows else since))
    return found


def _of_the_level(tank: Tank, reads: Iterable[_Read]) -> list[_Read]:
    """One reading a gas day that speaks of the level: with gas, nearest to lights-on."""
    reads = list(reads)
    has_gas = any(one.open_h > 0.0 for one in reads)
    good = [
        one for one in reads if (one.open_h >= LEAST_GAS_H if has_gas else abs(one.from_light_h) <= _NEAR_H)
    ]
    return _one_a_day(tank, good)


def _of_rest(tank: Tank, reads: Iterable[_Read]) -> list[_Read]:
    """One reading a gas day that speaks of the tank at rest: long after the gas closed."""
    return _one_a_day(tank, [one for one in reads if LEAST_DARK_H <= one.closed_h < 48.0])


def _one_a_day(tank: Tank, reads: Iterable[_Read]) -> list[_Read]:
    """The reading of each gas day that is nearest to lights-on."""
    best: dict[object, _Read] = {}
    for one in reads:
        day = gas_day(tank, one.at)
        if day not in best or abs(one.from_light_h) < abs(best[day].from_light_h):
            best[day] = one
    return list(best.values())


def _meter_error(tank: Tank) -> float:
    return float(np.hypot(READ_PH_SD, tank.ph_step / np.sqrt(12.0)))


def _level(tank: Tank, reads: Sequence[_Read], origin: datetime) -> Series:
    """Ln of CO2 by the reading over what the gas should have given, up to a constant."""
    given = np.array([one.given for one in reads])
    usual = float(np.median(given)) if reads else 1.0
    share = given / usual if usual > 0.0 else np.ones_like(given)
    values = -LN10 * np.array([one.ph for one in reads]) - np.log(np.maximum(share, 0.05))
    light = np.array([abs(one.from_light_h) for one in reads])
    errors = np.sqrt((LN10 * _meter_error(tank)) ** 2 + _STEADY_DOUBT**2 + (_LIGHT_DOUBT * light) ** 2)
    return _series(LEVEL, [one.at for one in reads], values, errors, origin)


def _cups(tank: Tank, records: Sequence[Record], origin: datetime) -> Series:
    """Cups prepared in the way used most often."""
    cups = [one for one in records if isinstance(one, BaselineCup)]
    ways = [one.method for one in cups]
    usual = max(set(ways), key=ways.count) if ways else None
    pairs = [(one.at, one.ph) for one in cups if one.method is usual]
    return _plain(CUP, pairs, float(np.hypot(_meter_error(tank), _CUP_PH)), origin)


def _titres(tank: Tank, records: Sequence[Record], origin: datetime) -> Series:
    counts = [one for one in records if isinstance(one, KhTitration) and one.kh_dkh > 0.0]
    values = np.log(np.array([one.kh_dkh for one in counts]))
    steps = np.array([(one.step_dkh or tank.kh_step_dkh) / one.kh_dkh for one in counts])
    errors = np.hypot(steps / np.sqrt(12.0), _KIT_SHARE)
    return _series(KH, [one.at for one in counts], values, errors, origin)


def _cells(records: Sequence[Record], reads: Sequence[_Read], origin: datetime) -> Series:
    """Ln of CO2 by the cell, seen within two hours of a reading of the level, so that the gas is known."""
    gassed = [one.at for one in reads if one.open_h >= LEAST_GAS_H]
    seen = [
        one
        for one in records
        if isinstance(one, CellSighting) and any(abs(one.at - at) <= timedelta(hours=2) for at in gassed)
    ]
    values = -LN10 * np.array([_CELL_LN[one.colour] for one in seen])
    error = LN10 * float(np.hypot(EYE_PH_SD, 0.3 / np.sqrt(12.0)))
    return _series(CELL, [one.at for one in seen], values, np.full(values.shape, error), origin)


def _plain(name: str, pairs: Sequence[tuple[datetime, float]], error: float, origin: datetime) -> Series:
    values = np.array([value for _, value in pairs])
    return _series(name, [at for at, _ in pairs], values, np.full(values.shape, error), origin)


def _series(name: str, ats: Sequence[datetime], values: Floats, errors: Floats, origin: datetime) -> Series:
    """Figures in order of time; two of the same moment count as the later one."""
    days = np.array(_days(ats, origin))
    order = np.argsort(days, kind="stable")
    days = days[order]
    kept = np.append(np.diff(days) > 1e-6, True) if days.size else np.zeros(0, dtype=np.bool_)
    return Series(name, days[kept], values[order][kept], errors[order][kept], WANDER[name])


def _days(moments: Iterable[datetime], origin: datetime) -> tuple[float, ...]:
    return tuple((at - origin) / _DAY for at in moments)


def _new_counts(records: Iterable[Record]) -> list[datetime]:
    """When the needle was set to another count than before."""
    found, before = [], None
    for one in records:
        if isinstance(one, RateSetting):
            if one.bubbles_per_second != before:
                found.append(one.at)
            before = one.bubbles_per_second
    return found


def _situation(
    tank: Tank, records: Sequence[Record], gassed: Sequence[_Read], rested: Sequence[_Read], kla: float
) -> Situation:
    """How the tank is run, by its latest KH and its median readings."""
    counts = [one.kh_dkh for one in records if isinstance(one, KhTitration) and one.kh_dkh > 0.0]
    level = _USUAL_MG_L
    if counts and gassed:
        alkalinity = np.array([float(dkh_to_meq_l(counts[-1]))])
        ph = np.array([float(np.median([one.ph for one in gassed]))])
        level = float(co2_from_ph_fast(ph, alkalinity, carbonate_coefficients(alkalinity, tank.temp_c))[0])
    leads = [one.open_h - one.from_light_h for one in gassed if np.isfinite(one.open_h) and one.open_h > 0.0]
    darks = [one.closed_h for one in rested]
    lead = max(float(np.median(leads)), 0.5) if leads else _USUAL_LEAD_H
    return Situation(kla, lead, max(level, 1.0), float(np.median(darks)) if darks else _USUAL_DARK_H)
