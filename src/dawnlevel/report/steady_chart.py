"""A keeper's own figures as small multiples: every reading, what is usual, and where something changed."""

import json
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Any

import altair as alt

from dawnlevel.desk.steadiness.steadiness_views import ChartView, SteadinessView
from dawnlevel.report.chart_rows import wall
from dawnlevel.report.look import Look
from dawnlevel.report.watch_chart import days_axis, filled_between, layer, small_multiple, stacked

Rows = list[dict[str, Any]]
_LEAST = {"level": 0.3, "rest": 0.3, "cup": 0.3, "kh": 2.0, "cell": 0.5}
"""Least height of each figure's strip, in its unit (judgement)."""


def readings_svg(view: SteadinessView, look: Look) -> str:
    """Every figure of which there is a reading, under one another, as SVG."""
    import vl_convert  # noqa: PLC0415 - takes a moment to load

    moments = [point.at for one in view.charts for point in one.points]
    begin, end = min(moments) - timedelta(days=1), max(moments) + timedelta(days=1)
    template = _template(look, tuple((one.name, _title(one)) for one in view.charts))
    filled = filled_between(template, (wall(begin), wall(end)), (end - begin).days, look)
    filled["datasets"] = _rows(view, begin, end)
    filled["description"] = view.answer
    drawn: str = vl_convert.vegalite_to_svg(filled)
    return drawn


def _title(one: ChartView) -> str:
    """The figure's name without its fine print, and its unit where the name does not say it."""
    name = one.label.partition(",")[0]
    return name if "pH" in one.unit else f"{name}, {one.unit}"


def _rows(view: SteadinessView, begin: datetime, end: datetime) -> dict[str, Rows]:
    rows: dict[str, Rows] = {}
    for one in view.charts:
        values = [point.value for point in one.points]
        middle, least = 0.5 * (min(values) + max(values)), 0.5 * _LEAST[one.name]
        rows[f"{one.name}_points"] = [{"at": wall(point.at), "value": point.value} for point in one.points]
        rows[f"{one.name}_room"] = [{"at": wall(begin), "value": middle + side * least} for side in (-1, 1)]
        rows[f"{one.name}_usual"] = _usual(one, end)
        rows[f"{one.name}_begins"] = [
            {"at": wall(change.since)} for change in view.changes if change.figure == one.name
        ]
    return rows


def _usual(one: ChartView, end: datetime) -> Rows:
    if one.usual is None or one.since is None or one.state == "too_few":
        return []
    return [{"at": wall(one.since), "to": wall(end), "value": one.usual}]


@lru_cache(maxsize=16)
def _template(look: Look, named: tuple[tuple[str, str], ...]) -> str:
    """The figures without their rows, as JSON."""
    x = days_axis()
    y = alt.Y(
        "value:Q",
        title=None,
        scale=alt.Scale(zero=False, nice=True),
        axis=alt.Axis(tickCount=3, gridColor=look.grid, minExtent=2.6 * look.letters),
    )
    panels = []
    for name, title in named:
        marks = (
            layer(f"{name}_usual").mark_rule(color=look.band, strokeWidth=4).encode(x=x, x2="to:T", y=y),
            layer(f"{name}_room").mark_point(opacity=0).encode(x=x, y=y),
            layer(f"{name}_begins").mark_rule(color=look.ink, strokeWidth=2, strokeDash=[5, 3]).encode(x=x),
            layer(f"{name}_points").mark_line(color=look.accent, strokeWidth=1, opacity=0.6).encode(x=x, y=y),
            layer(f"{name}_points").mark_circle(color=look.accent, size=40, opacity=1).encode(x=x, y=y),
        )
        panels.append(small_multiple(marks, title, look))
    return json.dumps(stacked(panels, look).to_dict())
