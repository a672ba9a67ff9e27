"""The house rules that a machine can check: floors, sizes, docstrings with units, no cycles, no stubs."""

import ast
import subprocess
import sys
from pathlib import Path
from statistics import median

import pytest

ROOT = Path(__file__).resolve().parent.parent
SOURCE = ROOT / "src" / "dawnlevel"
FILES = sorted(SOURCE.rglob("*.py"))
SCIENCE = ("chemistry", "balance", "supply", "estimate", "plan", "survey", "watch")
IMPURE = {"time", "datetime.now", "open", "print", "random", "os", "pathlib", "logging", "sqlite3"}


def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def functions(path: Path) -> list[ast.FunctionDef]:
    return [node for node in ast.walk(tree(path)) if isinstance(node, ast.FunctionDef)]


def body_lines(node: ast.FunctionDef) -> int:
    first = node.body[0]
    has_docstring = isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant)
    start = first.end_lineno if has_docstring else node.lineno
    return (node.end_lineno or node.lineno) - (start or node.lineno)


def test_no_file_is_over_500_lines_and_half_are_under_150() -> None:
    lengths = {path: len(path.read_text(encoding="utf-8").splitlines()) for path in FILES}
    assert not [path for path, length in lengths.items() if length > 500]
    assert median(lengths.values()) < 150


def test_functions_are_short() -> None:
    lengths = [(body_lines(node), path.name, node.name) for path in FILES for node in functions(path)]
    assert not [found for found in lengths if found[0] > 60]
    assert sorted(length for length, _, _ in lengths)[int(0.9 * len(lengths))] < 25


@pytest.mark.parametrize("floor", SCIENCE)
def test_science_has_no_clock_no_files_no_printing(floor: str) -> None:
    for path in (SOURCE / floor).rglob("*.py"):
        for node in ast.walk(tree(path)):
            if isinstance(node, ast.Import):
                assert not {alias.name.split(".")[0] for alias in node.names} & IMPURE, path
            if isinstance(node, ast.ImportFrom):
                assert (node.module or "").split(".")[0] not in IMPURE, path
            if isinstance(node, ast.Call):
                called = ast.unparse(node.func)
                assert called not in {"open", "print"}, path
                assert not called.endswith((".now", ".utcnow", ".today")), path
                assert called not in {"np.random.default_rng", "np.random.seed"}, path


def test_public_functions_of_the_science_name_units() -> None:
    missing = []
    for floor in SCIENCE:
        for path in (SOURCE / floor).rglob("*.py"):
            for node in tree(path).body:
                if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
                    continue
                text = ast.get_docstring(node) or ""
                quantities = [
                    a.arg for a in node.args.args if a.arg.endswith(("_mg_l", "_meq_l", "_c", "_per_h"))
                ]
                if not text or (
                    quantities and "[" not in text and "mg/L" not in text and "Source" not in text
                ):
                    missing.append(f"{path.name}:{node.name}")
    assert not missing


def test_floors_hold() -> None:
    found = subprocess.run(
        [str(Path(sys.executable).parent / "lint-imports")],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert found.returncode == 0, found.stdout


def test_no_unfinished_work_is_left_in_the_source() -> None:
    marks = ("TO" + "DO", "FIX" + "ME", "NotImplemented" + "Error")
    assert not [path for path in FILES for mark in marks if mark in path.read_text(encoding="utf-8")]


def test_nothing_calls_itself_safe() -> None:
    for path in FILES:
        for node in ast.walk(tree(path)):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                words = node.value.lower().replace(".", " ").replace(",", " ").split()
                assert "safe" not in words, f"{path}: {node.value!r}"
