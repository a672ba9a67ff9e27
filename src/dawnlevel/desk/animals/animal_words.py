"""A tank's animals as a keeper writes them, and the ceiling that follows from a changed description."""

from collections.abc import Mapping, Sequence

from dawnlevel.desk import amounts
from dawnlevel.desk.amounts import read_amount, read_choice, read_count
from dawnlevel.errors import BadInputError
from dawnlevel.tank import AnimalKind, Animals, Tank
from dawnlevel.tank.livestock import UNDESCRIBED_MG_L, check_reason, guided_ceiling_mg_l


def read_animals(text: str) -> tuple[Animals, ...]:
    """Groups such as `fish:12:1.5g,shrimp:20:0.2g`; a bare weight is in grams; `none` for no animals.

    BadInputError or OutOfRangeError where a group cannot be understood.
    """
    if text.strip().lower() in {"", "none"}:
        return ()
    return tuple(_group(part) for part in text.split(","))


def _group(text: str) -> Animals:
    parts = text.split(":")
    if len(parts) != 3:
        raise BadInputError(
            f"{text.strip()!r} is no kind, number and weight.",
            where="animals",
            cure="Write fish:12:1.5g for twelve fish of 1.5 g each; groups with a comma between.",
        )
    kind = read_choice(AnimalKind, parts[0], "animals")
    return animals_of(kind, parts[1], parts[2])


def animals_of(kind: AnimalKind, number: str, weight: str) -> Animals:
    """A group of `kind` from the words for its number and the weight of one, bare grams or with a unit."""
    grams = 1e3 * read_amount(amounts.MASS, weight, "g")
    return Animals(kind=kind, number=read_count(amounts.PLAIN, number), grams=grams)


def write_animals(animals: Sequence[Animals]) -> str:
    """The groups as read_animals takes them; `none` for no animals."""
    return ",".join(f"{one.kind.value}:{one.number}:{one.grams:.6g}g" for one in animals) or "none"


def with_ceiling(fields: Mapping[str, object], before: Tank | None = None) -> dict[str, object]:
    """`fields` of a description with the ceiling that its animals ask for, where it names none itself.

    Where animals are changed and no ceiling is named, a ceiling that came from the animals before moves with
    them, another is only lowered. BadInputError for a ceiling above the guidance without a reason.
    """
    found = dict(fields)
    if before is not None and not {"animals", "co2_limit_mg_l", "limit_reason"} & found.keys():
        return found
    old_animals = before.animals if before is not None else ()
    old_limit = before.co2_limit_mg_l if before is not None else UNDESCRIBED_MG_L
    old_reason = before.limit_reason if before is not None else ""
    animals = found.get("animals", old_animals)
    reason = found.get("limit_reason", old_reason)
    if not isinstance(animals, tuple) or not isinstance(reason, str):
        raise TypeError(found)  # readers give these kinds only
    guided = guided_ceiling_mg_l(animals)
    if "co2_limit_mg_l" not in found and "animals" in found and not reason:
        came_from_them = old_limit == guided_ceiling_mg_l(old_animals)
        found["co2_limit_mg_l"] = guided if came_from_them else min(old_limit, guided)
    limit = found.get("co2_limit_mg_l", old_limit)
    if not isinstance(limit, float):
        raise TypeError(found)  # the same
    check_reason(limit, animals, reason)
    if limit <= guided and reason and "limit_reason" not in found:
        found["limit_reason"] = ""  # no longer above the guidance: the old reason is done with
    return found
