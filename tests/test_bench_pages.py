"""The pages on validation and instruments are what the last committed report says, and have its structure."""

import json
import re
from pathlib import Path
from typing import Any

import pytest
from test_bench_report import assembled

from benchmarks import pages
from benchmarks._report_text import report_text
from dawnlevel.errors import BadInputError

FIGURES = pages.committed()
MADE = pages.pages(FIGURES)


def structure(page: str) -> list[str]:
    """Headings, tables (their heads, and each row's first cell) and pictures, in order."""
    found = []
    for line in page.splitlines():
        if line.startswith(("#", "![")):
            found.append(line.partition("](")[2] or line)
        elif line.startswith("| "):
            cells = line.strip("| ").split(" | ")
            found.append(f"{len(cells)} columns: {cells[0]}")
    return found


@pytest.mark.parametrize("name", pages.PAGES)
def test_a_page_has_the_structure_of_the_last_committed_report(name: str) -> None:
    page = (pages.DOCS / name).read_text(encoding="utf-8")
    assert structure(page) == structure(MADE[name]), "run: python -m benchmarks.pages"


@pytest.mark.parametrize("name", pages.PAGES)
def test_a_page_has_the_figures_of_the_last_committed_report(name: str) -> None:
    page = (pages.DOCS / name).read_text(encoding="utf-8")
    assert page == MADE[name], "prose belongs in docs/templates; run: python -m benchmarks.pages"


def test_a_lost_row_column_or_heading_is_seen() -> None:
    page = MADE["validation.md"]
    rows = [line for line in page.splitlines() if line.startswith("| Dawnlevel")]
    assert rows
    assert structure(page.replace(rows[0] + "\n", "", 1)) != structure(page)
    assert structure(page.replace(rows[0], rows[0] + " more |", 1)) != structure(page)
    assert structure(page.replace("\n## Balance", "\n## Scales", 1)) != structure(page)
    assert structure(page.replace(".svg)", ".png)", 1)) != structure(page)


def test_the_committed_report_is_the_one_its_figures_make() -> None:
    assert (pages.FIGURES / "report.md").read_text(encoding="utf-8") == report_text(FIGURES)


@pytest.mark.parametrize("name", [*pages.PAGES, "figures/report.md"])
def test_every_picture_and_page_that_is_named_is_there(name: str) -> None:
    page = pages.DOCS / name
    for link in re.findall(r"\]\(([^)#]+)\)", page.read_text(encoding="utf-8")):
        assert (page.parent / link).exists(), link


def test_no_page_has_a_place_left_open_or_names_a_folder_of_ours() -> None:
    for text in MADE.values():
        assert "{{" not in text
        assert "/tmp" not in text  # noqa: S108 - looked for, not used
        assert "/work" not in text
        assert " safe " not in text.lower()


def keys(value: Any) -> Any:
    """The shape of figures: names and what stands under them; of lists the first entry."""
    if isinstance(value, dict):
        return {name: keys(inner) for name, inner in value.items()}
    return [keys(value[0])] if isinstance(value, list) and value else None


def test_the_committed_figures_are_of_the_shape_that_a_report_has_now(tmp_path: Path) -> None:
    now = assembled(tmp_path)
    assert set(now) <= set(FIGURES)
    assert keys(FIGURES["made"]).keys() == keys(now["made"]).keys()
    for part in (("runs", "tuning", "policies", "dawnlevel"), ("coverage", "tuning"), ("chances", "tuning")):
        committed, made = FIGURES, now
        for name in part:
            committed, made = committed[name], made[name]
        assert keys(committed) == keys(made), part
    assert FIGURES["failures"]["tuning"].keys() == now["failures"]["tuning"].keys()
    (one, *_), (other, *_) = FIGURES["ablations"].values(), now["ablations"].values()
    assert keys(one["rows"][0]) == keys(other["rows"][0])


def test_a_place_that_nothing_fills_is_told() -> None:
    with pytest.raises(BadInputError, match="weather"):
        pages.fill("# A page\n\n{{weather}}\n", FIGURES, "page.md")


def test_runs_that_were_not_played_are_told_in_their_place() -> None:
    less = {**FIGURES, "runs": {}, "failures": {}, "coverage": {}, "chances": {}}
    assert pages.NOT_PLAYED in pages.fill("{{tuning}} {{level_causes}}", less, "page.md")


def test_a_report_is_adopted_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder, docs = tmp_path / "bench", tmp_path / "docs"
    (docs / "figures").mkdir(parents=True)
    folder.mkdir()
    (docs / "figures" / "old.svg").write_text("<svg/>", encoding="utf-8")
    for name, text in (("bench.json", json.dumps(FIGURES)), ("report.md", "# r\n"), ("new.svg", "<svg/>")):
        (folder / name).write_text(text, encoding="utf-8")
    (docs / "templates").symlink_to(pages.DOCS / "templates")
    monkeypatch.setattr(pages, "DOCS", docs)
    monkeypatch.setattr(pages, "FIGURES", docs / "figures")
    assert pages.main(["--from", str(folder)]) == 0
    assert sorted(path.name for path in (docs / "figures").iterdir()) == [
        "bench.json",
        "new.svg",
        "report.md",
    ]
    assert (docs / "validation.md").read_text(encoding="utf-8") == MADE["validation.md"]


def test_a_folder_without_a_report_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert pages.main(["--from", str(tmp_path)]) == 2
    assert "make bench" in capsys.readouterr().err
