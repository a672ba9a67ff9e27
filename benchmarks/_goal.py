"""The target band of a benchmark, and how far outside it still counts."""

from dataclasses import dataclass
from typing import Literal, Self

from dawnlevel.errors import BadInputError

_DROP_TOLERANCE = {"hit": 0.02, "held": 0.05}
_CO2_TOLERANCE = {"hit": 0.04, "held": 0.12}


@dataclass(frozen=True, slots=True)
class Goal:
    """The target band: `drop` [pH] or `co2_mg_l` [mg/L]."""

    quantity: Literal["drop", "co2_mg_l"]
    low: float
    high: float

    @classmethod
    def parse(cls, text: str) -> Self:
        """From `drop:LO-HI` or `co2:LO-HI`. Raises BadInputError."""
        kind, _, band = text.partition(":")
        low, _, high = band.partition("-")
        quantity: Literal["drop", "co2_mg_l"] = "drop" if kind == "drop" else "co2_mg_l"
        try:
            goal = cls(quantity, float(low), float(high))
        except ValueError:
            goal = cls(quantity, 1.0, 0.0)
        if kind not in {"drop", "co2"} or not 0.0 < goal.low < goal.high:
            raise BadInputError(
                f"{text!r} is no target.", where="--target", cure="Write drop:1.0-1.2 or co2:20-30."
            )
        return goal

    @property
    def middle(self) -> float:
        """The band's middle [pH or mg/L]."""
        return 0.5 * (self.low + self.high)

    def as_dict(self) -> dict[str, list[float]]:
        """As policies get it."""
        return {self.quantity: [self.low, self.high]}

    def band(self, width: Literal["hit", "held"]) -> tuple[float, float]:
        """The band widened for a lights-on hit or for the hold [pH or mg/L]."""
        if self.quantity == "drop":
            return self.low - _DROP_TOLERANCE[width], self.high + _DROP_TOLERANCE[width]
        return self.low * (1.0 - _CO2_TOLERANCE[width]), self.high * (1.0 + _CO2_TOLERANCE[width])

    def inside(self, value: float, width: Literal["hit", "held"]) -> bool:
        """Whether `value` lies in the widened band; NaN does not."""
        low, high = self.band(width)
        return low - 1e-9 <= value <= high + 1e-9
