"""Whose tanks: those who look after several people's keep what is handed to one from the others.

A tank belongs to the owner whom its last description names. What is handed to an owner names no other one:
where a tank changed hands, its earlier descriptions are handed on without the name.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from dawnlevel.errors import NoSuchOwnerError
from dawnlevel.store import Store, TankVersion
from dawnlevel.store.merging import without_owner
from dawnlevel.tank import Tank


@dataclass(frozen=True, slots=True)
class OwnerTanks:
    """An owner, by the name first written, and the tanks; empty: the keeper's own tanks."""

    owner: str
    tanks: tuple[Tank, ...]


def owner_key(name: str) -> str:
    """What two spellings of an owner's name have in common: spaces and capitals do not count."""
    return " ".join(name.split()).casefold()


def by_owner(tanks: Iterable[Tank]) -> tuple[OwnerTanks, ...]:
    """Tanks by owner, owners by name, the keeper's own first; the tanks in their order."""
    groups: dict[str, list[Tank]] = {}
    for tank in tanks:
        groups.setdefault(owner_key(tank.owner), []).append(tank)
    return tuple(OwnerTanks(found[0].owner, tuple(found)) for _, found in sorted(groups.items()))


def all_by_owner(store: Store) -> tuple[OwnerTanks, ...]:
    """Every tank of the store by owner; see `by_owner`."""
    return by_owner(store.tank(name) for name in store.tank_names())


def tanks_of(store: Store, owner: str) -> tuple[Tank, ...]:
    """The tanks of `owner`; NoSuchOwnerError where there are none."""
    groups = [group for group in all_by_owner(store) if group.owner]
    for group in groups:
        if owner_key(group.owner) == owner_key(owner):
            return group.tanks
    raise NoSuchOwnerError(owner, [group.owner for group in groups])


def shown_to(owner: str | None, versions: Sequence[TankVersion]) -> list[TankVersion]:
    """A tank's descriptions as `owner` may see them: no other owner is named. None: the keeper sees all."""
    if owner is None:
        return list(versions)
    return [one if owner_key(one.tank.owner) == owner_key(owner) else without_owner(one) for one in versions]
