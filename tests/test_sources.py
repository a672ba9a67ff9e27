"""The registry of published sources."""

import pytest

from dawnlevel.errors import BadInputError
from dawnlevel.sources import SOURCES, Source, Status, equilibria, find_source, supply, survey, tank, watching


def test_every_key_is_used_once_and_well_formed() -> None:
    groups = (
        equilibria.EQUILIBRIA, equilibria.DYES_AND_ELECTRODES, equilibria.ALKALINITY,
        tank.GASES, tank.LIFE, tank.KITS_AND_ROOMS,
        supply.CYLINDERS, supply.PEOPLE, supply.SOLUTIONS, survey.SPREAD,
        watching.WATCHING,
    )  # fmt: skip
    assert sum(map(len, groups)) == len(SOURCES)
    for key, source in SOURCES.items():
        assert source.key == key
        assert key.isidentifier()
        assert key == key.lower()
        assert len(source.text) > 10


def test_a_doi_is_bare() -> None:
    dois = [source.doi for source in SOURCES.values() if source.doi]
    assert dois
    assert all(doi.startswith("10.") and "/" in doi for doi in dois)


def test_one_line_names_text_doi_and_status() -> None:
    line = str(find_source("plummer_busenberg_1982"))
    assert "doi 10.1016/0016-7037(82)90056-4" in line
    assert line.endswith(f"({Status.CHECKED})")
    assert str(Source("a", "Work", "", Status.FROM_MEMORY)) == "Work (from memory, not checked)"


def test_an_unknown_key_is_refused() -> None:
    with pytest.raises(BadInputError, match="no_such_work"):
        find_source("no_such_work")


def test_the_registry_cannot_be_changed() -> None:
    with pytest.raises(TypeError):
        SOURCES["x"] = find_source("kell_1975")  # type: ignore[index]
