"""The tank and how it is kept: frozen, validated, with units in the names."""

import math
from dataclasses import dataclass, field
from enum import StrEnum
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from dawnlevel.errors import BadInputError, OutOfRangeError
from dawnlevel.tank.layout import Layout
from dawnlevel.tank.livestock import REASON_LIMIT, Animals

_DAY_H = 24.0
OWNER_LIMIT = 80  # characters of an owner's name (own choice)


class Planting(StrEnum):
    """How densely the tank is planted."""

    SPARSE = "sparse"
    MEDIUM = "medium"
    DENSE = "dense"


class Surface(StrEnum):
    """How the water's surface moves; it decides how fast gas is exchanged with the room."""

    STILL = "still"
    GENTLE = "gentle"
    RIPPLED = "rippled"
    STRONG = "strong"


class Diffuser(StrEnum):
    """How the gas is dissolved."""

    COARSE = "coarse"
    FINE = "fine"
    INLINE = "inline"
    REACTOR = "reactor"


class BaselineMethod(StrEnum):
    """How the baseline cup was prepared."""

    STILL_CUP = "still_cup"
    STIRRED_CUP = "stirred_cup"
    AERATED = "aerated"


class CellColour(StrEnum):
    """The indicator cell by eye, from little CO2 to much."""

    BLUE = "blue"
    GREEN = "green"
    LIME = "lime"
    YELLOW = "yellow"


class FishState(StrEnum):
    """How the livestock behaves."""

    CALM = "calm"
    UNEASY = "uneasy"
    DISTRESS = "distress"


class TargetKind(StrEnum):
    """What the keeper steers by: the pH drop from the recorded baseline, or dissolved CO2 in mg/L."""

    DROP = "drop"
    CO2 = "co2_mg_l"


def check_range(name: str, value: float, low: float, high: float, unit: str) -> None:
    """Raise OutOfRangeError unless low <= value <= high (NaN raises too); value in `unit`."""
    if not (math.isfinite(value) and low <= value <= high):
        raise OutOfRangeError(name, value, low, high, unit)


def check_owner(name: str) -> None:
    """Raise BadInputError for an owner's name that is no single line of at most OWNER_LIMIT characters."""
    if len(name) > OWNER_LIMIT or not name.isprintable() or name != name.strip():
        raise BadInputError(
            f"The owner's name is no single line of at most {OWNER_LIMIT} characters.",
            where="owner",
            cure="Give a short name, for example Lower School.",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Photoperiod:
    """When the lights are on, in local wall-clock hours since midnight; may run over midnight."""

    lights_on_h: float
    lights_off_h: float

    def __post_init__(self) -> None:
        """Refuse hours outside the day and lights that never are on."""
        check_range("lights on", self.lights_on_h, 0.0, _DAY_H, "h")
        check_range("lights off", self.lights_off_h, 0.0, _DAY_H, "h")
        if self.hours <= 0:
            raise BadInputError(
                "Lights on and lights off are the same time.",
                where="photoperiod",
                cure="Give the two times the light timer switches at, for example 13:00 and 21:00.",
            )

    @property
    def hours(self) -> float:
        """Length of the photoperiod, h; 0 where both times are equal."""
        return (self.lights_off_h - self.lights_on_h) % _DAY_H


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """The band wanted at lights-on and held after: pH units for a drop, mg/L for CO2."""

    kind: TargetKind = TargetKind.DROP
    low: float = 1.0
    high: float = 1.2

    def __post_init__(self) -> None:
        """Refuse bands that are upside down or beyond what an injected tank can be."""
        limit, unit = (3.0, "pH") if self.kind is TargetKind.DROP else (100.0, "mg/L")
        check_range("target, low end", self.low, 0.0, limit, unit)
        check_range("target, high end", self.high, 0.0, limit, unit)
        if self.low >= self.high:
            raise BadInputError(
                f"The target band {self.low:g} to {self.high:g} has no width.",
                where="target",
                cure="Give the lower figure first, for example 1.0-1.2.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Tank:
    """What the keeper knows of one tank.

    Lengths in cm, volume in litres, hours in local wall-clock time of `timezone` (an IANA name).
    `co2_limit_mg_l` is the livestock ceiling; `limit_reason` why it is above the guidance for `animals`,
    where it is. `earliest_start_h` is the earliest wall-clock hour at
    which gas may start; `timer_windows` how many on/off windows a day the timer can switch. `owner` is
    whose tank it is, where somebody looks after several people's; empty: the keeper's own. `layout` is the
    sketch of where things are.
    """

    name: str
    volume_l: float
    depth_cm: float
    surface_cm2: float
    photoperiod: Photoperiod
    timezone: str = "UTC"
    temp_c: float = 25.0
    planting: Planting = Planting.MEDIUM
    surface: Surface = Surface.GENTLE
    diffuser: Diffuser = Diffuser.FINE
    gh_dgh: float | None = None
    conductivity_us_cm: float | None = None
    altitude_m: float = 0.0
    room_co2_ppm: float | None = None
    kh_step_dkh: float = 1.0
    ph_step: float = 0.01
    co2_limit_mg_l: float = 30.0
    first_rate_bps: float = 1.0
    reads_per_ramp: int = 5
    earliest_start_h: float | None = None
    timer_windows: int = 1
    target: Target = field(default_factory=Target)
    animals: tuple[Animals, ...] = ()
    limit_reason: str = ""
    owner: str = ""
    layout: Layout | None = None

    def __post_init__(self) -> None:
        """Refuse figures no aquarium has."""
        if not self.name.strip():
            raise BadInputError("The tank has no name.", where="tank", cure="Give it a short name.")
        check_range("volume", self.volume_l, 1.0, 20000.0, "L")
        check_range("depth", self.depth_cm, 3.0, 300.0, "cm")
        check_range("surface", self.surface_cm2, 50.0, 400000.0, "cm2")
        check_range("temperature", self.temp_c, 5.0, 40.0, "degC")
        check_range("altitude", self.altitude_m, -430.0, 5000.0, "m")
        check_range("KH kit step", self.kh_step_dkh, 0.01, 5.0, "dKH")
        check_range("pH meter step", self.ph_step, 0.001, 0.5, "pH")
        check_range("livestock ceiling", self.co2_limit_mg_l, 5.0, 60.0, "mg/L")
        check_range("first rate", self.first_rate_bps, 0.05, 30.0, "bubbles/s")
        check_range("readings a ramp", self.reads_per_ramp, 0, 24, "")
        check_range("timer windows", self.timer_windows, 1, 24, "")
        if len(self.limit_reason) > REASON_LIMIT:
            raise BadInputError(
                f"The reason has {len(self.limit_reason)} characters, more than {REASON_LIMIT}.",
                where="limit reason",
                cure="Shorten it.",
            )
        check_owner(self.owner)
        if self.gh_dgh is not None:
            check_range("GH", self.gh_dgh, 0.0, 60.0, "dGH")
        if self.conductivity_us_cm is not None:
            check_range("conductivity", self.conductivity_us_cm, 0.0, 5000.0, "uS/cm")
        if self.room_co2_ppm is not None:
            check_range("room CO2", self.room_co2_ppm, 300.0, 10000.0, "ppm")
        if self.earliest_start_h is not None:
            check_range("earliest gas start", self.earliest_start_h, 0.0, _DAY_H, "h")
        try:
            ZoneInfo(self.timezone)
        except (ZoneInfoNotFoundError, ValueError, OSError) as error:
            raise BadInputError(
                f"{self.timezone!r} is no time zone.",
                where="tank",
                cure="Give an IANA name such as Europe/Madrid.",
            ) from error
