"""Simulated surveys: readings at places in tanks whose truth is known."""

import numpy as np
import numpy.typing as npt

from dawnlevel.practice.zones import Zones, side_pocket
from dawnlevel.survey.box import Box
from dawnlevel.survey.moment import Brought, bring
from dawnlevel.tank.places import place_shares

Array = npt.NDArray[np.float64]

BOX = Box(90.0, 45.0, 40.0)
PH_SD, PH_STEP = 0.015, 0.01
NOISE = float(np.log(10.0) * np.hypot(PH_SD, PH_STEP / np.sqrt(12.0)))
NAMES = (
    "front left surface", "front right surface", "back left substrate", "back right substrate",
    "front left substrate", "front right substrate", "back left surface", "back right surface", "middle",
)  # fmt: skip
SHARES = np.array([place_shares(name) for name in NAMES])


def read(co2_mg_l: Array, rng: np.random.Generator) -> Array:
    """CO2 as a keeper's meter has it: reading noise, and the display's last digit."""
    ph = 7.0 - np.log10(co2_mg_l) + PH_SD * rng.standard_normal(co2_mg_l.shape)
    return np.asarray(10.0 ** (7.0 - np.round(ph / PH_STEP) * PH_STEP))


def survey(
    co2_mg_l: Array, rng: np.random.Generator, shares: Array = SHARES, shift: Array | None = None
) -> Brought:
    """A survey of places whose true CO2 is given; `shift`: the tank's level then over that at the moment."""
    moved = np.ones(len(shares)) if shift is None else shift
    seen = read(co2_mg_l, rng)[:, None] * np.ones(4)
    level = 25.0 * np.exp(0.02 * rng.standard_normal(4))
    return bring(shares * BOX.sides_cm, seen, moved[:, None] * level, level, NOISE)


def pocket_tank(rng: np.random.Generator) -> Zones:
    """A tank with a pocket in one lower corner at the back, its exchange time drawn."""
    length, width, height = rng.uniform(0.3, 0.45), rng.uniform(0.4, 0.6), rng.uniform(0.4, 0.6)
    is_left = rng.random() < 0.5
    low = (0.0 if is_left else 1.0 - length, 1.0 - width, 0.0)
    high = (length if is_left else 1.0, 1.0, height)
    return side_pocket(float(np.exp(rng.uniform(np.log(0.1), np.log(1.5)))), low, high)


def steady(zones: Zones) -> Array:
    """CO2 in the zones long after the gas was opened [mg/L]."""
    return zones.levels(np.full(len(zones.low), 2.0), [40.0])[0]


def truth(zones: Zones, levels: Array) -> tuple[float, float]:
    """Coefficient of variation, and the lowest zone's shortfall against the mean."""
    mean = zones.mean(levels)
    return float(np.sqrt(zones.mean((levels - mean) ** 2)) / mean), float(1.0 - levels.min() / mean)
