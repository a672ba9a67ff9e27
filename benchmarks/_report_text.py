"""The whole report as one Markdown page."""

from collections.abc import Iterator, Mapping
from typing import Any

from benchmarks import _tables as tables
from benchmarks._charts import charts


def report_text(figures: Mapping[str, Any]) -> str:
    """Every table and chart, in one fixed order; what was not played is left out."""
    return "\n\n".join(_parts(figures)) + "\n"


def _parts(figures: Mapping[str, Any]) -> Iterator[str]:
    yield "# Benchmarks"
    yield made_line(figures)
    yield "## Goals"
    yield tables.goals_table(figures)
    yield from _plays(figures)
    yield from _ablations(figures)
    if "chemistry" in figures:
        yield "## Speed of the chemistry"
        yield tables.chemistry_table(figures["chemistry"])
    if "advice" in figures:
        yield "## Speed of advice"
        yield tables.advice_table(figures["advice"])
    yield "## Commands"
    yield tables.runs_table(figures)


def made_line(figures: Mapping[str, Any]) -> str:
    """When, how and on what the figures were made."""
    made = figures["made"]
    on = made["machine"]
    versions = ", ".join(f"{name} {number}" for name, number in on["versions"].items())
    unfinished = "" if made["complete"] else " It was stopped before its end: some runs are missing or short."
    if {run["source"] for run in figures["runs"].values()} - {made["source"]}:
        unfinished += " Some runs were made from an earlier source; each names its own."
    return (
        f"Made on {made['on']} by `{made['command']}` ({made['setting']} setting), source {made['source']}, "
        f"on {on['processor']}, {on['cores']} cores (load {on['load_1_min']}), {on['system']}, "
        f"Python {on['python']}; {versions}.{unfinished} In brackets: 95 % intervals, for shares by Wilson "
        "(days of one tank count for as many as they are worth), for means and changes by resampling tanks."
    )


def _plays(figures: Mapping[str, Any]) -> Iterator[str]:
    runs, drawn = figures["runs"], charts(figures)
    if "tuning" in runs:
        run = runs["tuning"]
        yield f"## {run['tanks']} tanks, {run['days']} days, target {run['target']}, middle level"
        yield tables.play_table(run)
        yield _chart("dialled-in-by-day", drawn)
        yield tables.quiet_table(run)
        yield _chart("quiet-days", drawn)
        yield "### Forecasts and stated chances"
        yield tables.coverage_table(figures["coverage"]["tuning"])
        yield _chart("coverage", drawn)
        yield tables.chances_table(figures["chances"]["tuning"])
        yield from _failures("tuning", figures)
        yield "## Easy, ordinary and awkward tanks"
        yield tables.levels_table(figures)
    if "level" in runs:
        run = runs["level"]
        yield f"## {run['tanks']} tanks with an aerated cup, {run['days']} days, target {run['target']} mg/L"
        yield tables.level_goal_table(run)
        yield tables.coverage_table(figures["coverage"]["level"])
        yield from _failures("level", figures)


def _failures(name: str, figures: Mapping[str, Any]) -> Iterator[str]:
    """Why days failed, all of them, and the breaches."""
    found = figures["failures"][name]
    yield f"### Why days failed ({name})"
    yield f"{found['failed']} of {found['tank_days']} tank-days were not dialled in."
    yield tables.causes_table(found)
    if found["days"]:
        yield tables.failing_days_table(found)
    if found["breaches"]:
        yield f"### Breaches ({name})"
        yield tables.breaches_table(found)


def _ablations(figures: Mapping[str, Any]) -> Iterator[str]:
    found = figures["ablations"]
    if not found:
        return
    yield "## What it costs to go without"
    for target, one in found.items():
        yield f"### Target {target}: {one['tanks']} tanks, {one['days']} days"
        yield tables.ablation_table(one)
    yield _chart("ablations", charts(figures))


def _chart(name: str, drawn: Mapping[str, Any]) -> str:
    """A chart, or a line that says that there is none."""
    if name not in drawn:
        return f"(No chart of {name.replace('-', ' ')}: too few days were played.)"
    return f"![{drawn[name]['description']}]({name}.svg)"
