"""The meter held at a place: one reading of a spread survey."""

from dataclasses import dataclass

from dawnlevel.errors import BadInputError
from dawnlevel.tank.nouns import check_range
from dawnlevel.tank.places import place_name
from dawnlevel.tank.record import Record


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyReading(Record):
    """PH as displayed with the probe at a place: named, or in cm from left pane, front pane and substrate.

    It tells of that place, not of the tank as a whole, so the estimate of the level does not use it.
    """

    ph: float
    place: str = ""
    x_cm: float | None = None
    y_cm: float | None = None
    z_cm: float | None = None

    def __post_init__(self) -> None:
        """Refuse what no meter shows, and a place that is missing, half given or given twice."""
        Record.__post_init__(self)
        check_range("pH", self.ph, 3.0, 11.0, "")
        given = [value for value in (self.x_cm, self.y_cm, self.z_cm) if value is not None]
        if len(given) not in {0, 3} or bool(given) == bool(self.place.strip()):
            raise BadInputError(
                "The reading needs one place: a name, or all of x, y and z.",
                where="place",
                cure="Name it (back left substrate), or give cm from left pane, front pane and substrate.",
            )
        for value in given:
            check_range("place", value, 0.0, 1000.0, "cm")
        if self.place:
            object.__setattr__(self, "place", place_name(self.place))

    @property
    def where(self) -> str:
        """The place in words."""
        if self.place:
            return self.place
        return f"{self.x_cm:.4g} cm from the left, {self.y_cm:.4g} from the front, {self.z_cm:.4g} up"
