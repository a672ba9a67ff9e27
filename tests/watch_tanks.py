"""A one-box tank on a timer, solved minute by minute, whose log the watching tests read."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from dawnlevel.chemistry import ph_from_co2
from dawnlevel.watch.days import Card

Floats = npt.NDArray[np.float64]
CARD = Card(8.0, 18.0, 10.0, 19.0, 1.5, 24.0)


@dataclass
class Course:
    """What holds on a day of the tank: each a function of the day."""

    gain: Callable[[int], float] = lambda _: 8.0
    exchange: Callable[[int], float] = lambda _: 0.22
    uptake: Callable[[int], float] = lambda _: 1.5
    late_h: Callable[[int], float] = lambda _: 0.0
    shift_ph: Callable[[int], float] = lambda _: 0.0
    is_dosed: Callable[[int], bool] = lambda _: True
    stays_open: Callable[[int], bool] = lambda _: False
    wander: float = 0.015
    days: int = 24
    factors: Floats = field(default_factory=lambda: np.zeros(0))


def levels_of(course: Course, rng: np.random.Generator) -> Floats:
    """True CO2 [mg/L] at every minute, by exact steps of a minute."""
    wander = np.exp(course.wander * rng.standard_normal((course.days + 1, 3)))
    minutes = course.days * 1440
    level, levels = 1.2, np.empty(minutes)
    for i in range(minutes):
        day, hour = divmod(i / 60.0, 24.0)
        d = int(day)
        on = CARD.gas_on_h + course.late_h(d) <= hour < CARD.gas_off_h and course.is_dosed(d)
        night = d if hour >= CARD.gas_off_h else d - 1
        if (hour >= CARD.gas_off_h or hour < CARD.gas_on_h) and course.stays_open(night):
            on = True
        lit = CARD.lights_on_h <= hour < CARD.lights_off_h
        k = course.exchange(d) * wander[d, 0]
        source = 0.9 * k + 0.1 + on * course.gain(d) * wander[d, 1]
        source -= lit * course.uptake(d) * wander[d, 2] * level / (level + 5.0)
        level = source / k + (level - source / k) * float(np.exp(-k / 60.0))
        levels[i] = level
    return levels


def log(course: Course, seed: int = 1) -> tuple[Floats, Floats, Floats]:
    """Hours, pH and temperature of a minute log; noise 0.012 pH, rounded to 0.01."""
    rng = np.random.default_rng(seed)
    levels = levels_of(course, rng)
    minutes = levels.size
    hours = np.arange(minutes) / 60.0
    shift = np.array([course.shift_ph(int(hour // 24.0)) for hour in hours[::1440]]).repeat(1440)
    ph = ph_from_co2(levels, CARD.alkalinity_meq_l, 24.0) + shift + 0.012 * rng.standard_normal(minutes)
    return hours, np.round(ph, 2), np.full(minutes, 24.0)
