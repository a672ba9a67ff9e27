"""All benchmarks in one report: figures, charts, seeds, versions, commands.

    python -m benchmarks.report [--quick] [--jobs N] [--folder FOLDER] [--keep] [--report-only]

Runs chemistry, advice and every play on practice tanks, then writes report.md, charts (SVG) and bench.json
with all figures into the folder (build/bench, or build/bench-quick for a quick run). Ctrl-C keeps what is
done and reports on that. With --keep a run that is there already,
whole and made by the same command from the same source, is not played again.
"""

import argparse
import json
import subprocess
import sys
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from benchmarks._charts import charts
from benchmarks._figures import ablation_figures, chances, coverage, failures, play_figures, tanks_of
from benchmarks._goals import goals
from benchmarks._machine import ROOT, machine, source_digest
from benchmarks._report_text import report_text
from benchmarks._runs import FULL, QUICK, Run, Size, runs
from dawnlevel.report.chart import write_chart

PACKAGES = ("dawnlevel", "numpy", "scipy", "altair", "vl-convert-python", "emcee", "PyCO2SYS", "phreeqpython")
INTERRUPTED = 130


def command_of(run: Run, folder: Path, jobs: int) -> list[str]:
    """The run's command, without the interpreter."""
    out = ["--json", str(folder / f"{run.name}.json")]
    if run.has_detail:
        out += ["--detail", str(folder / f"{run.name}.detail.json"), "--jobs", str(jobs)]
    return ["-m", run.module, *run.arguments, *out]


def execute(run: Run, folder: Path, jobs: int) -> int:
    """Run it and wait for it, also when Ctrl-C is pressed (it answers that itself); its exit code."""
    command = [sys.executable, *command_of(run, folder, jobs)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL) as process:  # noqa: S603 - our own
        try:
            return process.wait()
        except KeyboardInterrupt:
            process.wait()
            return INTERRUPTED


def read(path: Path) -> dict[str, Any] | None:
    """A JSON file, or None where there is none or it was not finished."""
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return found if isinstance(found, dict) else None


def is_done(run: Run, folder: Path, source: str) -> bool:
    """Whether its files are there, whole, from the same command and source."""
    if not run.has_detail:
        return False
    found = read(folder / f"{run.name}.detail.json")
    if found is None or found["source"] != source or not found["finished"] or found["lost"]:
        return False
    return bool(found["command"] == f"python -m {run.module} {' '.join(run.arguments)}")


def run_all(todo: Sequence[Run], folder: Path, jobs: int, *, keep: bool) -> bool:
    """Run what is to be run; whether all of it was."""
    source, codes = source_digest(), []
    try:
        for number, run in enumerate(todo, start=1):
            print(f"[{number}/{len(todo)}] {run.name}", file=sys.stderr)
            if keep and is_done(run, folder, source):
                continue
            for ending in ("json", "detail.json"):
                (folder / f"{run.name}.{ending}").unlink(missing_ok=True)
            codes.append(execute(run, folder, jobs))
            if codes[-1] == INTERRUPTED:
                break
            if codes[-1]:
                print(f"{run.name} ended with exit code {codes[-1]}", file=sys.stderr)
    except KeyboardInterrupt:  # between two runs
        codes.append(INTERRUPTED)
    if INTERRUPTED in codes:
        print("stopped; the report is made from what is done", file=sys.stderr)
    return INTERRUPTED not in codes


def assemble(folder: Path, todo: Sequence[Run], size: Size, made: Mapping[str, Any]) -> dict[str, Any]:
    """All figures from the runs' files in `folder`; runs without a file, or without a tank, are left out."""
    details: dict[str, Any] = {}
    for run in todo:
        found = read(folder / f"{run.name}.detail.json") if run.has_detail else None
        if found is not None and found["tanks"]:
            details[run.name] = found
    figures: dict[str, Any] = {
        "made": dict(made),
        "runs": {name: play_figures(found) for name, found in details.items()},
        "coverage": {
            name: coverage(tanks_of(details[name], "dawnlevel"))
            for name in ("tuning", "level")
            if name in details
        },
        "ablations": ablation_figures(details, size),
    }
    for name in ("tuning", "level"):
        if name in details:
            tanks = {seed: scores["dawnlevel"] for seed, scores in details[name]["tanks"].items()}
            figures.setdefault("failures", {})[name] = failures(tanks)
            figures.setdefault("chances", {})[name] = chances(list(tanks.values()))
    for name in ("chemistry", "advice"):
        found = read(folder / f"{name}.json")
        if found is not None:
            figures[name] = found
    figures["goals"] = goals(figures)
    return figures


def write(figures: Mapping[str, Any], folder: Path) -> None:
    """The report, its charts, and all figures as one JSON file."""
    for name, spec in charts(figures).items():
        write_chart(spec, folder / f"{name}.svg")
    (folder / "report.md").write_text(report_text(figures), encoding="utf-8")
    text = json.dumps(figures, indent=1, allow_nan=False, ensure_ascii=False)
    (folder / "bench.json").write_text(text + "\n", encoding="utf-8")


def _arguments(argv: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m benchmarks.report",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--quick", action="store_true", help="few tanks and days: to see that it works")
    parser.add_argument("--jobs", type=int, default=2, help="worker processes (default 2)")
    parser.add_argument("--folder", type=Path, help="default build/bench, with --quick build/bench-quick")
    parser.add_argument("--keep", action="store_true", help="do not repeat runs that are there already")
    parser.add_argument("--report-only", action="store_true", help="run nothing, report on what is there")
    return parser.parse_args(argv)


def main(argv: Sequence[str] | None = None) -> int:
    """Run what is asked for, assemble, write; 0, or 130 after Ctrl-C."""
    args = _arguments(argv)
    size = QUICK if args.quick else FULL
    usual = ROOT / "build" / ("bench-quick" if args.quick else "bench")
    folder = (args.folder or usual).resolve()
    folder.mkdir(parents=True, exist_ok=True)
    todo = runs(size)
    stopped = not args.report_only and not run_all(todo, folder, args.jobs, keep=args.keep)
    complete = all((folder / f"{run.name}.json").exists() for run in todo) and not stopped
    made = {
        "on": datetime.now(UTC).date().isoformat(),
        "setting": "quick" if args.quick else "full",
        "command": f"make bench{' QUICK=1' if args.quick else ''}",
        "complete": complete,
        "source": source_digest(),
        "machine": machine(PACKAGES),
    }
    write(assemble(folder, todo, size, made), folder)
    print(f"{folder / 'report.md'}", file=sys.stderr)
    return INTERRUPTED if stopped else 0


if __name__ == "__main__":
    sys.exit(main())
