"""What a keeper records of gas, solutions and meters: cylinder, weight, gauge, buffers, solutions."""

import re
from dataclasses import dataclass
from enum import StrEnum

from dawnlevel.errors import BadInputError
from dawnlevel.tank.nouns import check_range
from dawnlevel.tank.record import Record


class CylinderStandard(StrEnum):
    """The rule a cylinder was made to, as stamped on its shoulder; it decides when it is due for retest."""

    DOT_3AL = "3al"
    DOT_3AA = "3aa"
    FOREIGN_IN_US = "foreign"
    ADR = "adr"
    UNKNOWN = "unknown"


class WeighedWith(StrEnum):
    """What stood on the scale: the cylinder alone, or with its regulator."""

    BARE = "bare"
    REGULATOR = "regulator"


class Buffer(StrEnum):
    """A standard pH buffer."""

    PHTHALATE = "phthalate"
    PHOSPHATE = "phosphate"
    BORAX = "borax"
    TECHNICAL_7 = "technical_7"


_TESTED = re.compile(r"(\d{4})-(0[1-9]|1[0-2])")


@dataclass(frozen=True, slots=True, kw_only=True)
class CylinderExchange(Record):
    """A cylinder connected, holding `gas_kg` [kg] as filled.

    Attributes:
        tare_kg: empty weight stamped on the shoulder [kg].
        capacity_l: water capacity [L].
        standard: the rule it was made to.
        tested: year and month of the last test, `2024-05`; empty where not known.
        price: what this charge cost, in the keeper's own currency.
    """

    gas_kg: float
    tare_kg: float | None = None
    capacity_l: float | None = None
    standard: CylinderStandard = CylinderStandard.UNKNOWN
    tested: str = ""
    price: float | None = None

    def __post_init__(self) -> None:
        """Refuse what no cylinder for an aquarium is."""
        Record.__post_init__(self)
        check_range("charge of gas", self.gas_kg, 0.01, 100.0, "kg")
        if self.tare_kg is not None:
            check_range("empty weight", self.tare_kg, 0.02, 200.0, "kg")
        if self.price is not None:
            check_range("price", self.price, 0.0, 1e6, "")
        if self.capacity_l is not None:
            check_range("water capacity", self.capacity_l, 0.01, 200.0, "L")
            check_range("charge over water capacity", self.gas_kg / self.capacity_l, 0.05, 0.80, "kg/L")
        if self.tested and not _TESTED.fullmatch(self.tested):
            raise BadInputError(
                f"{self.tested!r} is no year and month.",
                where="cylinder",
                cure="Write the stamp of the last test like 2024-05.",
            )

    @property
    def tested_in(self) -> tuple[int, int] | None:
        """Year and month of the last test; None where not known."""
        found = _TESTED.fullmatch(self.tested)
        return None if found is None else (int(found[1]), int(found[2]))


@dataclass(frozen=True, slots=True, kw_only=True)
class CylinderWeighing(Record):
    """The cylinder on a scale: `gross_kg` as shown [kg], which may be off by `scale_kg` [kg] either way."""

    gross_kg: float
    scale_kg: float = 0.01
    stood: WeighedWith = WeighedWith.REGULATOR

    def __post_init__(self) -> None:
        """Refuse what no scale shows."""
        Record.__post_init__(self)
        check_range("weight", self.gross_kg, 0.02, 300.0, "kg")
        check_range("error of the scale", self.scale_kg, 0.0001, 1.0, "kg")


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeReading(Record):
    """The high-pressure gauge [bar above the room's air]; the cylinder's temperature [degC] where known."""

    gauge_bar: float
    temp_c: float | None = None

    def __post_init__(self) -> None:
        """Refuse what no gauge for CO2 shows."""
        Record.__post_init__(self)
        check_range("gauge", self.gauge_bar, 0.0, 250.0, "bar")
        if self.temp_c is not None:
            check_range("temperature of the cylinder", self.temp_c, -20.0, 65.0, "degC")


@dataclass(frozen=True, slots=True, kw_only=True)
class BufferCheck(Record):
    """The meter in two buffers at `temp_c` [degC]: what it showed, and whether it was adjusted after.

    Attributes:
        low_ph: shown in the lower buffer, before any adjustment [-].
        high_ph: shown in the higher buffer, before any adjustment [-].
        low, high: which buffers they were.
        temp_c: temperature of both [degC].
        adjusted: whether the meter was adjusted to them.
    """

    low_ph: float
    high_ph: float
    low: Buffer = Buffer.PHTHALATE
    high: Buffer = Buffer.PHOSPHATE
    temp_c: float = 25.0
    adjusted: bool = True

    def __post_init__(self) -> None:
        """Refuse readings no meter shows in buffers."""
        Record.__post_init__(self)
        check_range("pH shown in the lower buffer", self.low_ph, 0.0, 14.0, "")
        check_range("pH shown in the higher buffer", self.high_ph, 0.0, 14.0, "")
        check_range("temperature of the buffers", self.temp_c, 0.0, 40.0, "degC")
        if self.high_ph - self.low_ph < 0.5:
            raise BadInputError(
                f"The meter shows {self.low_ph:g} and {self.high_ph:g}: hardly a difference.",
                where="buffers",
                cure="Give the lower buffer first, and check that the probe's cap is off.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class SolutionPrepared(Record):
    """Reference solution of `kh_dkh` [dKH] made, or bought, and put into the indicator cell.

    `error_percent` is how far its KH may be off, one standard deviation [%]; None where not known.
    """

    kh_dkh: float
    error_percent: float | None = None

    def __post_init__(self) -> None:
        """Refuse what no indicator cell holds."""
        Record.__post_init__(self)
        check_range("KH of the solution", self.kh_dkh, 0.1, 40.0, "dKH")
        if self.error_percent is not None:
            check_range("error of the solution", self.error_percent, 0.0, 50.0, "%")
