"""Where a day's gas goes: dissolved or lost as bubbles, taken up by plants, given off to the room, kept."""

from dataclasses import dataclass

import numpy as np

from dawnlevel.arguments import Floats


@dataclass(frozen=True, slots=True)
class WaterLosses:
    """What draws CO2 from the water, all of shape (n,): one entry a draw.

    Attributes:
        kla_per_h: gas exchange with the room [1/h].
        air_mg_l: level at equilibrium with the room's air [mg/L].
        uptake_mg_l_h: uptake at full light and ample CO2 [mg/L/h].
        half_saturation_mg_l: level at which uptake is half that [mg/L]; one figure.
        made_mg_l_h: CO2 made by livestock, filter and soil [mg/L/h].
    """

    kla_per_h: Floats
    air_mg_l: Floats
    uptake_mg_l_h: Floats
    half_saturation_mg_l: float
    made_mg_l_h: Floats


@dataclass(frozen=True, slots=True)
class GasLedger:
    """Grams of CO2 over a stretch of time, all of shape (n,).

    injected = dissolved + bubbled off, and dissolved + made = taken up + given off + kept.
    """

    injected_g: Floats
    dissolved_g: Floats
    bubbled_off_g: Floats
    taken_up_g: Floats
    given_off_g: Floats
    made_g: Floats
    kept_g: Floats

    @property
    def dissolved_share(self) -> Floats:
        """Share [-] of the gas that dissolves, shape (n,); NaN where none is injected."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(np.where(self.injected_g > 0.0, self.dissolved_g / self.injected_g, np.nan))


def gas_ledger(
    hours: Floats,
    levels_mg_l: Floats,
    light: Floats,
    losses: WaterLosses,
    volume_l: float,
    injected_g: Floats,
) -> GasLedger:
    """Where the gas went over the stretch that `hours` spans.

    Args:
        hours: moments [h], shape (m,), rising; a quarter of an hour apart or less.
        levels_mg_l: CO2 in the tank at those moments [mg/L], shape (m, n).
        light: share of full light between them [-], shape (m - 1,).
        losses: what draws CO2 from the water.
        volume_l: water [L].
        injected_g: gas let into the counter over the stretch [g], shape (n,).

    What must have dissolved follows from the level and its losses (trapezoids), so no gain is needed. Source:
    mass balance of the tank.
    """
    step = np.diff(hours)[:, None]
    grams = volume_l * 1e-3

    def summed(values: Floats) -> Floats:
        return np.asarray(grams * np.sum(0.5 * (values[1:] + values[:-1]) * step, axis=0))

    saturation = levels_mg_l / (levels_mg_l + losses.half_saturation_mg_l)
    lit = 0.5 * (saturation[1:] + saturation[:-1]) * step * light[:, None]
    taken_up = grams * losses.uptake_mg_l_h * lit.sum(axis=0)
    given_off = losses.kla_per_h * summed(levels_mg_l - losses.air_mg_l)
    made = grams * losses.made_mg_l_h * float(hours[-1] - hours[0])
    kept = grams * (levels_mg_l[-1] - levels_mg_l[0])
    dissolved = taken_up + given_off + kept - made
    return GasLedger(injected_g, dissolved, injected_g - dissolved, taken_up, given_off, made, kept)
