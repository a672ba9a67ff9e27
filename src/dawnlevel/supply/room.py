"""CO2 in the air of a room: a cylinder that vents, a leak that goes on, gas that pools low.

CO2 is half as heavy again as air and has no smell in use. Mixed figures are for a room stirred by warmth and
people; pooled ones are an upper bound for still air near the floor.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.arguments import Floats, checked
from dawnlevel.supply.pressure import gas_density_kg_m3

_WHERE = "CO2 in the room"
ROOM_TEMP_C = (-20.0, 50.0)
ROOM_M3 = (0.01, 100_000.0)
MASS_KG = (0.0, 1000.0)
AIR_CHANGES_PER_H = (0.0, 100.0)

AT_ONCE_H = 1e-4
"""Gas that comes within a third of a second comes at once."""

OXYGEN_IN_AIR = 0.2095
"""Share [-] of oxygen in dry air; textbook figure, from memory."""

OXYGEN_ALARM = 0.195
"""Share [-] of oxygen at which oxygen alarms usually sound (29 CFR 1910.146 calls less oxygen-deficient; from
memory)."""


def gas_volume_m3(mass_kg: npt.ArrayLike, temp_c: npt.ArrayLike = 20.0) -> Floats:
    """Volume [m3] of `mass_kg` [kg] of CO2 let out at `temp_c` [degC] and 1 atm; shapes broadcast.

    Raises OutOfRangeError. Source: density of Span & Wagner 2003, 1.839 kg/m3 at 20 degC.
    """
    mass = checked(_WHERE, "mass of CO2", mass_kg, *MASS_KG, "kg")
    temp = checked(_WHERE, "temperature", temp_c, *ROOM_TEMP_C, "degC")
    return mass / gas_density_kg_m3(temp)


def room_co2_fraction(mass_kg: npt.ArrayLike, room_m3: npt.ArrayLike, temp_c: npt.ArrayLike = 20.0) -> Floats:
    """Share [-] of CO2 in a room's air once `mass_kg` has vented into it: well mixed, no ventilation.

    Args:
        mass_kg: CO2 let out [kg], 0 to 1000.
        room_m3: the room's air [m3], 0.01 to 100000.
        temp_c: temperature [degC], -20 to 50.

    The gas mixes as it comes and pushes as much air out: 1 - exp(-v/V). What the air held before (about
    0.0005 to 0.002) is left out. Shapes broadcast; NaN gives NaN. Raises OutOfRangeError, BadInputError.
    Source: mass balance; density of Span & Wagner 2003.
    """
    room = checked(_WHERE, "room", room_m3, *ROOM_M3, "m3")
    return np.asarray(-np.expm1(-gas_volume_m3(mass_kg, temp_c) / room))[()]


def pooled_co2_fraction(
    mass_kg: npt.ArrayLike,
    floor_m2: npt.ArrayLike,
    layer_m: npt.ArrayLike = 0.5,
    temp_c: npt.ArrayLike = 20.0,
) -> Floats:
    """Share [-] of CO2 in a still layer along the floor that keeps all of the gas: an upper bound.

    Args:
        mass_kg: CO2 let out [kg], 0 to 1000.
        floor_m2: floor the layer covers [m2], 0.01 to 100000: a room's, a cellar's, a cabinet's.
        layer_m: depth of the layer [m], 0.01 to 10.
        temp_c: temperature [degC], -20 to 50.

    At most 1. Shapes broadcast; NaN gives NaN. Raises OutOfRangeError, BadInputError. Source: volume of the
    gas over volume of the layer.
    """
    floor = checked(_WHERE, "floor", floor_m2, 0.01, 100_000.0, "m2")
    layer = checked(_WHERE, "depth of the layer", layer_m, 0.01, 10.0, "m")
    return np.asarray(np.minimum(gas_volume_m3(mass_kg, temp_c) / (floor * layer), 1.0))[()]


@dataclass(frozen=True, slots=True, kw_only=True)
class Release:
    """Gas let into a room.

    Attributes:
        mass_kg: all that comes out [kg].
        hours: in which it comes out evenly [h]; 0: at once.
        room_m3: the room's air [m3].
        air_changes_per_h: fresh air, room volumes an hour [1/h].
        temp_c: temperature [degC].
    """

    mass_kg: float
    room_m3: float
    hours: float = 0.0
    air_changes_per_h: float = 0.0
    temp_c: float = 20.0

    def __post_init__(self) -> None:
        """Refuse what no room is."""
        checked(_WHERE, "mass of CO2", self.mass_kg, *MASS_KG, "kg")
        checked(_WHERE, "room", self.room_m3, *ROOM_M3, "m3")
        checked(_WHERE, "hours of venting", self.hours, 0.0, 10_000.0, "h")
        checked(_WHERE, "air changes", self.air_changes_per_h, *AIR_CHANGES_PER_H, "1/h")
        checked(_WHERE, "temperature", self.temp_c, *ROOM_TEMP_C, "degC")

    @property
    def inflow_per_h(self) -> float:
        """CO2 that comes in, room volumes an hour [1/h]; infinite where it comes at once."""
        volumes = float(gas_volume_m3(self.mass_kg, self.temp_c)) / self.room_m3
        return volumes / self.hours if self.hours >= AT_ONCE_H else np.inf

    @property
    def peak_fraction(self) -> float:
        """The largest share [-] of CO2 the room reaches."""
        if self.hours < AT_ONCE_H:
            return float(room_co2_fraction(self.mass_kg, self.room_m3, self.temp_c))
        return float(self._filling(np.asarray(self.hours)))

    def _filling(self, hours: Floats) -> Floats:
        """Share [-] while the gas still comes, `hours` after it began."""
        through = self.inflow_per_h + self.air_changes_per_h
        if through == 0.0:
            return np.zeros_like(hours)
        return np.asarray(-self.inflow_per_h / through * np.expm1(-through * hours))

    def fraction(self, hours: npt.ArrayLike) -> Floats:
        """Share [-] of CO2 `hours` after the gas began to come [h], 0 to 100000; same shape.

        Well mixed: V dC/dt = q (1 - C) - n V C while it comes, then C falls as exp(-n t). Raises
        OutOfRangeError. Source: mass balance.
        """
        since = checked(_WHERE, "hours", hours, 0.0, 100_000.0, "h")
        after = np.maximum(since - self.hours, 0.0)
        rising = (
            self.peak_fraction if self.hours < AT_ONCE_H else self._filling(np.minimum(since, self.hours))
        )
        return np.asarray(rising * np.exp(-self.air_changes_per_h * after))[()]

    def hours_above(self, fraction: float) -> tuple[float, float] | None:
        """When the room's air passes `fraction` [-] and when it falls below again [h]; None: never.

        The second is infinite where nothing carries the gas away. Source: the law of `fraction`, inverted.
        """
        if self.peak_fraction <= fraction:
            return None
        begins = 0.0
        if self.hours >= AT_ONCE_H:
            through = self.inflow_per_h + self.air_changes_per_h
            begins = float(-np.log1p(-fraction * through / self.inflow_per_h) / through)
        if self.air_changes_per_h == 0.0:
            return begins, np.inf
        return begins, self.hours + float(np.log(self.peak_fraction / fraction)) / self.air_changes_per_h


def mass_for_fraction_kg(
    fraction: npt.ArrayLike, room_m3: npt.ArrayLike, temp_c: npt.ArrayLike = 20.0
) -> Floats:
    """CO2 [kg] that brings a room of `room_m3` [m3] to `fraction` [-], 0 to 0.99, well mixed, no ventilation.

    `temp_c` [degC], -20 to 50. Shapes broadcast. Raises OutOfRangeError. Source: inverse of
    `room_co2_fraction`.
    """
    share = checked(_WHERE, "share of CO2", fraction, 0.0, 0.99, "")
    room = checked(_WHERE, "room", room_m3, *ROOM_M3, "m3")
    temp = checked(_WHERE, "temperature", temp_c, *ROOM_TEMP_C, "degC")
    return np.asarray(-np.log1p(-share) * room * gas_density_kg_m3(temp))[()]


def steady_fraction(
    leak_kg_per_h: npt.ArrayLike,
    room_m3: npt.ArrayLike,
    air_changes_per_h: npt.ArrayLike,
    temp_c: npt.ArrayLike = 20.0,
) -> Floats:
    """Share [-] of CO2 that a leak, or ordinary use, adds to a room's air in the end.

    Args:
        leak_kg_per_h: gas that comes in [kg/h], 0 to 1000.
        room_m3: the room's air [m3], 0.01 to 100000.
        air_changes_per_h: fresh air [1/h], 0.001 to 100.
        temp_c: temperature [degC], -20 to 50.

    Shapes broadcast. Raises OutOfRangeError. Source: mass balance, q/(q + n V).
    """
    room = checked(_WHERE, "room", room_m3, *ROOM_M3, "m3")
    fresh = checked(_WHERE, "air changes", air_changes_per_h, 0.001, AIR_CHANGES_PER_H[1], "1/h")
    inflow = gas_volume_m3(leak_kg_per_h, temp_c)
    return np.asarray(inflow / (inflow + fresh * room))[()]


def oxygen_fraction(co2_fraction: npt.ArrayLike) -> Floats:
    """Share [-] of oxygen left where CO2 makes up `co2_fraction` [-], 0 to 1, and pushed air out; same shape.

    Raises OutOfRangeError. Source: dilution of dry air with 20.95 % oxygen.
    """
    return np.asarray(OXYGEN_IN_AIR * (1.0 - checked(_WHERE, "share of CO2", co2_fraction, 0.0, 1.0, "")))[()]


OXYGEN_ALARM_SOUNDS_AT_CO2 = 1.0 - OXYGEN_ALARM / OXYGEN_IN_AIR
"""Share [-] of CO2 at which an oxygen alarm set to 19.5 % first sounds: 6.9 %, far past 4 %."""
