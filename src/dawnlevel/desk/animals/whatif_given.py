"""What is asked of `whatif`, from the words a person gave."""

from dawnlevel.desk import amounts
from dawnlevel.desk.amounts import read_amount, read_choice, read_clock
from dawnlevel.desk.animals.whatif import Asked
from dawnlevel.errors import BadInputError, OutOfRangeError
from dawnlevel.plan.faults import FaultKind

_RANGES = {
    FaultKind.SHIFTED: (-12.0, 12.0, "h"),
    FaultKind.CYLINDER: (1.0, 10.0, ""),
    FaultKind.RATE: (0.0, 20.0, ""),
    FaultKind.WATER: (0.0, 1.0, ""),
}
"""Smallest and largest `by` of the kinds that have one."""


_MEASURES = {FaultKind.WATER: amounts.SHARE, FaultKind.SHIFTED: amounts.HOURS}


def read_asked(kind: str | None, from_: str | None, by: str | None, lasts: str | None) -> Asked:
    """The question for what was given; None is left out. BadInputError or OutOfRangeError otherwise."""
    kinds = () if kind is None else (read_choice(FaultKind, kind, "what if"),)
    return Asked(
        kinds=kinds,
        from_h=None if from_ is None else read_clock(from_, "from"),
        by=None if by is None else read_by(kinds, by),
        lasts_h=None if lasts is None else read_lasts(lasts),
    )


def read_by(kinds: tuple[FaultKind, ...], text: str) -> float:
    """How much: hours of shift, times the flow, or share of the water. BadInputError, OutOfRangeError."""
    if not kinds or kinds[0] not in _RANGES:
        raise BadInputError(
            "This kind of fault has no amount.",
            where="by",
            cure=f"Leave it out, or name one of {', '.join(_RANGES)}.",
        )
    low, high, unit = _RANGES[kinds[0]]
    measure = _MEASURES.get(kinds[0], amounts.PLAIN)
    value = read_amount(measure, text)
    if not low <= value <= high:
        raise OutOfRangeError("by", value, low, high, unit, where="what if")
    return value


def read_lasts(text: str) -> float:
    """How long it lasts [h]. BadInputError, OutOfRangeError."""
    hours = read_amount(amounts.HOURS, text)
    if not 0.1 <= hours <= 24.0:
        raise OutOfRangeError("length of the fault", hours, 0.1, 24.0, "h", where="what if")
    return hours
