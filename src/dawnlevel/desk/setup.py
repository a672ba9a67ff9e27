"""What each choice in the description of a tank means for the forecast, in figures, before any reading.

The figures are the priors the estimate begins with; a week of readings says more than any of them.
"""

import math
from dataclasses import dataclass

from dawnlevel.balance.exchange import TRANSFER_VELOCITY_CM_H
from dawnlevel.balance.injection import DISSOLVED_SHARE, UPTAKE_MG_L_H
from dawnlevel.tank import Diffuser, Planting, Surface


@dataclass(frozen=True, slots=True)
class ChoiceFigure:
    """What one choice means: a figure with its 90 % span, and curves where there is one over time.

    Attributes:
        value: the choice's machine name.
        middle: median; `low` and `high` end the 90 % span; all in the unit the function names.
        curve: share of the extra CO2 left (0 to 1) after 0, 1, ... 12 h: low, median, high; else empty.
    """

    value: str
    low: float
    middle: float
    high: float
    curve: tuple[tuple[float, float, float], ...] = ()


def surface_figures(depth_cm: float) -> tuple[ChoiceFigure, ...]:
    """Hours [h] until half of the extra CO2 has left, gas closed, plants at rest; `depth_cm` [cm].

    Source: the transfer velocities of `balance.exchange`, named there.
    """
    found = []
    for surface in Surface:
        prior = TRANSFER_VELOCITY_CM_H[surface]
        low, middle, high = (math.log(2.0) * depth_cm / k for k in (prior.high, prior.median, prior.low))
        curve = tuple(_left(hour, depth_cm, (prior.high, prior.median, prior.low)) for hour in range(13))
        found.append(ChoiceFigure(surface.value, low, middle, high, curve))
    return tuple(found)


def _left(
    hour_h: int, depth_cm: float, velocities_cm_h: tuple[float, float, float]
) -> tuple[float, float, float]:
    """Share of the extra CO2 left after `hour_h` [h] for three transfer velocities [cm/h]."""
    fast, middle, slow = (math.exp(-k * hour_h / depth_cm) for k in velocities_cm_h)
    return fast, middle, slow


def planting_figures() -> tuple[ChoiceFigure, ...]:
    """CO2 the plants take up in full light [mg/L/h]; source: `balance.injection`."""
    return tuple(
        ChoiceFigure(planting.value, prior.low, prior.median, prior.high)
        for planting, prior in ((one, UPTAKE_MG_L_H[one]) for one in Planting)
    )


def diffuser_figures() -> tuple[ChoiceFigure, ...]:
    """Share of the gas that dissolves (0 to 1); source: `balance.injection`."""
    return tuple(
        ChoiceFigure(diffuser.value, share.low, share.median, share.high)
        for diffuser, share in ((one, DISSOLVED_SHARE[one]) for one in Diffuser)
    )
