"""Oxygen in the tank over time: exchange with the air, plants by light and CO2, animals, filter; bubbles."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.balance.animals import CO2_PER_OXYGEN, ROUTINE_FACTOR, resting_oxygen_mg_per_h
from dawnlevel.balance.prior import Prior, SharePrior
from dawnlevel.balance.step import exact_step
from dawnlevel.chemistry.oxygen import oxygen_saturation_mg_l
from dawnlevel.chemistry.schmidt import kla_ratio_co2_to_o2
from dawnlevel.tank import Animals

Array = npt.NDArray[np.float64]

O2_PER_CO2 = 31.9988 / 44.0095
"""Oxygen per CO2 at one mole each [mg/mg]; standard atomic weights, from memory, not checked."""

#: Oxygen made per CO2 taken up [mol/mol], the photosynthetic quotient: 1.0-1.2, on nitrate up to 1.4 (texts,
#: from memory, not checked).
QUOTIENT = Prior(1.15, 1.0, 1.35, "", "from memory, not checked: texts")

#: Oxygen that plants take in the dark over what their greatest uptake gives: 10-30 % (texts, from memory).
DARK_SHARE = SharePrior(0.18, 0.10, 0.30, "from memory, not checked: texts")

#: Oxygen the filter takes over what fed animals take: 1 g of feed a day in 100 L takes 0.2 mg/L/h, and feeds
#: 50 g of fish that take 0.4 (computed; nitrification 4.57 g per g N of Ebeling et al. 2006, from memory).
FILTER_SHARE = Prior(0.5, 0.25, 1.0, "", "computed; inputs from memory")

#: Oxygen over saturation at which what more is made leaves as bubbles on leaves; common practice, no source.
BUBBLING = Prior(1.5, 1.2, 2.0, "", "common practice, no source")


@dataclass(frozen=True, slots=True)
class Breath:
    """What moves oxygen in n possible tanks; arrays have shape (n,).

    Attributes:
        kla_per_h: exchange rate of oxygen [1/h].
        saturation_mg_l: oxygen in balance with the air [mg/L].
        made_per_co2: oxygen made per CO2 taken up in light [mg/mg].
        dark_mg_l_h: oxygen that plants take in the dark [mg/L/h].
        taken_mg_l_h: oxygen that animals and filter take at all hours [mg/L/h].
        cap_mg_l: level above which oxygen leaves as bubbles [mg/L].
    """

    kla_per_h: Array
    saturation_mg_l: float
    made_per_co2: Array
    dark_mg_l_h: Array
    taken_mg_l_h: Array
    cap_mg_l: Array


def breath(
    kla_co2_per_h: Array,
    uptake_mg_l_h: Array,
    respiration_mg_l_h: Array,
    animals: Sequence[Animals],
    volume_l: float,
    temp_c: float,
    pressure_atm: float,
    rng: np.random.Generator,
) -> Breath:
    """Oxygen's side of n draws of the CO2 balance.

    Args:
        kla_co2_per_h: exchange rate of CO2 [1/h], shape (n,).
        uptake_mg_l_h: CO2 uptake in full light and ample CO2 [mg/L/h], shape (n,).
        respiration_mg_l_h: CO2 made by animals, filter and soil [mg/L/h], shape (n,); used where no animals
            are described.
        animals: the tank's animals.
        volume_l: water [L].
        temp_c: temperature [degC].
        pressure_atm: air pressure [atm].
        rng: for what the CO2 balance does not tell.

    Raises OutOfRangeError. Source: exchange scaled by Schmidt numbers to a power of 1/2 to 2/3 (Wanninkhof
    2014; Jahne et al. 1987); the priors above.
    """
    z = rng.standard_normal((5, kla_co2_per_h.size))
    exponent = rng.uniform(0.5, 2.0 / 3.0, kla_co2_per_h.size)
    if animals:
        resting = resting_oxygen_mg_per_h(animals, temp_c) / volume_l
        taken = resting * ROUTINE_FACTOR.from_normal(z[0]) * (1.0 + FILTER_SHARE.from_normal(z[1]))
    else:
        taken = respiration_mg_l_h / CO2_PER_OXYGEN
    saturation = float(oxygen_saturation_mg_l(temp_c, pressure_atm))
    return Breath(
        kla_per_h=kla_co2_per_h / kla_ratio_co2_to_o2(temp_c, exponent),
        saturation_mg_l=saturation,
        made_per_co2=O2_PER_CO2 * QUOTIENT.from_normal(z[2]),
        dark_mg_l_h=O2_PER_CO2 * DARK_SHARE.from_normal(z[3]) * uptake_mg_l_h,
        taken_mg_l_h=np.asarray(taken),
        cap_mg_l=saturation * BUBBLING.from_normal(z[4]),
    )


def oxygen_levels(
    start_mg_l: Array, breath_: Breath, dt_h: Array, light: Array, co2_uptake_mg_l_h: Array, movement: Array
) -> Array:
    """Oxygen at the edges of S steps [mg/L], shape (S+1, n).

    Args:
        start_mg_l: oxygen at the first edge [mg/L], shape (n,).
        breath_: what moves oxygen.
        dt_h: length of the steps [h], shape (S,); a quarter of an hour or less.
        light: share of full light [-], shape (S,).
        co2_uptake_mg_l_h: CO2 the plants take up in each step [mg/L/h], shape (S, n).
        movement: exchange over that of `breath_` [-], shape (S,).

    Each step is exact for its own mean; what passes the cap leaves as bubbles, and nothing is taken from
    water without oxygen. Source: first-order exchange, dO/dt = k (Os - O) + made - taken.
    """
    out = np.empty((dt_h.size + 1, start_mg_l.size))
    out[0] = start_mg_l
    taken = breath_.taken_mg_l_h + (1.0 - light)[:, None] * breath_.dark_mg_l_h
    loss = movement[:, None] * breath_.kla_per_h
    source = loss * breath_.saturation_mg_l + breath_.made_per_co2 * co2_uptake_mg_l_h - taken
    for place, dt in enumerate(dt_h):
        level = exact_step(out[place], source[place], loss[place], dt)
        out[place + 1] = np.clip(level, 0.0, breath_.cap_mg_l)
    return out
