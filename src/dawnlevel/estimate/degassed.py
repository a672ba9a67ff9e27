"""Whether a baseline cup has come to rest with the room's air: draws of cups, weighed by its readings.

A cup's loss of CO2 is followed by `balance.cup` for draws of everything unknown; the readings weigh the draws
(importance sampling, as there are few readings and the prior is not much wider than they are).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from dawnlevel.balance.cup import CUP_DEPTH_CM, CUP_TRANSFER_VELOCITY_CM_H, cup_co2_mg_l
from dawnlevel.chemistry.air import air_co2_mg_l
from dawnlevel.chemistry.carbonate import ph_from_co2
from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.estimate.posterior import Interval, interval
from dawnlevel.estimate.priors import (
    CUP_PH_SD,
    KIT_LOW_STEPS,
    MEASURED_ROOM_LOG_SD,
    OTHER_ALKALINITY_MEQ_L,
    OUTDOOR_PPM,
    ROOM_EXCESS_PPM,
)
from dawnlevel.tank import BaselineMethod
from dawnlevel.units import MEQ_L_PER_DKH

Array = npt.NDArray[np.float64]

DEGASSED_WITHIN_PH = 0.05
"""A baseline this near its rest [pH] is good enough: a drop counted from it misses 12 % of CO2 at most, less
than the KH kit does (judgement; common practice, no source)."""

SURE = 0.9
"""Chance from which the cup is called degassed, or a wait long enough."""

POURED_MG_L = (8.0, 1.0)
"""CO2 in the water as it is poured: median [mg/L] and log sd, from before the gas to its height; common
practice, no source."""

WAITS_H = (0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 16.0, 24.0, 36.0, 48.0)
"""Waits that are looked at [h]."""

_METER_OFFSET_PH = 0.09
_KIT_LOG_SD = 0.09
ODD_SHARE, ODD_TIMES = 0.2, 3.0
"""Share of cups that are judged by a spread of transfer velocity so many times as wide: a tired air stone, a
cup stirred now and then; judgement, common practice, no source."""

_DRAWN, _KEPT = 6000, 700
_LEAST_DRAWS, _WORST_MISFIT = 15.0, 9.0


@dataclass(frozen=True, slots=True)
class CupWater:
    """What is known of the water and the room: KH count and its step in dKH, degC, ppm, atm; None unknown."""

    kh_dkh: float | None
    kh_step_dkh: float
    temp_c: float
    room_co2_ppm: float | None
    pressure_atm: float


@dataclass(frozen=True, slots=True)
class CupJudgement:
    """What is left to come.

    Attributes:
        short_ph: how far the cup's pH still is below its rest [pH].
        chance_degassed: chance that it is within DEGASSED_WITHIN_PH of it.
        more_h: least further wait [h] after which that chance is SURE; None where 48 h are too few.
    """

    short_ph: Interval
    chance_degassed: float
    more_h: float | None


@dataclass(frozen=True, slots=True)
class _Cups:
    """Draws of cups, each array of shape (n,): mg/L, meq/L, cm/h."""

    start: Array
    air: Array
    alkalinity: Array
    velocity: Array
    temp_c: float

    def level(self, hours: npt.ArrayLike) -> Array:
        """CO2 left [mg/L] after `hours`, which broadcasts against (n,)."""
        return cup_co2_mg_l(
            self.start, self.air, self.velocity, CUP_DEPTH_CM, hours, self.alkalinity, self.temp_c
        )

    def ph(self, level: Array) -> Array:
        """The cup's pH [-] at CO2 `level` [mg/L], shape (..., n)."""
        return ph_from_co2(level, self.alkalinity, self.temp_c)

    def chosen(self, index: npt.NDArray[np.intp]) -> "_Cups":
        """Some of the draws."""
        return _Cups(
            self.start[index], self.air[index], self.alkalinity[index], self.velocity[index], self.temp_c
        )


def usual_wait_h(water: CupWater, method: BaselineMethod, rng: np.random.Generator) -> float | None:
    """Wait [h] after which 9 in 10 cups prepared by `method` are degassed; None where 48 h are too few."""
    return _wait(_draw(water, method, rng, _KEPT), 0.0)


def judge_cup(
    water: CupWater,
    method: BaselineMethod,
    readings: Sequence[tuple[float, float]],
    ph_step: float,
    rng: np.random.Generator,
) -> CupJudgement:
    """What a cup still lacks by its `readings`: hours since it was poured [h] and pH [-], the latest last.

    `ph_step` is the meter's least step [pH]. Readings a cup cannot give raise NotEnoughRecordsError.
    """
    cups, misfit = _with_odd_ones(_draw(water, method, rng, _DRAWN), method)
    sd = float(np.hypot(CUP_PH_SD, ph_step / np.sqrt(12.0)))
    shown = np.array([[ph] for _, ph in readings])
    expected = cups.ph(cups.level(np.array([[hours] for hours, _ in readings])))
    # The meter's offset is drawn as the first reading wants it, and weighed by what offsets are usual.
    offset = shown[0] - expected[0] + sd * rng.standard_normal(_DRAWN)
    misfit = misfit + (offset / _METER_OFFSET_PH) ** 2
    misfit = misfit + np.sum(((shown[1:] - offset - expected[1:]) / sd) ** 2, axis=0)
    weight = np.exp(-0.5 * (misfit - misfit.min()))
    if misfit.min() > _WORST_MISFIT or weight.sum() ** 2 / (weight**2).sum() < _LEAST_DRAWS:
        raise NotEnoughRecordsError(
            "These readings do not go together with a cup of this KH, prepared like this.",
            cure="Check the KH, how the cup was prepared, that all readings are of this cup, and the meter "
            "in a buffer; then read again.",
        )
    kept = cups.chosen(rng.choice(_DRAWN, _KEPT, p=weight / weight.sum()))
    hours = readings[-1][0]
    short = kept.ph(kept.air) - kept.ph(kept.level(hours))
    chance = float(np.mean(np.abs(short) < DEGASSED_WITHIN_PH))
    return CupJudgement(interval(short), chance, 0.0 if chance >= SURE else _wait(kept, hours))


def _wait(cups: _Cups, hours: float) -> float | None:
    rest = cups.ph(cups.air)
    for wait in WAITS_H:
        short = np.abs(rest - cups.ph(cups.level(hours + wait)))
        if np.mean(short < DEGASSED_WITHIN_PH) >= SURE:
            return wait
    return None


def _draw(water: CupWater, method: BaselineMethod, rng: np.random.Generator, size: int) -> _Cups:
    median, log_sd = POURED_MG_L
    return _Cups(
        start=median * np.exp(log_sd * rng.standard_normal(size)),
        air=air_co2_mg_l(water.temp_c, _room(water, rng, size), water.pressure_atm),
        alkalinity=_alkalinity(water, rng, size),
        velocity=CUP_TRANSFER_VELOCITY_CM_H[method].draw(rng, size),
        temp_c=water.temp_c,
    )


def _with_odd_ones(cups: _Cups, method: BaselineMethod) -> tuple[_Cups, Array]:
    """Half of the cups made odd, and -2 ln of the weight each draw stands for, so that ODD_SHARE are."""
    usual = CUP_TRANSFER_VELOCITY_CM_H[method].median
    is_odd = np.arange(cups.velocity.size) % 2 == 0
    velocity = usual * (cups.velocity / usual) ** np.where(is_odd, ODD_TIMES, 1.0)
    share = 2.0 * np.where(is_odd, ODD_SHARE, 1.0 - ODD_SHARE)
    return replace(cups, velocity=velocity), -2.0 * np.log(share)


def _room(water: CupWater, rng: np.random.Generator, size: int) -> Array:
    scores = rng.standard_normal(size)
    if water.room_co2_ppm is not None:
        return np.asarray(water.room_co2_ppm * np.exp(MEASURED_ROOM_LOG_SD * scores))
    median, log_sd = ROOM_EXCESS_PPM
    return np.asarray(OUTDOOR_PPM + median * np.exp(log_sd * scores))


def _alkalinity(water: CupWater, rng: np.random.Generator, size: int) -> Array:
    """Carbonate alkalinity [meq/L]: the kit's window and bias, less what is no carbonate."""
    if water.kh_dkh is None:
        return np.minimum(1.4 * np.exp(0.8 * rng.standard_normal(size)), 15.0)
    titre = water.kh_dkh - KIT_LOW_STEPS * water.kh_step_dkh * rng.random(size)
    other, log_sd = OTHER_ALKALINITY_MEQ_L
    total = np.maximum(titre, 0.1) * MEQ_L_PER_DKH * np.exp(-_KIT_LOG_SD * rng.standard_normal(size))
    return np.maximum(total - other * np.exp(log_sd * rng.standard_normal(size)), 0.03)
