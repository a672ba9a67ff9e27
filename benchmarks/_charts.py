"""The report's charts: dialled in by day, the quiet days, coverage, and what each instrument is worth."""

from collections.abc import Callable, Mapping
from typing import Any

import altair as alt

from benchmarks._tables import POLICY_WORDS, QUANTITY_WORDS
from dawnlevel.report.look import ACCENT, CEILING, FONT, INK, PAPER, QUIET

WIDTH, HEIGHT = 640, 300
OCHRE = "#b7791f"

Rows = list[dict[str, Any]]
Spec = dict[str, Any]

POLICY_SCALE = alt.Scale(domain=list(POLICY_WORDS.values()), range=[ACCENT, CEILING, QUIET])
POLICY_SHAPE = alt.Scale(domain=list(POLICY_WORDS.values()), range=["circle", "square", "triangle-up"])


def charts(figures: Mapping[str, Any]) -> dict[str, Spec]:
    """All charts that the figures allow, by file name without its ending."""
    makers: dict[str, Callable[[], Spec | None]] = {
        "dialled-in-by-day": lambda: _by_day(figures["runs"].get("tuning")),
        "quiet-days": lambda: _quiet(figures["runs"].get("tuning")),
        "coverage": lambda: _coverage(figures["coverage"].get("tuning")),
        "ablations": lambda: _ablations(figures["ablations"]),
    }
    made = {name: make() for name, make in makers.items()}
    return {name: spec for name, spec in made.items() if spec is not None}


def _by_day(run: Mapping[str, Any] | None) -> Spec | None:
    """Share of tanks dialled in by day, for each policy, with Wilson intervals."""
    if run is None:
        return None
    rows: Rows = [
        {"policy": POLICY_WORDS.get(name, name), "day": day, **_percent(figure)}
        for name, found in run["policies"].items()
        for day, figure in enumerate(found["dialled_in_by_day"], start=1)
    ]
    x = alt.X("day:O", title="day", axis=alt.Axis(labelAngle=0))
    y = alt.Y("value:Q", title="tanks dialled in, %", scale=alt.Scale(domain=[0, 100]))
    color = alt.Color("policy:N", scale=POLICY_SCALE, title=None, legend=alt.Legend(orient="bottom"))
    base = alt.Chart(alt.InlineData(rows))
    shape = alt.Shape("policy:N", scale=POLICY_SHAPE, title=None, legend=alt.Legend(orient="bottom"))
    apart = alt.XOffset("policy:N", scale=alt.Scale(domain=list(POLICY_WORDS.values())))
    layers = alt.layer(
        base.mark_rule(opacity=0.6).encode(x=x, xOffset=apart, y=_at(y, "low:Q"), y2="high:Q", color=color),
        base.mark_line(strokeWidth=1.5).encode(x=x, xOffset=apart, y=y, color=color),
        base.mark_point(size=60, filled=True, opacity=1).encode(
            x=x, xOffset=apart, y=y, color=color, shape=shape
        ),
    )
    words = f"{run['tanks']} tanks, seeds {run['seed']} on, target {run['target']}; lines: 95 % by Wilson"
    return _look(layers, "Tanks dialled in, day by day", words)


def _quiet(run: Mapping[str, Any] | None) -> Spec | None:
    """The quiet days: dialled in, readings, needle changes, a panel each."""
    if run is None or not any(found["quiet"]["dialled_in"]["n"] for found in run["policies"].values()):
        return None
    panels = (
        ("dialled_in", "dialled in, % of tank-days", 100.0),
        ("readings", "readings a day", 1.0),
        ("rate_changes", "needle changes a day", 1.0),
    )
    parts = []
    for member, title, factor in panels:
        rows: Rows = [
            {"policy": POLICY_WORDS.get(name, name), **_scaled(found["quiet"][member], factor)}
            for name, found in run["policies"].items()
        ]
        x = alt.X("value:Q", title=title, scale=alt.Scale(zero=True), axis=alt.Axis(tickCount=8))
        y = alt.Y("policy:N", title=None, sort=None)
        parts.append(_bars(rows, x, y).properties(width=WIDTH, height=90))
    words = f"{run['tanks']} tanks, days 5 to {run['days']}; lines: 95 % by resampling tanks"
    return _look(alt.vconcat(*parts, spacing=14), "Set it and leave it: the quiet days", words, sized=True)


def _coverage(held: Mapping[str, Any] | None) -> Spec | None:
    """Share of truths below the stated bound, against the bound's nominal level."""
    if held is None or not held["ph"]["held_90"]["n"]:
        return None
    rows: Rows = [
        {"of": QUANTITY_WORDS[name], "nominal": 100.0 * row["nominal"], **_percent(row)}
        for name, found in held.items()
        if name != "quantity"
        for row in found["below"]
    ]
    x = alt.X("nominal:Q", title="nominal level of the bound, %", scale=alt.Scale(domain=[0, 100]))
    y = alt.Y("value:Q", title="truths below it, %", scale=alt.Scale(domain=[0, 100]))
    both, below = [QUANTITY_WORDS["ph"], QUANTITY_WORDS["co2_mg_l"]], alt.Legend(orient="bottom")
    color = alt.Color("of:N", scale=alt.Scale(domain=both, range=[ACCENT, OCHRE]), title=None, legend=below)
    marks = alt.Scale(domain=both, range=["circle", "square"])
    shape = alt.Shape("of:N", scale=marks, title=None, legend=below)
    ideal: Rows = [{"nominal": 0, "value": 0}, {"nominal": 100, "value": 100}]
    base = alt.Chart(alt.InlineData(rows))
    layers = alt.layer(
        alt.Chart(alt.InlineData(ideal)).mark_line(color=QUIET, strokeDash=[4, 4]).encode(x=x, y=y),
        base.mark_rule().encode(x=x, y=_at(y, "low:Q"), y2="high:Q", color=color),
        base.mark_line().encode(x=x, y=y, color=color),
        base.mark_point(filled=True, size=60, opacity=1).encode(x=x, y=y, color=color, shape=shape),
    )
    words = f"{held['ph']['held_90']['n']} forecasts made at the last reading; dashed: an honest forecast"
    return _look(layers, "Forecasts of lights-on against what came", words)


def _ablations(found: Mapping[str, Any]) -> Spec | None:
    """What each thing left out costs: bars of the change in days dialled in, a panel for each target."""
    parts = []
    for target, one in found.items():
        rows: Rows = [
            {"without": row["meaning"], **_percent(row["dialled_in_change"])}
            for row in one["rows"]
            if row["left_out"] and row["dialled_in_change"]["value"] is not None
        ]
        if rows:
            title = f"change of days dialled in, percentage points; target {target}"
            ends = alt.Scale(domain=_around_nought(rows), nice=True)
            x = alt.X("value:Q", title=title, scale=ends, axis=alt.Axis(tickCount=8))
            y = alt.Y("without:N", title=None, sort=None, axis=alt.Axis(labelLimit=330))
            parts.append(_bars(rows, x, y).properties(width=WIDTH - 180, height=150))
    if not parts:
        return None
    words = "the same tanks with and without; lines: 95 % by resampling tanks"
    return _look(alt.vconcat(*parts, spacing=18), "What it costs to go without", words, sized=True)


def _around_nought(rows: Rows) -> list[float]:
    """Ends of an axis that has nought and every interval on it, and some width in any case."""
    return [min(*(row["low"] for row in rows), -5.0), max(*(row["high"] for row in rows), 5.0)]


def _bars(rows: Rows, x: alt.X, y: alt.Y) -> Any:  # noqa: ANN401 - altair's layers share no type
    """Bars with their intervals as lines."""
    base = alt.Chart(alt.InlineData(rows))
    return alt.layer(
        base.mark_bar(color=ACCENT, opacity=0.55, height={"band": 0.6}).encode(x=x, y=y),
        base.mark_rule(color=INK, strokeWidth=2).encode(x=_at(x, "low:Q"), x2="high:Q", y=y),
    )


def _at(channel: Any, shorthand: str) -> Any:  # noqa: ANN401 - altair's channels share no type
    """The same channel for another field."""
    other = channel.copy()
    other.shorthand = shorthand
    return other


def _percent(figure: Mapping[str, Any]) -> dict[str, float | None]:
    return _scaled(figure, 100.0)


def _scaled(figure: Mapping[str, Any], factor: float) -> dict[str, float | None]:
    return {key: None if figure[key] is None else factor * figure[key] for key in ("value", "low", "high")}


def _look(chart: Any, title: str, words: str, *, sized: bool = False) -> Spec:  # noqa: ANN401 - any altair chart
    """Calm letters on light paper; said in words too."""
    whole = chart if sized else chart.properties(width=WIDTH, height=HEIGHT)
    made = (
        whole.properties(title=alt.TitleParams(title, subtitle=words), description=f"{title}. {words}.")
        .configure(background=PAPER, padding=20, font=FONT)
        .configure_view(stroke=None)
        .configure_axis(
            labelFontSize=13, titleFontSize=13, labelColor=INK, titleColor=INK, gridColor="#e3e6e1",
            domainColor=QUIET, tickColor=QUIET, titleFontWeight="normal",
        )
        .configure_legend(labelFontSize=13, labelColor=INK)
        .configure_title(anchor="start", fontSize=18, color=INK, subtitleFontSize=13, subtitleColor=QUIET)
    )  # fmt: skip
    spec: Spec = made.to_dict()
    return spec
