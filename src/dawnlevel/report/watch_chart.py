"""Pictures of watching: the daily figures as small multiples, and a day's course before against after.

Each is put together once a look, as Altair takes a third of a second for it, and then filled with rows.
"""

import json
from collections.abc import Iterable, Iterator
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import Any

import altair as alt

from dawnlevel.desk.steadiness.watch_series import KINDS
from dawnlevel.desk.steadiness.watch_views import CourseView, OverlayView, SeriesView, WatchPageView
from dawnlevel.report.look import DENSE, FONT, Look, Spec

Rows = list[dict[str, Any]]

_LEAST = {
    "lights_on": 6.0, "gain": 2.0, "exchange": 0.1, "uptake": 2.0, "night": 0.4, "start": 1.0, "scatter": 1.0
}  # fmt: skip
"""Least height of each figure's strip, in its unit (judgement)."""

_BEGIN, _END, _STEP = "@begin", "@end", 987654
"""Where a template's scales take the ends of the picture, and its axis the days from label to label."""

_DAY_0 = datetime(2001, 1, 1)  # noqa: DTZ001 - the chart's clock has no zone; any day does


# --- daily figures ---


def figures_svg(view: WatchPageView, look: Look) -> str:
    """The daily figures under one another, as SVG."""
    import vl_convert  # noqa: PLC0415 - takes a moment to load

    days = [one.day for one in view.days]
    ends = (_noon(days[0] - timedelta(days=1)), _noon(days[-1] + timedelta(days=1)))
    template = _figures_template(look, is_dense=len(days) > DENSE)
    filled = filled_between(template, ends, (days[-1] - days[0]).days, look)
    filled["datasets"] = _figure_rows(view, days)
    filled["description"] = " ".join(one.in_words for one in view.series)
    drawn: str = vl_convert.vegalite_to_svg(filled)
    return drawn


def days_axis() -> alt.X:
    """The days, labelled at whole days; its ends and steps are filled in by `filled_between`."""
    steps = alt.TimeIntervalStep(interval="day", step=_STEP)
    labels = alt.Axis(
        format="%-d %b", tickCount=steps, labelOverlap=True, labelSeparation=12, grid=False, title=None
    )
    return alt.X("at:T", scale=alt.Scale(domain=[_BEGIN, _END], type="utc", nice=False), axis=labels)


def filled_between(template: str, ends: tuple[str, str], days: int, look: Look) -> Spec:
    """A template's specification between two moments `days` apart, with as many labels as the look holds."""
    step = max(1, -(-days // look.hours))
    text = template.replace(_BEGIN, ends[0]).replace(_END, ends[1]).replace(str(_STEP), str(step))
    spec: Spec = json.loads(text)
    return spec


def _noon(day: date) -> str:
    return f"{day}T12:00:00Z"


def _figure_rows(view: WatchPageView, days: list[date]) -> dict[str, Rows]:
    """Points, usual band and changes of every figure."""
    begins = [one.day for one in view.days if one.begins]
    rows: dict[str, Rows] = {"begins": [{"at": f"{day}T00:00:00Z"} for day in begins]}
    for one in view.series:
        rows[f"{one.key}_points"] = points = list(_points(one, days))
        rows[f"{one.key}_room"] = list(_room(points, _LEAST[one.key]))
        rows[f"{one.key}_usual"] = (
            []
            if one.usual_low is None
            else [
                {
                    "at": _noon(days[0] - timedelta(days=1)),
                    "to": _noon(days[-1] + timedelta(days=1)),
                    "low": one.usual_low,
                    "high": one.usual_high,
                }
            ]
        )
    return rows


def _room(points: Rows, least: float) -> Iterator[dict[str, Any]]:
    """Unseen ends that keep a steady figure from filling its strip with mere noise."""
    values = [point["value"] for point in points if point["value"] is not None]
    if values:
        middle = 0.5 * (min(values) + max(values))
        yield from ({"at": points[0]["at"], "value": middle + side * 0.5 * least} for side in (-1.0, 1.0))


def _points(one: SeriesView, days: list[date]) -> Iterator[dict[str, Any]]:
    """A row for every day of the span; where the log has none without a value, so that a line breaks."""
    errors = one.errors or (None,) * len(days)
    known = {day: row for day, *row in zip(days, one.values, errors, strict=True)}
    for ahead in range((days[-1] - days[0]).days + 1):
        day = days[0] + timedelta(days=ahead)
        value, error = known.get(day, (None, None))
        if value is None:
            yield {"at": _noon(day), "value": None}
        else:
            half = 1.645 * (error or 0.0)
            yield {"at": _noon(day), "value": value, "low": value - half, "high": value + half}


@lru_cache(maxsize=16)
def _figures_template(look: Look, *, is_dense: bool) -> str:
    """All figures without their rows, as JSON."""
    x = alt.X(
        "at:T",
        scale=alt.Scale(domain=[_BEGIN, _END], type="utc", nice=False),
        axis=alt.Axis(
            format="%-d %b",
            tickCount=look.hours,
            labelOverlap=True,
            labelSeparation=12,
            grid=False,
            title=None,
        ),
    )
    panels = [_panel(kind.key, _head(kind.title, kind.unit), x, look, is_dense=is_dense) for kind in KINDS]
    return json.dumps(stacked(panels, look).to_dict())


def _head(title: str, unit: str) -> str:
    return f"{title}, {unit}" if unit else title


def _panel(key: str, title: str, x: alt.X, look: Look, *, is_dense: bool) -> alt.LayerChart | alt.FacetChart:
    """One figure: its usual range, what changed, its points with 9 in 10."""
    y = alt.Y(
        "value:Q",
        title=None,
        scale=alt.Scale(zero=False, nice=True),
        axis=alt.Axis(tickCount=3, gridColor=look.grid, minExtent=2.6 * look.letters),
    )
    edge = y.copy()
    edge.shorthand = "low:Q"
    usual = (
        layer(f"{key}_usual")
        .mark_rect(color=look.band, opacity=0.3)
        .encode(x=x, x2="to:T", y=edge, y2="high:Q")
    )
    begins = layer("begins").mark_rule(color=look.ink, strokeWidth=2, strokeDash=[5, 3]).encode(x=x)
    points = layer(f"{key}_points")
    if is_dense:
        marks = [points.mark_line(color=look.accent, strokeWidth=1.6).encode(x=x, y=y)]
    else:
        marks = [
            points.mark_rule(color=look.accent, strokeWidth=1.2, opacity=0.7).encode(
                x=x, y=edge, y2="high:Q"
            ),
            points.mark_circle(color=look.accent, size=28, opacity=1).encode(x=x, y=y),
        ]
    room = layer(f"{key}_room").mark_point(opacity=0).encode(x=x, y=y)
    return small_multiple((usual, room, begins, *marks), title, look)


def small_multiple(marks: Iterable[alt.Chart], title: str, look: Look) -> alt.LayerChart | alt.FacetChart:
    """One strip of small multiples, its title above it."""
    made: alt.LayerChart | alt.FacetChart = alt.layer(*marks).properties(
        width=look.width,
        height=look.strip,
        title=alt.TitleParams(title, anchor="start", frame="group", fontSize=look.letters, offset=6),
    )
    return made


def stacked(panels: Iterable[alt.LayerChart | alt.FacetChart], look: Look) -> alt.VConcatChart:
    """Small multiples under one another."""
    return _styled(alt.vconcat(*panels, spacing=14), look)


# --- before and after ---


def overlay_svg(view: OverlayView, look: Look) -> str:
    """The day's course before against after, as SVG."""
    import vl_convert  # noqa: PLC0415 - takes a moment to load

    spec = _overlay_template(look, view.quantity)
    spec = spec.replace(_BEGIN, _clock(view.hours[0] - 0.25)).replace(_END, _clock(view.hours[-1] + 0.25))
    filled: Spec = json.loads(spec)
    filled["datasets"] = _overlay_rows(view, look)
    filled["description"] = view.in_words
    drawn: str = vl_convert.vegalite_to_svg(filled)
    return drawn


def _clock(hour: float) -> str:
    return (_DAY_0 + timedelta(hours=hour)).isoformat(timespec="seconds") + "Z"


def _overlay_rows(view: OverlayView, look: Look) -> dict[str, Rows]:
    begin, end = _clock(view.hours[0] - 0.25), _clock(view.hours[-1] + 0.25)
    band = view.band
    lights = _clock(view.light.begin_h)
    return {
        "before": [] if view.before is None else list(_course(view.hours, view.before)),
        "after": list(_course(view.hours, view.after)),
        "target": []
        if band is None
        else [{"at": begin, "to": end, "low": band.low_mg_l, "high": band.high_mg_l}],
        "target_words": []
        if band is None
        else [
            {"at": end, "value": band.high_mg_l, "text": f"band {band.low_mg_l:.0f} to {band.high_mg_l:.0f}"}
        ],
        "lights_on": [{"at": lights, "text": "lights on"}],
        "strips": [
            {"what": what, "at": _clock(span.begin_h), "to": _clock(span.end_h), "color": color}
            for what, span, color in (
                ("gas timer", view.gas, look.accent),
                ("lights on", view.light, look.band),
            )
        ],
    }


def _course(hours: tuple[float, ...], course: CourseView) -> Iterator[dict[str, Any]]:
    for hour, middle, low, high in zip(hours, course.median, course.low_90, course.high_90, strict=True):
        yield {"at": _clock(hour), "value": middle, "low": low, "high": high}


@lru_cache(maxsize=16)
def _overlay_template(look: Look, quantity: str) -> str:
    """The picture without its rows, as JSON."""
    scale = alt.Scale(domain=[_BEGIN, _END], type="utc", nice=False)
    hours = alt.Axis(
        format="%H:%M", tickCount=look.hours, labelOverlap=True, labelSeparation=12, grid=False, title=None
    )
    x = alt.X("at:T", scale=scale, axis=None)
    y = alt.Y(
        "value:Q",
        title=None,
        scale=alt.Scale(zero=quantity == "CO2", nice=True),
    )
    edge = y.copy()
    edge.shorthand = "low:Q"
    layers = [
        layer("target").mark_rect(color=look.band, opacity=0.3).encode(x=x, x2="to:T", y=edge, y2="high:Q"),
        *_lines("before", x, y, edge, look.ink, dash=[7, 4]),
        *_lines("after", x, y, edge, look.accent, dash=[1, 0]),
        layer("lights_on").mark_rule(color=look.ink, strokeWidth=1.5, strokeDash=[3, 4]).encode(x=x),
        layer("target_words")
        .mark_text(color=look.ink, align="right", dx=-4, dy=-9, fontSize=look.letters, font=FONT)
        .encode(x=x, y=y, text="text:N"),
    ]
    above = alt.layer(*layers).properties(width=look.width, height=look.height)
    rows = alt.Y(
        "what:N",
        title=None,
        axis=alt.Axis(minExtent=6.2 * look.letters),
        sort=None,
        scale=alt.Scale(domain=["gas timer", "lights on"]),
    )
    strips = (
        layer("strips")
        .mark_bar(height=14, cornerRadius=3)
        .encode(
            x=alt.X("at:T", scale=scale, axis=hours),
            x2="to:T",
            y=rows,
            color=alt.Color("color:N", scale=None),
        )
        .properties(width=look.width, height=look.strip)
    )
    return json.dumps(_styled(alt.vconcat(above, strips, spacing=8), look).to_dict())


def _lines(name: str, x: alt.X, y: alt.Y, edge: alt.Y, color: str, dash: list[int]) -> list[alt.Chart]:
    """A side's range of 9 days in 10 and its middle."""
    area = layer(name).mark_area(color=color, opacity=0.2, line=False).encode(x=x, y=edge, y2="high:Q")
    line = layer(name).mark_line(color=color, strokeWidth=2.5, strokeDash=dash).encode(x=x, y=y)
    return [area, line]


def layer(name: str) -> alt.Chart:
    """A layer of the rows called `name`."""
    made: alt.Chart = alt.Chart(alt.NamedData(name))
    return made


def _styled(chart: alt.VConcatChart, look: Look) -> alt.VConcatChart:
    """Large calm letters in the look's colours."""
    made: alt.VConcatChart = (
        chart.configure(
            background=look.paper,
            padding={
                "left": look.padding + 8,
                "top": look.padding,
                "right": look.padding,
                "bottom": look.padding,
            },
            font=FONT,
        )
        .configure_view(stroke=None)
        .configure_axis(
            labelFontSize=look.letters,
            titleFontSize=look.letters,
            labelColor=look.ink,
            titleColor=look.ink,
            domainColor=look.quiet,
            tickColor=look.quiet,
            gridColor=look.grid,
            titleFontWeight="normal",
        )
        .configure_title(color=look.ink, fontWeight="normal", font=FONT)
    )
    return made
