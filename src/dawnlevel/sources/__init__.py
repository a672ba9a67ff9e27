"""The published sources of Dawnlevel's figures, by key; pages and explanations cite them from here."""

from collections.abc import Mapping
from types import MappingProxyType

from dawnlevel.errors import BadInputError
from dawnlevel.sources.equilibria import ALKALINITY, DYES_AND_ELECTRODES, EQUILIBRIA
from dawnlevel.sources.source import Source, Status
from dawnlevel.sources.supply import CYLINDERS, PEOPLE, SOLUTIONS
from dawnlevel.sources.survey import SPREAD
from dawnlevel.sources.tank import GASES, KITS_AND_ROOMS, LIFE
from dawnlevel.sources.watching import WATCHING

__all__ = ["SOURCES", "Source", "Status", "find_source"]

_ALL = (
    *EQUILIBRIA,
    *DYES_AND_ELECTRODES,
    *ALKALINITY,
    *GASES,
    *LIFE,
    *KITS_AND_ROOMS,
    *CYLINDERS,
    *PEOPLE,
    *SOLUTIONS,
    *SPREAD,
    *WATCHING,
)

SOURCES: Mapping[str, Source] = MappingProxyType({source.key: source for source in _ALL})


def find_source(key: str) -> Source:
    """The source registered under `key`. Raises BadInputError for a key that is not registered."""
    try:
        return SOURCES[key]
    except KeyError:
        raise BadInputError(
            f"No source is registered as {key!r}.",
            where="sources",
            cure="Use a key of dawnlevel.sources.SOURCES.",
        ) from None
