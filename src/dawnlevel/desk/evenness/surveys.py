"""A tank's surveys out of its records: which readings belong together, where they lie, what they map to."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from dawnlevel.errors import NotEnoughRecordsError, OutOfRangeError
from dawnlevel.estimate.posterior import Posterior, posterior
from dawnlevel.estimate.priors import READ_PH_SD
from dawnlevel.survey.box import Box
from dawnlevel.survey.field import FEWEST, Field, map_field
from dawnlevel.survey.moment import Brought, bring
from dawnlevel.tank import Record, SurveyReading, Tank
from dawnlevel.tank.places import place_shares

Array = npt.NDArray[np.float64]

APART = timedelta(minutes=30)
"""A pause longer than this between two readings begins a new survey; common practice, no source."""

LENGTH_OVER_WIDTH = 2.0
"""Length over width of a tank whose sides are not known; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Surveyed:
    """One survey worked out.

    Attributes:
        readings: in order of time.
        box: the water; `places_cm` where the readings lie in it, shape (n, 3).
        estimate: the level of the tank as the records up to the survey's last reading tell it.
        brought: the readings at that moment.
        field: the map.
    """

    readings: tuple[SurveyReading, ...]
    box: Box
    places_cm: Array
    estimate: Posterior
    brought: Brought
    field: Field

    @property
    def at(self) -> datetime:
        """The moment (UTC) the map speaks of: the last reading."""
        return self.readings[-1].at


def surveys(records: Sequence[Record]) -> list[tuple[SurveyReading, ...]]:
    """The surveys among records sorted by time, oldest first."""
    found: list[list[SurveyReading]] = []
    for record in records:
        if not isinstance(record, SurveyReading):
            continue
        if found and record.at - found[-1][-1].at <= APART:
            found[-1].append(record)
        else:
            found.append([record])
    return [tuple(one) for one in found]


def known_length_cm(tank: Tank) -> float | None:
    """The tank's inner length by its sketch [cm]; None where it has none."""
    return None if tank.layout is None else tank.layout.length_cm


def water_box(tank: Tank) -> Box:
    """The water as a box; where the sketch has no length, twice as long as wide is assumed."""
    length_cm = known_length_cm(tank) or math.sqrt(LENGTH_OVER_WIDTH * tank.surface_cm2)
    return Box(length_cm, tank.surface_cm2 / length_cm, tank.depth_cm)


def position_cm(reading: SurveyReading, box: Box) -> Array:
    """Where a reading lies [cm], shape (3,); OutOfRangeError for coordinates outside the water."""
    if reading.x_cm is None or reading.y_cm is None or reading.z_cm is None:
        return np.asarray(np.array(place_shares(reading.place)) * box.sides_cm)
    found = np.array([reading.x_cm, reading.y_cm, reading.z_cm])
    for name, value, side in zip(("length", "width", "height"), found, box.sides_cm, strict=True):
        if value > side * 1.02:  # a probe at the pane, read off a rule
            raise OutOfRangeError(
                f"place along the {name}", value, 0.0, round(float(side), 1), "cm", where="survey"
            )
    return np.asarray(np.minimum(found, box.sides_cm), dtype=np.float64)


def work_out(
    tank: Tank, records: Sequence[Record], readings: Sequence[SurveyReading], rng: np.random.Generator
) -> Surveyed:
    """Map one survey of `tank` from its standing `records` (sorted by time).

    NotEnoughRecordsError for a survey of fewer than FEWEST readings, or a tank whose level cannot be told.
    """
    if len(readings) < FEWEST:
        raise NotEnoughRecordsError(
            f"The survey has {len(readings)} of the {FEWEST} readings it needs at least.",
            where="survey",
            cure="Read more places within the hour: dawnlevel survey 6.71 --place 'back left substrate'",
        )
    box, end = water_box(tank), readings[-1].at
    places_cm = np.array([position_cm(one, box) for one in readings])
    estimate = posterior(tank, [one for one in records if one.at <= end], end, rng)
    co2 = np.array([estimate.co2_of_reading(one.ph, one.at) for one in readings])
    then = estimate.levels_at([one.at for one in readings])
    noise_ph = math.hypot(READ_PH_SD, tank.ph_step / math.sqrt(12.0))
    brought = bring(places_cm, co2, then, then[-1], math.log(10.0) * noise_ph)
    return Surveyed(tuple(readings), box, places_cm, estimate, brought, map_field(brought, box, rng))
