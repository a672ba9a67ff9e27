"""What is said of a fleet: which tanks changed, most important first, and which could not be judged."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class ChangedTank:
    """A tank in which something changed.

    Attributes:
        tank: the tank's name.
        kind: machine name of its most important change.
        said: the same in plain words.
        since: when it began.
        probability: how sure it is this kind.
        cause: the likeliest cause; empty where none is named.
        check: the one check that decides between the causes.
        further: how many further changes its line tells.
        is_recent: whether it began within the last 14 days.
        raises_co2: whether it means more CO2 in the water: look at the animals first.
    """

    tank: str
    kind: str
    said: str
    since: datetime
    probability: float
    cause: str
    check: str
    further: int
    is_recent: bool
    raises_co2: bool


@dataclass(frozen=True, slots=True)
class TroubledTank:
    """A tank that could not be judged.

    Attributes:
        tank: the tank's name.
        slug: machine name of the reason.
        message: what was wrong.
        cure: what to do.
    """

    tank: str
    slug: str
    message: str
    cure: str


@dataclass(frozen=True, slots=True)
class FleetView:
    """What is said of a fleet; the file holds every tank's findings and days.

    Attributes:
        file: where the tanks' lines are.
        place: where the tanks' logs were read.
        tanks: how many tanks the fleet has.
        judged: how many of them were judged.
        before: how many of the lines were there before this run.
        steady: how many have not changed.
        too_short: how many have too few days to tell.
        changed: those that changed, most important first.
        troubled: those that could not be judged, by name.
        lost: those whose workers died; the same command tries them again.
    """

    file: str
    place: str
    tanks: int
    judged: int
    before: int
    steady: int
    too_short: int
    changed: tuple[ChangedTank, ...]
    troubled: tuple[TroubledTank, ...]
    lost: tuple[TroubledTank, ...]
