"""The baseline cup: tank water that loses its CO2 to the room, mostly not all of it.

d(carbon)/dt = -(k/depth) (C - C_air), alkalinity fixed; the last part is slow in hard water, because
carbonate gives up CO2 as the level falls.
"""

from dawnlevel.practice.dynamics import air_level_mg_l
from dawnlevel.practice.truth import Air, Cup
from dawnlevel.practice.water import Water


def cup_level_mg_l(
    water: Water, cup: Cup, air: Air, *, filled_mg_l: float, until_h: float, velocity_per_h: float
) -> float:
    """CO2 [mg/L] in the cup at `until_h` [h], filled `cup.hours` before with water of `filled_mg_l` [mg/L].

    `velocity_per_h` is transfer velocity over depth [1/h] of this very cup.
    """
    steps = max(40, int(2.0 * velocity_per_h * cup.hours) + 1)
    h = cup.hours / steps
    hour, excess = until_h - cup.hours, water.excess(filled_mg_l)

    def slope(at_h: float, now: float) -> float:
        return velocity_per_h * (air_level_mg_l(air, at_h, cup.temp_c) - water.co2(now))

    for _ in range(steps):
        a = slope(hour, excess)
        b = slope(hour + 0.5 * h, excess + 0.5 * h * a)
        c = slope(hour + 0.5 * h, excess + 0.5 * h * b)
        d = slope(hour + h, excess + h * c)
        excess += h * (a + 2.0 * b + 2.0 * c + d) / 6.0
        hour += h
    return water.co2(excess)
