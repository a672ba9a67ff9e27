"""Use case: the baseline cup - how to take one, how long it takes here, and whether one is degassed yet."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from dawnlevel.chemistry.air import pressure_atm_at_altitude
from dawnlevel.desk.casebook import SEED
from dawnlevel.errors import BadInputError
from dawnlevel.estimate.degassed import SURE, CupJudgement, CupWater, judge_cup, usual_wait_h
from dawnlevel.estimate.posterior import Interval
from dawnlevel.store import Store
from dawnlevel.tank import BaselineMethod, KhTitration, Tank

_PREPARED = {
    BaselineMethod.AERATED: (
        "Aerated",
        "Put an air stone into a cup of tank water, well away from the tank's gas, and let it bubble.",
    ),
    BaselineMethod.STIRRED_CUP: (
        "Stirred",
        "Keep a cup of tank water moving: a stirrer, or pour it to and fro often.",
    ),
    BaselineMethod.STILL_CUP: ("Left standing", "Leave a wide, shallow cup of tank water open in the room."),
}
_UNSURE = 0.1


@dataclass(frozen=True, slots=True)
class CupWayView:
    """One way to prepare a baseline cup, and how long it takes with this tank's water."""

    method: BaselineMethod
    label: str
    how: str
    wait_h: float | None


@dataclass(frozen=True, slots=True)
class CupGuideView:
    """How to take a baseline here, the quickest way first; the KH it reckons with, none where not counted."""

    tank: str
    kh_dkh: float | None
    ways: tuple[CupWayView, ...]


@dataclass(frozen=True, slots=True)
class CupView:
    """Whether a cup is degassed: the pH still to come, its chance, how much longer, in words."""

    tank: str
    method: BaselineMethod
    hours: float
    ph: float
    is_degassed: bool
    chance_degassed: float
    short_ph: Interval
    more_h: float | None
    verdict: str
    reason: str
    next_step: str


def cup_guide(store: Store, name: str, now: datetime, seed: int = SEED) -> CupGuideView:
    """How to take a baseline for tank `name` at `now` (aware). Raises NoSuchTankError."""
    water = _water(store, store.tank(name), now)
    ways = tuple(
        CupWayView(method, label, how, usual_wait_h(water, method, np.random.default_rng(seed)))
        for method, (label, how) in _PREPARED.items()
    )
    return CupGuideView(name, water.kh_dkh, ways)


def cup_view(
    store: Store,
    name: str,
    now: datetime,
    method: BaselineMethod,
    readings: Sequence[tuple[float, float]],
    seed: int = SEED,
) -> CupView:
    """The verdict on a cup of tank `name` by its `readings`: hours since it was poured [h] and pH [-].

    Raises NoSuchTankError; BadInputError where none is given; NotEnoughRecordsError where no cup gives them.
    """
    if not readings:
        raise BadInputError("There is no reading.", where="cup", cure="Read the cup's pH, then give it here.")
    tank, ordered = store.tank(name), sorted(readings)
    water = _water(store, tank, now)
    found = judge_cup(water, method, ordered, tank.ph_step, np.random.default_rng(seed))
    hours, ph = ordered[-1]
    is_degassed = found.chance_degassed >= SURE
    return CupView(
        tank=name,
        method=method,
        hours=hours,
        ph=ph,
        is_degassed=is_degassed,
        chance_degassed=found.chance_degassed,
        short_ph=found.short_ph,
        more_h=found.more_h,
        verdict=_verdict(found, is_degassed=is_degassed),
        reason=_reason(found, water),
        next_step=_next_step(found, method, is_degassed=is_degassed),
    )


def wait_text(wait_h: float | None) -> str:
    """A wait as it is said: `about 45 min`, `about 4 h`, `more than 48 h`."""
    if wait_h is None:
        return "more than 48 h"
    return f"about {wait_h * 60:.0f} min" if wait_h < 1 else f"about {wait_h:g} h"


def _verdict(found: CupJudgement, *, is_degassed: bool) -> str:
    if is_degassed:
        return "Degassed: this is an honest baseline."
    if found.chance_degassed <= _UNSURE:
        return "Not degassed yet."
    return "It cannot be told yet whether it is degassed."


def _reason(found: CupJudgement, water: CupWater) -> str:
    short = found.short_ph
    way, least, middle, most = "rise", short.low_90, short.median, short.high_90
    if middle < 0.0:
        way, least, middle, most = "fall", -most, -middle, -least
    told = f"Its pH has {abs(middle):.2f} to {way} still (9 in 10: {max(least, 0.0):.2f} to {most:.2f})"
    end = "; a drop counted from it now comes out that much too small." if short.median >= 0.02 else "."
    if water.kh_dkh is None:
        end += " No KH is on record, which makes this unsure: count it first."
    return told + end


def _next_step(found: CupJudgement, method: BaselineMethod, *, is_degassed: bool) -> str:
    if is_degassed:
        return "Record it."
    if found.more_h is None:
        return "Waiting will not do: aerate the cup, then read it again."
    wait = wait_text(found.more_h)
    if found.chance_degassed > _UNSURE:
        return (
            f"Read it again in half an hour: if it rose by less than 0.02 it is ready, else give it {wait}."
        )
    if method is BaselineMethod.STILL_CUP:
        return f"Leave it {wait} more, or aerate it, which is quicker; then read it again."
    return f"Go on for {wait} more, then read it again."


def _water(store: Store, tank: Tank, now: datetime) -> CupWater:
    """The tank's water by its description and its latest KH count."""
    until = now.astimezone(UTC)
    counts = [
        stored.record
        for stored in store.records(tank.name, until=until)
        if isinstance(stored.record, KhTitration)
    ]
    latest = counts[-1] if counts else None
    return CupWater(
        kh_dkh=latest.kh_dkh if latest else None,
        kh_step_dkh=(latest.step_dkh if latest else None) or tank.kh_step_dkh,
        temp_c=tank.temp_c,
        room_co2_ppm=tank.room_co2_ppm,
        pressure_atm=float(pressure_atm_at_altitude(tank.altitude_m)),
    )
