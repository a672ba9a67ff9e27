"""Use case: a tank's animals - the CO2 ceiling they ask for, on what evidence, and the oxygen they take."""

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from dawnlevel.balance.animals import CO2_PER_OXYGEN, ROUTINE_FACTOR, resting_oxygen_mg_per_h
from dawnlevel.desk.cited import cited
from dawnlevel.desk.views import SourceView
from dawnlevel.estimate.posterior import Interval, interval
from dawnlevel.tank import Animals, Tank
from dawnlevel.tank.livestock import GUIDANCE, guided_ceiling_mg_l, strictest

_SCORES = np.array([NormalDist().inv_cdf((i + 0.5) / 200) for i in range(200)])

LOW_OXYGEN = (
    "High CO2 and low oxygen make each other worse: CO2 outside hinders its loss at the gills and lowers "
    "what blood carries. A ceiling above 25 mg/L asks for healthy grown fish and 6 mg/L of oxygen or more."
)
"""Hargreaves & Brunson 1996, SRAC 468 (checked); the 25 and 6 mg/L are common practice, no source."""

SIGNS = (
    "faster gill beats",
    "crowding at the surface or the inflow",
    "no appetite, no response",
    "lethargy at the surface",
    "loss of balance",
    "no motion",
)
"""In the order in which to watch for them: Merck Veterinary Manual; UF/IFAS FA27."""

CAUTIONS = (
    "A ceiling is guidance, not a promise. Odd behaviour outweighs it: less gas, more air, then look.",
    "Gasping has other causes: low oxygen, ammonia, nitrite. Rule them out too.",
    "A slow rise is borne better than a fast one.",
    "A veterinarian who treats fish knows kinds that no figure here covers.",
)


@dataclass(frozen=True, slots=True)
class GroupView:
    """One kind of animals, and what is published about CO2 and them.

    Attributes:
        kind: machine name of the kind.
        number: how many.
        grams: weight of one [g].
        guided_mg_l: ceiling that guidance gives [mg/L].
        published: whether that figure is published for such animals; else it is a precaution.
        evidence: how strong the evidence is: fair, weak or none.
        says: what it rests on, in words.
        resting_oxygen_mg_h: oxygen all of them take at rest [mg/h].
    """

    kind: str
    number: int
    grams: float
    guided_mg_l: float
    published: bool
    evidence: str
    says: str
    resting_oxygen_mg_h: float


@dataclass(frozen=True, slots=True)
class AnimalsView:
    """A tank's animals, their ceiling, their oxygen.

    Attributes:
        groups: each kind of animals; empty where none are described.
        guided_mg_l: the strictest guidance [mg/L].
        strictest: the kind it comes from; empty where no animals are described.
        ceiling_mg_l: the ceiling plans stay below [mg/L].
        limit_reason: why that is above the guidance; empty where it is not.
        temp_c: temperature of the water [degC].
        oxygen_mg_h: oxygen all animals take as they swim and feed [mg/h].
        oxygen_mg_l_h: the same by volume of water [mg/L/h].
        co2_mg_l_h: CO2 they give to the water [mg/L/h], in the middle.
        low_oxygen: what low oxygen changes, in words.
        signs: what to watch for, in order.
        cautions: what to mind.
    """

    tank: str
    groups: tuple[GroupView, ...]
    guided_mg_l: float
    strictest: str
    ceiling_mg_l: float
    limit_reason: str
    temp_c: float
    oxygen_mg_h: Interval
    oxygen_mg_l_h: Interval
    co2_mg_l_h: float
    low_oxygen: str
    signs: tuple[str, ...]
    cautions: tuple[str, ...]
    sources: tuple[SourceView, ...]


def animals_view(tank: Tank) -> AnimalsView:
    """The animals of `tank`; temperature and volume are the tank's. Raises OutOfRangeError."""
    resting = resting_oxygen_mg_per_h(tank.animals, tank.temp_c)
    taken = resting * ROUTINE_FACTOR.from_normal(_SCORES)
    kind = strictest(tank.animals)
    keys = [key for one in tank.animals for key in GUIDANCE[one.kind].sources]
    return AnimalsView(
        tank=tank.name,
        groups=tuple(_group(one, tank.temp_c) for one in tank.animals),
        guided_mg_l=guided_ceiling_mg_l(tank.animals),
        strictest="" if kind is None else kind.value,
        ceiling_mg_l=tank.co2_limit_mg_l,
        limit_reason=tank.limit_reason,
        temp_c=tank.temp_c,
        oxygen_mg_h=interval(taken),
        oxygen_mg_l_h=interval(taken / tank.volume_l),
        co2_mg_l_h=CO2_PER_OXYGEN * float(np.median(taken)) / tank.volume_l,
        low_oxygen=LOW_OXYGEN,
        signs=SIGNS,
        cautions=CAUTIONS,
        sources=cited(
            [
                *(keys or ["wedemeyer_1996"]),
                "clarke_johnston_1999",
                "routine_oxygen",
                "hargreaves_brunson_1996",
                "merck_veterinary_manual",
            ]
        ),
    )


def _group(one: Animals, temp_c: float) -> GroupView:
    guidance = GUIDANCE[one.kind]
    return GroupView(
        kind=one.kind.value,
        number=one.number,
        grams=one.grams,
        guided_mg_l=guidance.ceiling_mg_l,
        published=guidance.published,
        evidence=guidance.evidence.value,
        says=guidance.says,
        resting_oxygen_mg_h=resting_oxygen_mg_per_h([one], temp_c),
    )
