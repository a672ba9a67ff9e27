"""A tank's animals, the CO2 that published guidance allows each kind, and how strong that evidence is.

The ceilings are guidance for keeping a level, not a promise: where a figure rests on other species it says
so, and where none was found it says that. Fish that behave oddly outweigh any figure here.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from dawnlevel.errors import BadInputError, OutOfRangeError


class AnimalKind(StrEnum):
    """Animals told apart by what is published about CO2 and them."""

    FISH = "fish"
    LABYRINTH = "labyrinth"
    COLD_WATER = "coldwater"
    FRY = "fry"
    SHRIMP = "shrimp"
    SNAILS = "snails"
    OTHER = "other"


class Evidence(StrEnum):
    """How strong the evidence for a ceiling is."""

    FAIR = "fair"
    WEAK = "weak"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Animals:
    """A group of animals: `number` of them, each of `grams` [g] on average."""

    kind: AnimalKind
    number: int
    grams: float

    def __post_init__(self) -> None:
        """Refuse numbers and weights of no aquarium."""
        if not 1 <= self.number <= 100_000:
            raise OutOfRangeError("number of animals", self.number, 1, 100_000, "", where="animals")
        if not 0.001 <= self.grams <= 20_000.0:
            raise OutOfRangeError("weight of one animal", self.grams, 0.001, 20_000.0, "g", where="animals")


@dataclass(frozen=True, slots=True)
class Guidance:
    """What is published about CO2 and a kind of animal.

    Attributes:
        ceiling_mg_l: the level plans stay below [mg/L].
        published: whether that figure is published for animals of this kind; else it is a precaution.
        evidence: how strong the evidence is.
        says: what it rests on, in words.
        sources: keys of the sources registry.
    """

    ceiling_mg_l: float
    published: bool
    evidence: Evidence
    says: str
    sources: tuple[str, ...]


#: Guidance by kind. Each figure names its source; what no source gives is a precaution, common practice.
GUIDANCE: dict[AnimalKind, Guidance] = {
    AnimalKind.FISH: Guidance(
        30.0,
        published=True,
        evidence=Evidence.FAIR,
        says="Not above 20 to 30 mg/L for long for warm-water fish; signs of poisoning are listed from 40 "
        "mg/L on. The figures come from farmed and wild fish, not from the small fish of aquaria.",
        sources=("wedemeyer_1996", "merck_veterinary_manual", "clinical_guide_fish_medicine"),
    ),
    AnimalKind.LABYRINTH: Guidance(
        30.0,
        published=False,
        evidence=Evidence.WEAK,
        says="No figure found for fish that breathe air; taken as other warm-water fish. Air breathing helps "
        "them when oxygen is low, not when CO2 is high: CO2 leaves mainly by the gills.",
        sources=("labyrinth_gills_1979", "wedemeyer_1996"),
    ),
    AnimalKind.COLD_WATER: Guidance(
        20.0,
        published=True,
        evidence=Evidence.FAIR,
        says="20 mg/L is the limit given for salmonids; kidney stones grew at 21 to 30 mg/L in 12 weeks, "
        "none at 2 to 15 (salmon, in sea water). Other cold-water fish are taken alike.",
        sources=("alabaster_lloyd_1980", "fivelstad_2018"),
    ),
    AnimalKind.FRY: Guidance(
        20.0,
        published=False,
        evidence=Evidence.NONE,
        says="No figure found for fry of aquarium fish. 20 mg/L is the limit for grown warm-water fish less "
        "10 mg/L, as a precaution.",
        sources=("fry_ceiling",),
    ),
    AnimalKind.SHRIMP: Guidance(
        20.0,
        published=False,
        evidence=Evidence.WEAK,
        says="No figure found for dwarf shrimp or crayfish; 20 mg/L is a precaution. Young of a farmed "
        "marine shrimp survived far less at 45.6 mg/L over 45 days than at 19.",
        sources=("dwarf_shrimp_ceiling", "can_tho_shrimp"),
    ),
    AnimalKind.SNAILS: Guidance(
        25.0,
        published=False,
        evidence=Evidence.NONE,
        says="No figure found for snails and mussels. 25 mg/L is a precaution; soft acid water also wears "
        "their shells.",
        sources=("unknown_animals_ceiling",),
    ),
    AnimalKind.OTHER: Guidance(
        20.0,
        published=False,
        evidence=Evidence.NONE,
        says="No figure found. 20 mg/L is a precaution for animals nobody has measured.",
        sources=("unknown_animals_ceiling",),
    ),
}

UNDESCRIBED_MG_L = 30.0
"""Ceiling where no animals are described [mg/L]: the upper end of what is given for warm-water fish,
Wedemeyer 1996 (second-hand)."""

REASON_LIMIT = 400  # characters of a reason (common practice, no source)


def strictest(animals: Sequence[Animals]) -> AnimalKind | None:
    """The kind whose guidance is strictest; None where no animals are described."""
    return min((one.kind for one in animals), key=lambda kind: GUIDANCE[kind].ceiling_mg_l, default=None)


def guided_ceiling_mg_l(animals: Sequence[Animals]) -> float:
    """The strictest ceiling of these animals [mg/L]; UNDESCRIBED_MG_L where there are none."""
    kind = strictest(animals)
    return UNDESCRIBED_MG_L if kind is None else GUIDANCE[kind].ceiling_mg_l


def check_reason(ceiling_mg_l: float, animals: Sequence[Animals], reason: str) -> None:
    """Raise BadInputError where `ceiling_mg_l` [mg/L] is above the guidance and no reason is given."""
    guided, kind = guided_ceiling_mg_l(animals), strictest(animals)
    if ceiling_mg_l <= guided or reason.strip():
        return
    whose = "where no animals are described" if kind is None else f"for {kind.value}"
    raise BadInputError(
        f"A ceiling of {ceiling_mg_l:g} mg/L is above the {guided:g} mg/L that guidance allows {whose}.",
        where="limit",
        cure=f'Keep to {guided:g} mg/L, or say why with --limit-reason "..."; the reason is recorded.',
    )
