"""Drawing a practice tank: what is true of it, and the card its keeper holds."""

from dataclasses import dataclass, replace
from math import ceil, exp, log

import numpy as np
import numpy.typing as npt

from dawnlevel.chemistry import air_co2_mg_l
from dawnlevel.chemistry.schmidt import schmidt_co2
from dawnlevel.errors import BadInputError
from dawnlevel.practice.cup import cup_level_mg_l
from dawnlevel.practice.dynamics import GRID_PER_H, steady_rate_bps
from dawnlevel.practice.levels import Level, Span
from dawnlevel.practice.truth import (
    Air,
    Cup,
    Fish,
    Gas,
    Instruments,
    Life,
    Light,
    TrueTank,
    Wander,
    Zones,
)
from dawnlevel.practice.water import Water, make_water, other_alkalinity_meq_l
from dawnlevel.units import dkh_to_meq_l

Card = dict[str, float | int | str | None]

VELOCITY_CM_H = {"still": (1.0, 0.55), "gentle": (3.0, 0.42), "rippled": (7.0, 0.33), "strong": (15.0, 0.40)}
"""Transfer velocity of CO2 at 22 degC, median [cm/h] and log sd; judgement from Emerson 1975, L&O 20, 754,
Cole et al. 2010, L&O Methods 8, 285, and Heiskanen et al. 2014, Tellus B 66, 22827; none for aquaria."""

UPTAKE_MG_L_H = {"sparse": (0.2, 0.6), "medium": (0.8, 0.58), "dense": (2.0, 0.55)}
"""Net uptake in full light, median [mg/L/h] and log sd; judgement from light, river stands and growth
(Best 1986, Physiol. Plant.; Nielsen & Sand-Jensen 1991, Aquat. Bot. 39, 109)."""

DISSOLVED = {
    "coarse": (0.3, 0.1, 0.5),
    "fine": (0.6, 0.3, 0.85),
    "inline": (0.8, 0.6, 0.95),
    "reactor": (0.95, 0.85, 1.0),
}
"""Share of the gas that dissolves, median and 90 % span; common practice, no source."""

CUP_VELOCITY_CM_H = {"still_cup": (1.0, 0.35), "stirred_cup": (5.0, 0.3), "aerated": (20.0, 0.3)}
"""Transfer velocity in a cup, median [cm/h] and log sd; computed cases, spans are judgement."""

CUP_HOURS = {"still_cup": (12.0, 24.0, 24.0), "stirred_cup": (8.0, 12.0, 24.0), "aerated": (0.75, 1.0, 1.5)}
"""How long keepers leave the cup [h]; common practice, no source."""

LAMP_RAMPS_H = (1.0 / GRID_PER_H, 0.25, 0.5, 1.0)
"""How long lamps take to full light [h]: a switch (one grid step), or a dimmer's ramps."""

MG_PER_BUBBLE = (0.10, 0.42)
"""Median [mg] and log sd (factor 2 either way holds 90 %): bubble volumes of 1-4 mm bores, computed."""

_RENEWED_ATTEMPTS = 200
_DAYS_OF_PATHS = 60
_MODEST_CEILING_SHARE = 0.85
_RATE_RANGE_BPS = (0.15, 10.0)


@dataclass(frozen=True, slots=True)
class _Dice:
    """Scalar draws as plain floats."""

    rng: np.random.Generator

    def even(self, span: Span) -> float:
        """Evenly between the two ends."""
        return float(self.rng.uniform(*span))

    def even_log(self, low: float, high: float) -> float:
        """Evenly in the logarithm."""
        return exp(float(self.rng.uniform(log(low), log(high))))

    def normal(self, mean: float, sd: float) -> float:
        """Normal."""
        return mean + sd * float(self.rng.standard_normal())

    def spread(self, median: float, log_sd: float) -> float:
        """Lognormal."""
        return median * exp(self.normal(0.0, log_sd))

    def one_of(self, names: tuple[str, ...], weights: tuple[float, ...]) -> str:
        """One of the names."""
        return names[int(self.rng.choice(len(names), p=weights))]

    def quarter(self, low: float, high: float) -> float:
        """A quarter hour between the two [h]."""
        return 0.25 * round(4.0 * self.even((low, high)))


def draw_tank(seed: int, level: Level) -> tuple[TrueTank, Card]:
    """A tank and its keeper's card, the same for the same seed and level.

    Drawn again until the keeper's choices hang together: the usual drop (1.2 from this keeper's cup) stays
    well under the livestock ceiling, and the rate it takes can be counted. Raises BadInputError for a
    negative seed.
    """
    if seed < 0:
        raise BadInputError(
            f"The seed is {seed}.", where="practice tank", cure="Give a whole number from 0 up."
        )
    for attempt in range(_RENEWED_ATTEMPTS):
        drawn = _attempt(_Dice(np.random.default_rng([seed, level.number, attempt])), level)
        if drawn is not None:
            return drawn
    raise AssertionError  # about one draw in two is taken, so 200 in a row cannot fail


def _attempt(dice: _Dice, level: Level) -> tuple[TrueTank, Card] | None:
    """One draw, or None if this keeper's choices do not hang together."""
    card = _card_of_the_tank(dice)
    kh_dkh = dice.even_log(1.0, 10.0)
    water = _water(dice, level, kh_dkh, float(str(card["temp_c"])))
    if water is None:
        return None
    tank = _truth(dice, level, card, water)
    usual = cup_level_mg_l(
        water, tank.cup, tank.air, filled_mg_l=6.0, until_h=20.0, velocity_per_h=tank.cup.velocity_per_h
    )
    baseline = water.ph(usual, tank.cup.temp_c)
    aim, top = (
        water.level_at_ph(baseline - drop / tank.instruments.slope, tank.air.mean_c) for drop in (1.1, 1.2)
    )
    rate = steady_rate_bps(tank, aim)
    if top > _MODEST_CEILING_SHARE * tank.limit_mg_l or not _RATE_RANGE_BPS[0] < rate < _RATE_RANGE_BPS[1]:
        return None
    if dice.even((0.0, 1.0)) < 0.5:  # half of the tanks were run on gas before, at less than it takes
        tank = replace(tank, past_rate_bps=rate * dice.even((0.3, 1.0)))
    step = _kit_step(dice, level)
    titre = kh_dkh * (1.0 + dice.normal(0.0, level.kit_bias_sd))
    card["kh_step_dkh"] = step
    card["kh_dkh"] = step * ceil(titre / step)
    card["first_rate_bps"] = float(
        f"{rate * dice.even_log(1.0 / level.guess_factor, level.guess_factor):.2g}"
    )
    return tank, card


def _card_of_the_tank(dice: _Dice) -> Card:
    """What can be read off the tank, the timer and the keeper's habits."""
    volume = dice.even_log(30.0, 400.0)
    depth = min(max(20.0 * (volume / 30.0) ** 0.33 * exp(dice.normal(0.0, 0.12)), 16.0), 65.0)
    lights_on = dice.quarter(7.0, 13.0)
    lights_off = min(lights_on + dice.quarter(7.0, 10.0), 23.0)
    baseline = dice.one_of(("still_cup", "stirred_cup", "aerated"), (0.35, 0.25, 0.40))
    one_window = dice.even((0.0, 1.0)) < 0.6
    return {
        "volume_l": float(round(volume)),
        "depth_cm": float(round(depth)),
        "surface_cm2": float(round(volume * 1000.0 / depth, -1)),
        "temp_c": 0.5 * round(2.0 * min(max(dice.normal(24.5, 1.3), 21.0), 28.5)),
        "lights_on_h": lights_on,
        "lights_off_h": lights_off,
        "earliest_start_h": max(0.5, lights_on - dice.quarter(3.0, 6.0)),
        "timer_windows": 1 if one_window else int(dice.rng.integers(2, 5)),
        "planting": dice.one_of(("sparse", "medium", "dense"), (0.2, 0.4, 0.4)),
        "surface": dice.one_of(("still", "gentle", "rippled", "strong"), (0.08, 0.40, 0.37, 0.15)),
        "diffuser": dice.one_of(("coarse", "fine", "inline", "reactor"), (0.10, 0.50, 0.25, 0.15)),
        "baseline_method": baseline,
        "baseline_hours": float(CUP_HOURS[baseline][int(dice.rng.integers(3))]),
        "co2_limit_mg_l": float((30, 32, 35, 38, 40)[int(dice.rng.integers(5))]),
        "reads_per_ramp": (4, 5, 5, 5, 6)[int(dice.rng.integers(5))],
    }


def _water(dice: _Dice, level: Level, kh_dkh: float, temp_c: float) -> Water | None:
    """Water of this total alkalinity [dKH], or None if too much of it would be no carbonate."""
    alkalinity = float(dkh_to_meq_l(kh_dkh))
    ionic = 1e-3 * (alkalinity * dice.even((1.2, 2.2)) + dice.even((0.0, 2.0)))
    phosphate, doc = dice.even(level.phosphate_mg_l), dice.even(level.doc_mg_l)
    if float(other_alkalinity_meq_l(9.5, phosphate, doc, ionic)) > 0.4 * alkalinity:
        return None
    return make_water(alkalinity, ionic, phosphate, doc, temp_c)


def _truth(dice: _Dice, level: Level, card: Card, water: Water) -> TrueTank:
    """What the card does not say."""
    on_h, off_h = float(str(card["lights_on_h"])), float(str(card["lights_off_h"]))
    slow = dice.even(level.slow_share)
    meter_step = 0.1 if dice.even((0.0, 1.0)) < level.coarse_meter else 0.01
    card["ph_step"] = meter_step
    air = _air(dice, level, card)
    return TrueTank(
        water=water,
        light=Light(on_h=on_h, off_h=off_h, ramp_h=LAMP_RAMPS_H[int(dice.rng.integers(4))]),
        zones=Zones(
            slow_share=slow,
            renewal_per_h=dice.even(level.renewal_per_h),
            slow_surface_share=0.5 * slow,
            slow_plant_share=min(1.6 * slow, 0.6),
        ),
        gas=_gas(dice, level, card),
        life=_life(dice, level, card),
        air=air,
        cup=_cup(dice, level, card, air.mean_c),
        instruments=_instruments(dice, level, meter_step),
        fish=Fish(
            uneasy_at=dice.even((0.90, 1.10)),
            distress_at=dice.even((1.25, 1.55)),
            weight_of_rise=dice.even((0.15, 0.45)),
            eye_sd=0.05,
        ),
        limit_mg_l=float(str(card["co2_limit_mg_l"])),
        past_rate_bps=0.0,
    )


def _air(dice: _Dice, level: Level, card: Card) -> Air:
    """Surface, warmth and room; writes the room's CO2 on the card of two keepers in five."""
    mean_c = float(str(card["temp_c"])) + dice.normal(0.0, 0.25)
    velocity = dice.spread(*VELOCITY_CM_H[str(card["surface"])])
    exponent = dice.even((0.5, 0.67))  # Jahne et al. 1987: 2/3 smooth, 1/2 wavy
    ln_sc = np.log(schmidt_co2(np.array([mean_c - 3.0, mean_c, mean_c + 3.0, 22.0])))
    ln_air = np.log(air_co2_mg_l(np.array([mean_c - 3.0, mean_c + 3.0]), 1000.0))
    low = 430.0 + float(dice.rng.exponential(90.0))
    high = low + dice.even(level.room_rise_ppm)
    knows = dice.even((0.0, 1.0)) < 0.4
    card["room_co2_ppm"] = (
        float(round(0.5 * (low + high) * (1.0 + dice.normal(0.0, 0.06)), -1)) if knows else None
    )
    return Air(
        kla_per_h=velocity / float(str(card["depth_cm"])) * exp(-exponent * float(ln_sc[1] - ln_sc[3])),
        surface=_steady_wander(dice, level),
        kla_per_k=-exponent * float(ln_sc[2] - ln_sc[0]) / 6.0,
        mean_c=mean_c,
        swing_c=dice.even(level.swing_c),
        warming_h=dice.even((1.5, 4.0)),
        air_mg_l_per_ppm=float(air_co2_mg_l(mean_c, 1000.0)) / 1000.0,
        air_per_k=float(ln_air[1] - ln_air[0]) / 6.0,
        low_ppm=low,
        high_ppm=high,
        high_at_h=dice.normal(*((21.0, 1.0) if dice.even((0.0, 1.0)) < 0.6 else (6.0, 1.0))),
    )


def _gas(dice: _Dice, level: Level, card: Card) -> Gas:
    """Bubble, diffuser and needle."""
    median, low, high = DISSOLVED[str(card["diffuser"])]
    share = min(max(dice.spread(median, log(high / low) / 3.29), 0.08), 1.0)
    per_bubble = dice.spread(*MG_PER_BUBBLE)
    every_h = 6.0
    sd = dice.even(level.creep_per_day) * (every_h / 24.0) ** 0.5
    steps = dice.rng.standard_normal(int(_DAYS_OF_PATHS * 24.0 / every_h))
    return Gas(
        gain_mg_l_h_per_bps=per_bubble * 3600.0 * share / float(str(card["volume_l"])),
        fade=dice.even(level.fade),
        crowding=dice.even(level.crowding),
        usual_bps=1.5,
        opening_h=dice.even((0.03, 0.15)),
        setting_sd=dice.even(level.setting_sd),
        hysteresis=dice.even(level.hysteresis),
        creep=Wander(every_h, tuple(np.cumsum(sd * steps).tolist())),
    )


def _life(dice: _Dice, level: Level, card: Card) -> Life:
    """Plants, fish and filter."""
    return Life(
        uptake_mg_l_h=dice.spread(*UPTAKE_MG_L_H[str(card["planting"])]),
        half_saturation_mg_l=dice.even((3.3, 7.5)),  # Van, Haller & Bowes 1976, Plant Physiol. 58, 761
        respiration_mg_l_h=dice.spread(
            0.12, 0.6
        ),  # Clarke & Johnston 1999, J. Anim. Ecol. 68, 893; usual loads
        vigour=_steady_wander(dice, level),
    )


def _cup(dice: _Dice, level: Level, card: Card, tank_c: float) -> Cup:
    """The cup stands in the room, a little cooler than the tank."""
    velocity = dice.spread(*CUP_VELOCITY_CM_H[str(card["baseline_method"])])
    return Cup(
        velocity_per_h=velocity / dice.even((5.0, 9.0)),
        spread=level.cup_spread,
        hours=float(str(card["baseline_hours"])),
        temp_c=tank_c - dice.even((0.5, 4.0)),
    )


def _instruments(dice: _Dice, level: Level, step_ph: float) -> Instruments:
    """The meter, the indicator cell and the eye."""
    rise = min(max(dice.spread(2.0, 0.5), 0.6), 6.0)
    cell_dkh = dice.spread(4.0, 0.06)
    alkalinity = float(dkh_to_meq_l(cell_dkh))
    return Instruments(
        offset_ph=dice.normal(0.0, level.offset_sd_ph),
        slope=dice.normal(0.99, level.slope_sd),
        drift_ph_per_day=dice.normal(0.0, level.drift_sd_ph),
        noise_ph=dice.even(level.noise_ph),
        step_ph=step_ph,
        rise_h=rise,
        fall_h=rise * dice.even((1.1, 2.2)),
        cell_water=make_water(alkalinity, 1e-3 * alkalinity, 0.0, 0.0, 24.5),
        eye_ph=dice.normal(0.0, 0.10),
        eye_sd_ph=dice.even(level.eye_sd_ph),
    )


def _kit_step(dice: _Dice, level: Level) -> float:
    """DKH a drop: 1, or 0.5, or 0.25 with a larger sample."""
    if dice.even((0.0, 1.0)) < level.coarse_kit:
        return 1.0
    return 0.5 if dice.even((0.0, 1.0)) < 0.6 else 0.25


def _steady_wander(dice: _Dice, level: Level) -> Wander:
    """A factor about 1 that comes back to 1 within a day or two."""
    every_h, kept = 12.0, 0.6
    sd = dice.even(level.day_to_day)
    kicks: npt.NDArray[np.float64] = dice.rng.standard_normal(int(_DAYS_OF_PATHS * 24.0 / every_h))
    path, now = [], float(kicks[0])
    for kick in kicks.tolist():
        now = kept * now + (1.0 - kept * kept) ** 0.5 * kick
        path.append(exp(sd * now))
    return Wander(every_h, tuple(path))
