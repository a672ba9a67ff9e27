"""What a newcomer is told to do next, from what the practice tank's records hold: five short lessons."""

from dataclasses import dataclass
from enum import StrEnum

LESSONS = 5


class Do(StrEnum):
    """What a lesson asks for, as the button or the link that does it."""

    CUP = "cup"
    PLAN = "plan"
    PH = "ph"
    FISH = "fish"
    READING = "reading"
    LIGHTS_ON = "lights_on"
    MORNING = "morning"
    DISTRESS = "distress"


@dataclass(frozen=True, slots=True)
class Dawn:
    """What was true at lights-on, which only a practice tank can tell: CO2 [mg/L], drop [pH] where known."""

    clock: str
    co2_mg_l: float
    drop_ph: float | None
    is_in_band: bool


@dataclass(frozen=True, slots=True)
class Progress:
    """How far the learner is.

    Attributes:
        has_cup: a baseline cup is on record.
        has_plan: a timer is on record.
        is_due: a reading is due now.
        next_reading: the clock of the next reading before lights-on, empty where there is none.
        lights_on: the clock of the coming lights-on.
        dawn: the last lights-on with gas that was lived through.
        distress: None where no distress was recorded, else whether the fish are still in it.
    """

    has_cup: bool
    has_plan: bool
    is_due: bool
    next_reading: str
    lights_on: str
    dawn: Dawn | None
    distress: bool | None


@dataclass(frozen=True, slots=True)
class Lesson:
    """One step: its number, its title, what to do and why, and which buttons do it."""

    number: int
    title: str
    text: str
    does: tuple[Do, ...]


_BASELINE = Lesson(
    1,
    "The baseline",
    "Every drop is counted from the pH of water that has lost its surplus CO2. For that a cup of this tank's "
    "water has been aerated; read it.",
    (Do.CUP,),
)
_PLAN = Lesson(
    2,
    "The plan",
    "Open the plan: when the timer opens the gas, how many bubbles to count, and why. Accept it; here that "
    "sets timer and needle too.",
    (Do.PLAN,),
)
_DISTRESS = Lesson(
    5,
    "Fish in distress",
    "Fish come first: until they are calm, tuning is locked and only the steps under Now count. Say that the "
    "gas is closed, then look at the fish.",
    (Do.FISH,),
)
_DONE = Lesson(
    5,
    "That is the job",
    "The fish are calm, and the advice is back. Go on to the next morning, begin anew, or leave practice and "
    "describe a tank of your own.",
    (Do.MORNING,),
)


def lesson_of(progress: Progress) -> Lesson:
    """The lesson that comes next."""
    if progress.distress:
        return _DISTRESS
    if not progress.has_cup:
        return _BASELINE
    if not progress.has_plan:
        return _PLAN
    if progress.dawn is None:
        return _ramp(progress)
    return _lights_on(progress.dawn) if progress.distress is None else _DONE


def _ramp(progress: Progress) -> Lesson:
    """Readings until lights-on."""
    aim = f"The band must be reached when the lights come on, {progress.lights_on}."
    if progress.is_due:
        return Lesson(
            3,
            "The ramp",
            f"{aim} A reading is due: read pH and look at the fish, then do what stands under Next.",
            (Do.PH, Do.FISH),
        )
    if progress.next_reading:
        return Lesson(
            3,
            "The ramp",
            f"{aim} Do what stands under Next, then go on to the next reading, {progress.next_reading}.",
            (Do.READING,),
        )
    return Lesson(
        3,
        "The ramp",
        f"{aim} No reading is worth taking before then; let the lights come on.",
        (Do.LIGHTS_ON,),
    )


def _lights_on(dawn: Dawn) -> Lesson:
    """The truth, and what follows from it."""
    told = f"{dawn.co2_mg_l:.0f} mg/L"
    if dawn.drop_ph is not None:
        told = f"a drop of {dawn.drop_ph:.2f}, {'in' if dawn.is_in_band else 'outside'} the band, and {told}"
    return Lesson(
        4,
        "Lights on",
        f"At {dawn.clock} it truly was {told}; only a practice tank tells. From here the level is held, and "
        "the timer closes the gas before lights-off. One thing is left to learn: say that the fish are in "
        "distress.",
        (Do.DISTRESS,),
    )
