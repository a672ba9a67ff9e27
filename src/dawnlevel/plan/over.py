"""CO2 above the livestock ceiling now: the gas closes before anything is tuned."""

from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from dawnlevel.tank import KhTitration, PhReading, Record

OVER_LIKELY = 0.5
"""Chance of standing above the ceiling now from which the gas closes: more likely above than not; own choice.
Below it the day is steered, with the ceiling's risk counted."""

READ_LATELY = timedelta(hours=3)
"""A pH read within this says where the level stands; own choice."""

OVER_STEPS = (
    "See that no bubble passes the counter; where one does, close the gas at the cylinder.",
    "Move the surface more: outflow to the surface, air stone, lid open.",
    "Watch the fish and record what you see.",
    "Where they gasp or lie still: change part of the water for aged water as warm; ask a veterinarian.",
    "Read pH every 20 to 30 min until the level is below the ceiling.",
    "Then look for the cause: count, timer, valve, or the KH and the baseline behind the figure.",
)
"""Merck Veterinary Manual (CO2: aerate, remove the cause) and UF/IFAS FA27 on fish that gasp; remedies from
memory, not checked."""


def over_ceiling(level_mg_l: npt.NDArray[np.float64], ceiling_mg_l: float) -> float:
    """Chance that draws of CO2 (n,) [mg/L] lie above the ceiling [mg/L]."""
    return float((level_mg_l > ceiling_mg_l).mean())


def level_told(records: list[Record], level_mg_l: npt.NDArray[np.float64], ceiling_mg_l: float) -> str:
    """What pH and KH tell of CO2 now without a baseline, as a sentence to append; empty where either lacks.

    `level_mg_l` are draws of CO2 now [mg/L], shape (n,).
    """
    if not all(any(isinstance(one, kind) for one in records) for kind in (PhReading, KhTitration)):
        return ""
    low, middle, high = np.quantile(level_mg_l, (0.05, 0.5, 0.95))
    text = f" By pH and KH alone CO2 is about {middle:.0f} mg/L now (9 in 10: {low:.0f} to {high:.0f})"
    if over_ceiling(level_mg_l, ceiling_mg_l) < OVER_LIKELY:
        return f"{text}; the ceiling is {ceiling_mg_l:g} mg/L."
    return f"{text}, above the ceiling of {ceiling_mg_l:g} mg/L: close the gas and watch the fish."


def last_ph_at(records: list[Record], now: datetime) -> datetime | None:
    """When pH was last read in the tank; None where it never was."""
    return max((one.at for one in records if isinstance(one, PhReading) and one.at <= now), default=None)
