"""Sources by their keys, as views show them."""

from collections.abc import Iterable

from dawnlevel.desk.views import SourceView
from dawnlevel.sources import find_source


def cited(keys: Iterable[str]) -> tuple[SourceView, ...]:
    """The sources of these keys, each once, in their order; BadInputError for an unknown key."""
    found = [find_source(key) for key in dict.fromkeys(keys)]
    return tuple(SourceView(one.key, one.text, one.doi, one.status.value) for one in found)
