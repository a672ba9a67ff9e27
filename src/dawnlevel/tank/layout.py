"""Where things are in the tank, and what its pump gives: the sketch, part of the tank's description."""

from dataclasses import dataclass

from dawnlevel.errors import BadInputError, OutOfRangeError
from dawnlevel.tank.places import place_name

MOST_HARDSCAPE = 20
"""Pieces of stone or wood in a sketch; own choice."""

USUAL_LOSS = 0.2
"""Share of the label's flow lost to height and hoses, and of the rest to dirt, where nothing is known; common
practice, no source."""

FLOW_LIMITS_L_H = (1.0, 1e5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """A tank's sketch. Places by their usual names, see `places`.

    `outflow` is where water comes into the tank, `intake` where the filter draws it, `diffuser` where the
    gas comes in, `hardscape` where stone or wood stands. `rated_l_h` is what the pump's label says [L/h],
    `head_loss` and `clogging` the shares lost to height and hoses, and of the rest to dirt; `measured_l_h`
    what a bucket and a clock at the outflow say [L/h], which counts instead. `length_cm` is the tank's
    inner length.
    """

    outflow: str
    intake: str
    diffuser: str
    rated_l_h: float
    hardscape: tuple[str, ...] = ()
    head_loss: float = USUAL_LOSS
    clogging: float = USUAL_LOSS
    measured_l_h: float | None = None
    length_cm: float | None = None

    def __post_init__(self) -> None:
        """Refuse places that are none, and figures no pump and no tank has."""
        for place in (self.outflow, self.intake, self.diffuser, *self.hardscape):
            if place_name(place) != place:
                raise BadInputError(
                    f"{place!r} is not the usual writing of a place.",
                    where="layout",
                    cure=f"Write it {place_name(place)!r}.",
                )
        if len(self.hardscape) > MOST_HARDSCAPE:
            raise OutOfRangeError("pieces of hardscape", len(self.hardscape), 0, MOST_HARDSCAPE, "")
        for name, share in (("head loss", self.head_loss), ("clogging", self.clogging)):
            _check(name, share, 0.0, 0.99, "")
        _check("flow by the label", self.rated_l_h, *FLOW_LIMITS_L_H, "L/h")
        if self.measured_l_h is not None:
            _check("flow as measured", self.measured_l_h, *FLOW_LIMITS_L_H, "L/h")
        if self.length_cm is not None:
            _check("length", self.length_cm, 5.0, 1000.0, "cm")


def _check(name: str, value: float, low: float, high: float, unit: str) -> None:
    if not low <= value <= high:  # NaN too
        raise OutOfRangeError(name, value, low, high, unit, where="layout")
