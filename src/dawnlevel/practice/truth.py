"""Everything a practice tank keeps from its player, as one frozen value."""

from dataclasses import dataclass
from typing import Self

from dawnlevel.practice.water import Water


@dataclass(frozen=True, slots=True)
class Wander:
    """A seeded path through time, piecewise linear between knots [h]; held at its last value beyond.

    Attributes:
        every_h: distance of the knots [h].
        values: the path at 0, `every_h`, 2 `every_h`, ... hours; in whatever unit the user gives it.
    """

    every_h: float
    values: tuple[float, ...]

    def at(self, hour: float) -> float:
        """The path at `hour` [h since midnight of day 0]."""
        place = max(hour, 0.0) / self.every_h
        i = int(place)
        if i >= len(self.values) - 1:
            return self.values[-1]
        return self.values[i] + (place - i) * (self.values[i + 1] - self.values[i])


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """The lamp: on from `on_h` to `off_h` [h of the day], with straight ramps of `ramp_h` [h, above 0]."""

    on_h: float
    off_h: float
    ramp_h: float

    def share(self, hour: float) -> float:
        """Share of full light [-] at `hour` [h since midnight of day 0]."""
        since_on, length = (hour - self.on_h) % 24.0, self.off_h - self.on_h
        if since_on >= length:
            return 0.0
        return min(1.0, since_on / self.ramp_h, (length - since_on) / self.ramp_h)


@dataclass(frozen=True, slots=True, kw_only=True)
class Zones:
    """Two bodies of water: the open one with meter, diffuser and most of the surface, and the slow one.

    Attributes:
        slow_share: share of the volume in the slow zone [-].
        renewal_per_h: how often an hour the slow zone's water is renewed from the open one [1/h].
        slow_surface_share, slow_plant_share: share of gas exchange and of plants there [-].
    """

    slow_share: float
    renewal_per_h: float
    slow_surface_share: float
    slow_plant_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Gas:
    """From the count in the bubble counter to what dissolves.

    Attributes:
        gain_mg_l_h_per_bps: dissolved at one bubble a second and little CO2 [mg/L/h].
        fade: the gain is divided by 1 + fade x CO2/30 mg/L [-].
        crowding: exponent by which the dissolved share falls with the rate over `usual_bps` [-].
        usual_bps: the rate at which the gain holds [1/s].
        opening_h: time constant with which flow follows the solenoid [h].
        setting_sd: log sd of the true flow about the count at a new setting [-].
        hysteresis: log of the flow's excess when the count was approached from below [-].
        creep: log of the flow against time; only its change since the last setting counts.
    """

    gain_mg_l_h_per_bps: float
    fade: float
    crowding: float
    usual_bps: float
    opening_h: float
    setting_sd: float
    hysteresis: float
    creep: Wander


@dataclass(frozen=True, slots=True, kw_only=True)
class Life:
    """Plants and animals: uptake and respiration [mg/L/h], half-saturation [mg/L], day-to-day factor."""

    uptake_mg_l_h: float
    half_saturation_mg_l: float
    respiration_mg_l_h: float
    vigour: Wander


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """Exchange with the room.

    Attributes:
        kla_per_h: at the mean temperature [1/h]; `surface` is its day-to-day factor.
        kla_per_k: relative change of kLa per degree [1/degC].
        mean_c, swing_c, warming_h: temperature before the lamp's heat [degC], the heat's full effect
            [degC] and its time constant [h].
        air_mg_l_per_ppm, air_per_k: equilibrium at the mean temperature [mg/L/ppm], relative change per
            degree [1/degC].
        low_ppm, high_ppm, high_at_h: the room's CO2 over the day [ppm] and when it is highest [h].
    """

    kla_per_h: float
    surface: Wander
    kla_per_k: float
    mean_c: float
    swing_c: float
    warming_h: float
    air_mg_l_per_ppm: float
    air_per_k: float
    low_ppm: float
    high_ppm: float
    high_at_h: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cup:
    """How the baseline cup loses its gas: velocity over depth [1/h], its log sd, hours and temperature."""

    velocity_per_h: float
    spread: float
    hours: float
    temp_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Instruments:
    """The keeper's meter, indicator cell and eye.

    Attributes:
        offset_ph, slope, drift_ph_per_day: meter = 7 + slope (pH - 7) + offset + drift x day [pH].
        noise_ph, step_ph: sd of one reading and its rounding [pH].
        rise_h, fall_h: lags of the indicator cell [h].
        cell_water: the cell's own 4 dKH solution, as made up.
        eye_ph, eye_sd_ph: where this keeper's colour words lie off the usual, and their scatter [pH].
    """

    offset_ph: float
    slope: float
    drift_ph_per_day: float
    noise_ph: float
    step_ph: float
    rise_h: float
    fall_h: float
    cell_water: Water
    eye_ph: float
    eye_sd_ph: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Fish:
    """When the fish show it: share of the livestock ceiling [-], weight of the rise over an hour [-]."""

    uneasy_at: float
    distress_at: float
    weight_of_rise: float
    eye_sd: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueTank:
    """All of it. `past_rate_bps` is how the tank was run before the play begins, 0 for without gas."""

    water: Water
    light: Light
    zones: Zones
    gas: Gas
    life: Life
    air: Air
    cup: Cup
    instruments: Instruments
    fish: Fish
    limit_mg_l: float
    past_rate_bps: float

    def __deepcopy__(self, memo: dict[int, object]) -> Self:
        """Nothing in here ever changes, so copies of a tank share it."""
        return self
