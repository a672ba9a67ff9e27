"""What a keeper records: facts with their moment, never changed once stored.

Every record carries `at`, an aware datetime in UTC. A slip is corrected by a record that supersedes
the first one; that is the store's business, the science only sees what stands.
"""

from dataclasses import dataclass

from dawnlevel.errors import BadInputError
from dawnlevel.tank.nouns import BaselineMethod, CellColour, FishState, check_range
from dawnlevel.tank.record import Record
from dawnlevel.tank.shelf import (
    BufferCheck,
    CylinderExchange,
    CylinderWeighing,
    GaugeReading,
    SolutionPrepared,
)
from dawnlevel.tank.survey import SurveyReading


@dataclass(frozen=True, slots=True, kw_only=True)
class PhReading(Record):
    """The meter in the tank: pH as displayed; temperature in degC where it was read too."""

    ph: float
    temp_c: float | None = None

    def __post_init__(self) -> None:
        """Refuse what no aquarium meter shows."""
        Record.__post_init__(self)
        check_range("pH", self.ph, 3.0, 11.0, "")
        if self.temp_c is not None:
            check_range("temperature", self.temp_c, 5.0, 40.0, "degC")


@dataclass(frozen=True, slots=True, kw_only=True)
class KhTitration(Record):
    """The KH drop kit: the count that first changed colour, times the step, both in dKH."""

    kh_dkh: float
    step_dkh: float | None = None

    def __post_init__(self) -> None:
        """Refuse what no drop kit gives."""
        Record.__post_init__(self)
        check_range("KH", self.kh_dkh, 0.0, 40.0, "dKH")
        if self.step_dkh is not None:
            check_range("KH kit step", self.step_dkh, 0.01, 5.0, "dKH")


@dataclass(frozen=True, slots=True, kw_only=True)
class BaselineCup(Record):
    """The meter in a cup of tank water left to lose its CO2 for `hours`, prepared by `method`."""

    ph: float
    method: BaselineMethod = BaselineMethod.STILL_CUP
    hours: float = 24.0
    room_co2_ppm: float | None = None

    def __post_init__(self) -> None:
        """Refuse what no cup gives."""
        Record.__post_init__(self)
        check_range("baseline pH", self.ph, 3.0, 11.0, "")
        check_range("hours in the cup", self.hours, 0.0, 240.0, "h")
        if self.room_co2_ppm is not None:
            check_range("room CO2", self.room_co2_ppm, 300.0, 10000.0, "ppm")


@dataclass(frozen=True, slots=True, kw_only=True)
class CellSighting(Record):
    """The indicator cell's colour by eye."""

    colour: CellColour


@dataclass(frozen=True, slots=True, kw_only=True)
class RateSetting(Record):
    """The needle set by hand to a count of bubbles per second; it flows whenever the solenoid is open."""

    bubbles_per_second: float

    def __post_init__(self) -> None:
        """Refuse counts no eye can follow or no needle gives."""
        Record.__post_init__(self)
        check_range("rate", self.bubbles_per_second, 0.0, 60.0, "bubbles/s")


@dataclass(frozen=True, slots=True, kw_only=True)
class GasSwitch(Record):
    """The solenoid opened or closed at this moment, by hand or as seen."""

    is_open: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TimerSetting(Record):
    """The gas timer's daily windows from this moment on: (open, close) in local wall-clock hours.

    A window may run over midnight (open > close). No windows: the timer never opens the gas.
    """

    windows_h: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        """Refuse hours outside the day and windows without length."""
        Record.__post_init__(self)
        for opens_h, closes_h in self.windows_h:
            check_range("gas opens", opens_h, 0.0, 24.0, "h")
            check_range("gas closes", closes_h, 0.0, 24.0, "h")
            if opens_h % 24.0 == closes_h % 24.0:
                raise BadInputError(
                    "A timer window opens and closes at the same time.",
                    where="timer",
                    cure="Give two different times, for example 10:30-19:00.",
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class FishSighting(Record):
    """How the livestock behaves."""

    state: FishState


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterChange(Record):
    """A share of the water replaced, as a fraction of the tank's volume."""

    fraction: float

    def __post_init__(self) -> None:
        """Refuse shares outside 0 to 1."""
        Record.__post_init__(self)
        check_range("water changed", self.fraction, 0.0, 1.0, "")


@dataclass(frozen=True, slots=True, kw_only=True)
class OxygenReading(Record):
    """Dissolved oxygen in the tank, as a meter or a drop kit shows it: mg/L, or % of saturation, or both.

    Attributes:
        oxygen_mg_l: shown in mg/L [mg/L]; None where only % was shown.
        saturation_percent: shown in % of what the air gives [%]; None where only mg/L was shown.
        temp_c: the water's temperature then [degC]; None: as the tank is described.
        pressure_hpa: air pressure there, not brought to sea level [hPa]; None: by the tank's altitude.
        error_mg_l: how far it may be off, one standard deviation [mg/L]; None where not known.
    """

    oxygen_mg_l: float | None = None
    saturation_percent: float | None = None
    temp_c: float | None = None
    pressure_hpa: float | None = None
    error_mg_l: float | None = None

    def __post_init__(self) -> None:
        """Refuse what no oxygen meter shows in an aquarium."""
        Record.__post_init__(self)
        if self.oxygen_mg_l is None and self.saturation_percent is None:
            raise BadInputError(
                "An oxygen reading without a figure.", where="oxygen", cure="Give it, as 6.5mg/L or 82%."
            )
        ranges = (
            ("oxygen", self.oxygen_mg_l, 0.0, 30.0, "mg/L"),
            ("oxygen saturation", self.saturation_percent, 0.0, 300.0, "%"),
            ("temperature", self.temp_c, 5.0, 40.0, "degC"),
            ("air pressure", self.pressure_hpa, 500.0, 1100.0, "hPa"),
            ("error of the oxygen reading", self.error_mg_l, 0.01, 3.0, "mg/L"),
        )
        for name, value, low, high, unit in ranges:
            if value is not None:
                check_range(name, value, low, high, unit)


RECORD_KINDS: dict[str, type[Record]] = {
    "ph": PhReading,
    "kh": KhTitration,
    "baseline": BaselineCup,
    "cell": CellSighting,
    "rate": RateSetting,
    "gas": GasSwitch,
    "timer": TimerSetting,
    "fish": FishSighting,
    "water_change": WaterChange,
    "cylinder": CylinderExchange,
    "weight": CylinderWeighing,
    "gauge": GaugeReading,
    "buffers": BufferCheck,
    "solution": SolutionPrepared,
    "survey": SurveyReading,
    "oxygen": OxygenReading,
}
"""Machine name of each kind of record, as used in files, JSON and the store."""
