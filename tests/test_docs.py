"""The pages made from the program are what it would write now."""

import dataclasses
from pathlib import Path

import pytest

from dawnlevel import errors
from dawnlevel.cli.app import SECTIONS
from dawnlevel.sources import SOURCES
from docs import generate

FOLDER = Path(generate.__file__).parent
PAGES = generate.pages()


@pytest.mark.parametrize("name", sorted(PAGES))
def test_a_page_is_what_the_program_says_now(name: str) -> None:
    assert (FOLDER / name).read_text(encoding="utf-8") == PAGES[name], "run: python -m docs.generate"


def test_every_command_error_and_source_has_its_place() -> None:
    for commands in SECTIONS.values():
        for name in commands:
            assert f"\n### dawnlevel {name}\n" in PAGES["commands.md"]
    under = errors.DawnlevelError.__subclasses__()
    while under:
        kind = under.pop()
        under += kind.__subclasses__()
        if kind.__module__ == errors.__name__:
            assert f"## `{kind.slug}`" in PAGES["messages.md"]
    for key in SOURCES:
        assert f"| `{key}` |" in PAGES["sources.md"]


def test_messages_name_their_cures_and_no_workings() -> None:
    rows = [line for line in PAGES["messages.md"].splitlines() if line.startswith("| ")]
    assert len(rows) > 40
    assert "| Another program holds the store; nothing was changed. | Close the other program" in "\n".join(
        rows
    )
    assert "_CURE" not in PAGES["messages.md"]
    assert "{...}" not in PAGES["messages.md"]


def test_every_field_of_every_view_has_a_meaning() -> None:
    for view in generate._all_parts():
        section = PAGES["json.md"].partition(f"### {view.__name__}\n")[2].partition("\n##")[0]
        for field in dataclasses.fields(view):
            (row,) = [line for line in section.splitlines() if line.startswith(f"| `{field.name}` |")]
            assert row.split("|")[4].strip(), (view.__name__, field.name)


def test_no_page_makes_a_promise_about_livestock() -> None:
    for page in PAGES.values():
        assert " safe " not in page.lower()
