"""Writes the pages that are made from the last committed report.

    python -m benchmarks.pages [--from build/bench]

With --from the report there (bench.json, report.md, charts) becomes the committed one, in docs/figures. Then
docs/validation.md and docs/which-instrument.md are filled from docs/figures/bench.json: their prose stands in
docs/templates, with a `{{name}}` for each table. `tests/test_bench_pages.py` fails where a page is not what
this writes now.
"""

import argparse
import json
import re
import shutil
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from benchmarks import _instruments as instruments
from benchmarks import _tables as tables
from benchmarks._charts import charts
from benchmarks._machine import ROOT
from benchmarks._report_text import made_line
from dawnlevel.errors import BadInputError

DOCS = ROOT / "docs"
FIGURES = DOCS / "figures"
PAGES = ("validation.md", "which-instrument.md")
NOT_PLAYED = "(Not played in this run.)"

_PLACE = re.compile(r"\{\{([a-z_]+)(?: ([a-z-]+))?\}\}")


def committed() -> dict[str, Any]:
    """The figures of the last committed report."""
    found: dict[str, Any] = json.loads((FIGURES / "bench.json").read_text(encoding="utf-8"))
    return found


def pages(figures: Mapping[str, Any]) -> dict[str, str]:
    """Every page, by its name in docs. Raises BadInputError for a place in a template that nothing fills."""
    return {
        name: fill((DOCS / "templates" / name).read_text(encoding="utf-8"), figures, name) for name in PAGES
    }


def fill(template: str, figures: Mapping[str, Any], where: str) -> str:
    """The template with every `{{name}}` replaced by what the figures have for it."""
    drawn = charts(figures)

    def found(match: re.Match[str]) -> str:
        name, argument = match.groups()
        if name == "chart":
            return _chart(str(argument), drawn)
        if name not in PLACES:
            raise BadInputError(
                f"Nothing fills {{{{{name}}}}}.", where=where, cure=f"Use one of {', '.join(PLACES)}."
            )
        try:
            return PLACES[name](figures)
        except KeyError:
            return NOT_PLAYED

    return _PLACE.sub(found, template)


def _chart(name: str, drawn: Mapping[str, Any]) -> str:
    if name not in drawn:
        return f"(No chart of {name.replace('-', ' ')}: too few days were played.)"
    return f"![{drawn[name]['description']}](figures/{name}.svg)"


def _run_words(run: Mapping[str, Any]) -> str:
    level = f"seeds {run['seed']} to {run['seed'] + run['tanks'] - 1}, {run['days']} days"
    return f"{run['tanks']} tanks, {level}, target {run['target']} (`{run['command']}`)."


def _failures_words(figures: Mapping[str, Any]) -> str:
    found = figures["failures"]["tuning"]
    return (
        f"{found['failed']} of {found['tank_days']} tank-days were not dialled in; of {found['said_so']} the "
        "advice had said that the day would probably fail, or that the fish came first."
    )


def _agreement(figures: Mapping[str, Any]) -> str:
    gaps = figures["chemistry"]["largest_relative_difference"]
    return (
        f"PHREEQC within {100 * gaps['phreeqc']:.2f} %, PyCO2SYS without activities within "
        f"{100 * gaps['pyco2sys_without_activity']:.2f} %"
    )


PLACES: Mapping[str, Callable[[Mapping[str, Any]], str]] = {
    "made": made_line,
    "goals": tables.goals_table,
    "tuning_words": lambda figures: _run_words(figures["runs"]["tuning"]),
    "tuning": lambda figures: tables.play_table(figures["runs"]["tuning"]),
    "quiet": lambda figures: tables.quiet_table(figures["runs"]["tuning"]),
    "levels": tables.levels_table,
    "coverage": lambda figures: tables.coverage_table(figures["coverage"]["tuning"]),
    "chances": lambda figures: tables.chances_table(figures["chances"]["tuning"]),
    "failures_words": _failures_words,
    "causes": lambda figures: tables.causes_table(figures["failures"]["tuning"]),
    "level_words": lambda figures: "Tanks whose cup is aerated: " + _run_words(figures["runs"]["level"]),
    "level": lambda figures: tables.level_goal_table(figures["runs"]["level"]),
    "level_coverage": lambda figures: tables.coverage_table(figures["coverage"]["level"]),
    "level_causes": lambda figures: tables.causes_table(figures["failures"]["level"]),
    "chemistry": lambda figures: tables.chemistry_table(figures["chemistry"]),
    "agreement": _agreement,
    "advice": lambda figures: tables.advice_table(figures["advice"]),
    "runs": tables.runs_table,
    "tanks": instruments.tanks_words,
    "plain": instruments.plain_table,
    "order": instruments.order_words,
    "tables": instruments.full_tables,
}
"""What fills each place of the templates."""


def adopt(folder: Path) -> None:
    """Make the report in `folder` the committed one. Raises BadInputError where there is none."""
    if not (folder / "bench.json").exists():
        raise BadInputError(
            "There is no bench.json.", where=str(folder), cure="Run `make bench` first, or name its folder."
        )
    FIGURES.mkdir(exist_ok=True)
    for old in FIGURES.glob("*.svg"):
        old.unlink()
    for path in [folder / "bench.json", folder / "report.md", *sorted(folder.glob("*.svg"))]:
        shutil.copyfile(path, FIGURES / path.name)


def main(argv: Sequence[str] | None = None) -> int:
    """Write every page; 2 where there is no report to make them from."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.pages", description="Pages from the report.")
    parser.add_argument("--from", dest="folder", type=Path, help="adopt the report in this folder first")
    folder = parser.parse_args(argv).folder
    try:
        if folder is not None:
            adopt(folder)
        made = pages(committed())
    except BadInputError as error:
        print(error, file=sys.stderr)
        return 2
    for name, text in made.items():
        (DOCS / name).write_text(text, encoding="utf-8")
        print(f"docs/{name}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
