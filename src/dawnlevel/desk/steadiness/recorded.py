"""What the keeper wrote down about the time of a change: the needle, the timer, KH, the meter and more."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import pairwise
from math import log10
from zoneinfo import ZoneInfo

from dawnlevel.desk.phrases import day_text
from dawnlevel.desk.saying import say
from dawnlevel.errors import DawnlevelError
from dawnlevel.store import TankVersion
from dawnlevel.supply.ph_meter import judge
from dawnlevel.tank import (
    BufferCheck,
    CylinderExchange,
    GasSwitch,
    KhTitration,
    Planting,
    RateSetting,
    Record,
    Surface,
    Tank,
    TimerSetting,
    WaterChange,
)
from dawnlevel.tank.clock import local_hour

_NOTABLE = (
    "injection_weaker", "injection_stronger", "exchange_faster", "exchange_slower", "uptake_higher",
    "uptake_lower",
)  # fmt: skip
"""Kinds that come of work for which there is no record but a note: a trim, a clean hose."""

_NOTE_SHOWN = 80  # characters of a note (judgement)
_USUAL_PH = 6.8  # where a meter's error counts: a gassed tank's pH (judgement)


@dataclass(frozen=True, slots=True)
class Deed:
    """Something done or found out, in words, between two moments; `may`: the kinds of change it may make.

    Of each kind the size it should have, in the kind's unit; None where that cannot be said.
    """

    begin: datetime
    end: datetime
    text: str
    may: Mapping[str, float | None]
    is_note: bool = False


@dataclass(frozen=True, slots=True)
class Written:
    """Standing records sorted by time and descriptions, oldest first, of a tank in `zone`."""

    records: Sequence[Record]
    versions: Sequence[TankVersion]
    zone: ZoneInfo
    deeds: list[Deed] = field(init=False)

    def __post_init__(self) -> None:
        """List all that was done."""
        found = [*_of_the_gas(self.records, self.zone), *_of_the_water(self.records, self.zone)]
        found += [*_of_the_description(self.versions), *_noted(self.records)]
        object.__setattr__(self, "deeds", found)


def _at(moment: datetime, text: str, may: Mapping[str, float | None], *, is_note: bool = False) -> Deed:
    return Deed(moment, moment, text, may, is_note)


def _of_the_gas(records: Sequence[Record], zone: ZoneInfo) -> Iterator[Deed]:
    rates = [one for one in records if isinstance(one, RateSetting)]
    for before, now in pairwise(rates):
        yield from _turned(before.bubbles_per_second, now)
    timers = [one for one in records if isinstance(one, TimerSetting)]
    for old, new in pairwise(timers):
        if may := _timed(old, new):
            yield _at(new.at, f"the timer set anew: {say(old)} before, {say(new)} since", may)
    for one in records:
        if isinstance(one, CylinderExchange):
            yield _at(one.at, "another cylinder", {"injection_weaker": None, "injection_stronger": None})
        if isinstance(one, GasSwitch):
            yield from _switched(one, timers, zone)


def _turned(before: float, now: RateSetting) -> Iterator[Deed]:
    rate = now.bubbles_per_second
    if rate == before:
        return
    may: dict[str, float | None] = {"unsteady": None}
    if rate <= 0.0:
        may |= {"start_missed": None, "gas_empty": None, "injection_weaker": None}
    else:
        kind = "injection_stronger" if rate > before else "injection_weaker"
        may[kind] = rate / before - 1.0 if before > 0.0 else None
    yield _at(now.at, f"the needle set from {before:g} to {rate:g} bubbles/s", may)


def _timed(old: TimerSetting, new: TimerSetting) -> dict[str, float | None]:
    """What a timer set anew may make."""
    if not old.windows_h or not new.windows_h:
        return {} if new.windows_h or not old.windows_h else {"start_missed": None, "gas_empty": None}
    before, now = longest_window(old), longest_window(new)
    later_h, longer_h = ((now[end] - before[end] + 12.0) % 24.0 - 12.0 for end in (0, 1))
    may: dict[str, float | None] = {}
    if later_h:
        may["start_late" if later_h > 0.0 else "start_early"] = later_h
    if longer_h > 0.0:
        may["stuck_open"] = None
    return may


def longest_window(timer: TimerSetting) -> tuple[float, float]:
    """The longest of a timer's windows, which are there: (open, close) [h of the day]."""
    return max(timer.windows_h, key=lambda window: (window[1] - window[0]) % 24.0)


def _switched(one: GasSwitch, timers: Sequence[TimerSetting], zone: ZoneInfo) -> Iterator[Deed]:
    """A switch against the timer; one that follows it is no news."""
    standing = [timer for timer in timers if timer.at <= one.at]
    if not standing:
        return
    hour = local_hour(one.at, zone)
    is_due = any((hour - on) % 24.0 < (off - on) % 24.0 for on, off in standing[-1].windows_h)
    if one.is_open and not is_due:
        yield _at(one.at, "the gas opened by hand outside the timer's hours", {"stuck_open": None})
    if not one.is_open and is_due:
        may = {"start_missed": None, "gas_empty": None}
        yield _at(one.at, "the gas closed by hand within the timer's hours", may)


def _of_the_water(records: Sequence[Record], zone: ZoneInfo) -> Iterator[Deed]:
    for before, now in pairwise([one for one in records if isinstance(one, KhTitration)]):
        step = max(before.step_dkh or 0.0, now.step_dkh or 0.0)
        if abs(now.kh_dkh - before.kh_dkh) > step and min(before.kh_dkh, now.kh_dkh) > 0.0:
            days = [day_text(one.at.astimezone(zone)) for one in (before, now)]
            text = f"KH: {before.kh_dkh:.3g} dKH counted on {days[0]}, {now.kh_dkh:.3g} dKH on {days[1]}"
            shift_ph = log10(now.kh_dkh / before.kh_dkh)
            days_between = max((now.at - before.at) / timedelta(days=1), 1.0)
            may = {"baseline_shift": shift_ph, "probe_drift": shift_ph / days_between}
            yield Deed(before.at, now.at, text, may)
    for one in records:
        if isinstance(one, WaterChange):
            yield _at(one.at, f"a {say(one)}", {"baseline_shift": None})
        if isinstance(one, BufferCheck) and one.adjusted:
            yield _at(one.at, "the meter adjusted in two buffers", {"probe_step": adjusted_by(one)})


def adjusted_by(check: BufferCheck) -> float | None:
    """What adjusting the meter changes its readings by in a gassed tank [pH]; None where unknown."""
    try:
        return -judge(check).reading_error_ph(_USUAL_PH)
    except DawnlevelError:
        return None


def _of_the_description(versions: Sequence[TankVersion]) -> Iterator[Deed]:
    for old, new in pairwise(versions):
        for text, kinds in _described(old.tank, new.tank):
            yield _at(new.valid_from, text, dict.fromkeys(kinds))


def _described(old: Tank, new: Tank) -> Iterator[tuple[str, tuple[str, ...]]]:
    if old.surface is not new.surface:
        order = list(Surface)
        is_faster = order.index(new.surface) > order.index(old.surface)
        kind = "exchange_faster" if is_faster else "exchange_slower"
        yield f"the surface described as {new.surface}, {old.surface} before", (kind,)
    if old.diffuser is not new.diffuser:
        kinds = ("injection_weaker", "injection_stronger")
        yield f"the diffuser described as {new.diffuser}, {old.diffuser} before", kinds
    if old.planting is not new.planting:
        order_of_plants = list(Planting)
        is_more = order_of_plants.index(new.planting) > order_of_plants.index(old.planting)
        kind = "uptake_higher" if is_more else "uptake_lower"
        yield f"the planting described as {new.planting}, {old.planting} before", (kind,)
    before, now = old.photoperiod.hours, new.photoperiod.hours
    if before != now:
        kind = "uptake_higher" if now > before else "uptake_lower"
        yield f"the lights on for {now:g} h a day, {before:g} h before", (kind,)


def _noted(records: Sequence[Record]) -> Iterator[Deed]:
    for one in records:
        note = " ".join(one.note.split())
        if note:
            shown = note if len(note) <= _NOTE_SHOWN else f"{note[:_NOTE_SHOWN]}..."
            yield _at(one.at, f'what you noted: "{shown}"', dict.fromkeys(_NOTABLE), is_note=True)
