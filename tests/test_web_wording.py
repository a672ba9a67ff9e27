"""Pages name themselves, not commands, whatever the desk, the planner and the store say."""

import ast
import re
from pathlib import Path

import pytest

import dawnlevel
from dawnlevel.web.wording import in_web_words

PACKAGE = Path(dawnlevel.__file__).parent
FLOORS = ("desk", "plan", "estimate", "store", "tank")
ELSEWHERE = {
    *("archive.py", "tablefile.py", "longtable.py", "exchange.py", "package.py", "package_read.py"),
    *("migrate.py", "copying.py", "backup.py", "doctor.py", "fleet", "live.py"),
}
"""Records in files, copies and upgrades of the store, fleets, live probes: the command line's."""


def said() -> list[str]:
    """Every text on those floors that names a command or an option of one, docstrings left out."""
    found = []
    for floor in FLOORS:
        for path in (PACKAGE / floor).rglob("*.py"):
            if {path.name, path.parent.name} & ELSEWHERE:
                continue
            tree = ast.parse(path.read_text(encoding="utf-8"))
            docs = {
                node.body[0].value
                for node in ast.walk(tree)
                if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
                and node.body
                and isinstance(node.body[0], ast.Expr)
            }
            inner = {
                part for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in node.values
            }
            for node in ast.walk(tree):
                text = _text(node) if node not in docs and node not in inner else ""
                if " " in text and re.search(r"dawnlevel [a-z]|--[a-z]|DAWNLEVEL_", text):
                    found.append(text)
    return found


def _text(node: ast.AST) -> str:
    if isinstance(node, ast.JoinedStr):
        return "".join(part.value if isinstance(part, ast.Constant) else "x" for part in node.values)
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else ""


@pytest.mark.parametrize("text", said())
def test_no_command_is_left_on_a_page(text: str) -> None:
    told = in_web_words(text)
    assert not re.search(r"dawnlevel|--[a-z]|DAWNLEVEL_", told), told
    assert not re.search(r"[:,;(]\s*$|\.\.", told), told


def test_there_is_something_to_test() -> None:
    assert len(said()) > 5
