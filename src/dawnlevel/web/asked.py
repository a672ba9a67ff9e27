"""Fields of forms made from lists: their names, labels and hints, and how an amount in them is read."""

from collections.abc import Callable
from dataclasses import dataclass

from dawnlevel.desk.amounts import Measure, read_amount
from dawnlevel.tank.nouns import check_range


@dataclass(frozen=True, slots=True)
class Asked:
    """A field: name, label, hint, mode of the phone's keys."""

    name: str
    label: str
    hint: str = ""
    mode: str = "decimal"


def amount(
    measure: Measure, low: float, high: float, unit: str, *, bare: str = "", times: float = 1.0
) -> Callable[[str], float]:
    """What reads an amount between `low` and `high` [`unit`].

    `bare` is the unit where none is typed; `times` brings what the desk keeps to `unit`.
    """

    def read(text: str) -> float:
        found = times * read_amount(measure, text, bare)
        check_range(measure.name, found, low, high, unit)
        return found

    return read
