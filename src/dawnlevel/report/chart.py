"""The day as a chart: one Vega-Lite specification from a picture, drawn as PNG or SVG without a network.

Everything is told by words and shapes besides colour: each line and band carries its name.
"""

import json
from collections.abc import Iterator
from datetime import date, datetime
from functools import lru_cache
from pathlib import Path
from typing import Literal

import altair as alt

from dawnlevel.desk.views import PictureView, PlanView, TodayView
from dawnlevel.errors import BadInputError
from dawnlevel.report.chart_rows import Shape, shape_of
from dawnlevel.report.day_fill import END, START, TOP, filled
from dawnlevel.report.look import FONT, ON_PAPER, Look, Spec

SCALE = 2.0


def picture_svg(picture: PictureView, title: str, lights_on: datetime, look: Look) -> str:
    """The day's picture as SVG, drawn as `look` says; the page around it carries heading and caption."""
    import vl_convert  # noqa: PLC0415 - takes a moment to load

    drawn: str = vl_convert.vegalite_to_svg(_spec(picture, title, "", lights_on, look))
    return drawn


def today_chart(view: TodayView) -> Spec:
    """The chart of the day that runs, as a Vega-Lite specification."""
    words = f"{view.tank}, {_day(view.now.at.date())}"
    return _spec(view.picture, words, "as it stands, and ahead", view.lights_on)


def plan_chart(view: PlanView) -> Spec:
    """The chart of the next gas day as planned, as a Vega-Lite specification."""
    picture = view.picture
    return _spec(picture, f"{view.tank}, plan for {_day(view.day)}", "behind, and as planned", view.lights_on)


def write_chart(spec: Spec, path: Path) -> None:
    """Write the chart to `path`, as PNG or SVG by its ending.

    Raises BadInputError for another ending, or where the file cannot be written.
    """
    import vl_convert  # noqa: PLC0415 - takes a moment to load

    ending = path.suffix.lower()
    if ending == ".png":
        content: bytes = vl_convert.vegalite_to_png(spec, scale=SCALE)
    elif ending == ".svg":
        content = vl_convert.vegalite_to_svg(spec).encode()
    else:
        raise BadInputError(
            f"{path.name!r} ends neither in .png nor in .svg.", where="chart", cure="Name it day.png."
        )
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    except OSError as error:
        raise BadInputError(
            f"The chart cannot be written ({error.strerror}).",
            where=str(path),
            cure="Check the folder and your rights.",
        ) from error


def _day(day: date) -> str:
    return f"{day:%A} {day.day} {day:%B %Y}"


def _spec(
    picture: PictureView, title: str, subtitle: str, lights_on: datetime, look: Look = ON_PAPER
) -> Spec:
    """The whole chart."""
    template = day_template(shape_of(picture, lights_on), look)
    return filled(template, picture, title, subtitle, lights_on, look)


@lru_cache(maxsize=64)
def day_template(shape: Shape, look: Look) -> str:
    """A chart without its rows, as JSON: levels above, gas and light under them, one clock for both.

    Altair takes a third of a second to put a chart together (measured), so each shape is put together once.
    """
    scale = alt.Scale(domain=[START, END], type="utc", nice=False)
    hours = alt.Axis(format="%H:%M", tickCount=look.hours, labelOverlap=True, grid=False, title=None)
    levels = alt.layer(*_levels(shape, scale, look)).properties(width=look.width, height=look.height)
    x = alt.X("opens:T", scale=scale, axis=hours)
    strips = _strips(x).properties(width=look.width, height=look.strip)
    return json.dumps(_drawn_as(alt.vconcat(levels, strips, spacing=8), look).to_dict())


def _layer(name: str) -> alt.Chart:
    """A layer of the rows called `name`."""
    made: alt.Chart = alt.Chart(alt.NamedData(name))
    return made


def _levels(shape: Shape, scale: alt.Scale, look: Look) -> Iterator[alt.Chart]:
    """Target, bands, median, readings, ceiling and the two moments that count, from back to front."""
    x = alt.X("at:T", scale=scale, axis=None)
    y = alt.Y("level:Q", title="CO2, mg/L", scale=alt.Scale(domain=[0, TOP], nice=False, clamp=True))
    yield (_layer("target").mark_rect(color=look.band, opacity=0.35).encode(x=x, x2="to:T", y=y, y2="high:Q"))
    for name, opacity in (("nine_in_ten", 0.16), ("even_odds", 0.30)):
        area = _layer(name).mark_area(color=look.accent, opacity=opacity, line=False)
        yield area.encode(x=x, y=y, y2="high:Q")
    yield _layer("median").mark_line(color=look.accent, strokeWidth=3).encode(x=x, y=y)
    if shape.has_readings:
        yield from _readings(x, y, look)
    yield from _ceiling(shape, x, y, look)
    yield _words("target_words", look, look.ink, dx=-3, dy=0, at_right=True).encode(x=x, y=y, text="text:N")
    is_high = shape.now_is_higher and shape.shows_lights_on
    yield from _moment("now", x, look, is_high=is_high, at_left=shape.now_at_left)
    if shape.shows_lights_on:
        yield from _moment(
            "lights_on", x, look, is_high=not is_high, at_left=shape.lights_on_at_left, dashed=True
        )


def _readings(x: alt.X, y: alt.Y, look: Look) -> Iterator[alt.Chart]:
    """The readings as rings on their 9 in 10."""
    bars = y.copy()
    bars.shorthand = "low:Q"
    yield _layer("readings").mark_rule(color=look.ink, strokeWidth=1.5).encode(x=x, y=bars, y2="high:Q")
    yield (
        _layer("readings")
        .mark_point(
            color=look.ink, fill=look.paper, filled=True, stroke=look.ink, strokeWidth=2, size=70, opacity=1
        )
        .encode(x=x, y=y)
    )


def _ceiling(shape: Shape, x: alt.X, y: alt.Y, look: Look) -> Iterator[alt.Chart]:
    """The livestock ceiling as a line with its words; where it lies above the picture, the words alone."""
    if shape.shows_ceiling:
        line = _layer("ceiling").mark_rule(color=look.ceiling, strokeWidth=2.5, strokeDash=[9, 4])
        yield line.encode(y=y)
    words = _words("ceiling", look, look.ceiling, dx=6, dy=-9 if shape.shows_ceiling else 12)
    yield words.encode(x=x, y=y, text="text:N")


def _moment(
    name: str, x: alt.X, look: Look, *, is_high: bool, at_left: bool, dashed: bool = False
) -> Iterator[alt.Chart]:
    """A moment that counts, as an upright rule with its words above the picture, clear of every curve."""
    line = round(1.3 * look.letters)
    top = -2 * line if is_high else -line
    rule = _layer(name).mark_rule(color=look.ink, strokeWidth=1.5, strokeDash=[3, 4] if dashed else [1, 0])
    yield rule.encode(x=x, y=alt.value(top), y2=alt.value(look.height))
    words = _words(name, look, look.ink, dx=-5 if at_left else 5, dy=0, at_right=at_left)
    yield words.encode(x=x, y=alt.value(top + line // 2), text="text:N")


def _words(name: str, look: Look, color: str, *, dx: int, dy: int, at_right: bool = False) -> alt.Chart:
    """Words at a place; `at_right` lets them end there."""
    align: Literal["left", "right"] = "right" if at_right else "left"
    made: alt.Chart = _layer(name).mark_text(
        color=color, align=align, dx=dx, dy=dy, fontSize=look.letters, font=FONT
    )
    return made


def _strips(x: alt.X) -> alt.Chart:
    """Gas and light as bars, a row each, named at the left."""
    y = alt.Y(
        "what:N",
        title=None,
        sort=["gas open", "lights on"],
        scale=alt.Scale(domain=["gas open", "lights on"]),
    )
    made: alt.Chart = (
        _layer("strips")
        .mark_bar(height=14, cornerRadius=3)
        .encode(x=x, x2="closes:T", y=y, color=alt.Color("color:N", scale=None))
    )
    return made


def _padding(look: Look) -> dict[str, int]:
    """Room around [px]; more on the left, where another font's labels may be wider than the one measured."""
    return {side: look.padding + (8 if side == "left" else 0) for side in ("left", "top", "right", "bottom")}


def _drawn_as(chart: alt.VConcatChart, look: Look) -> alt.VConcatChart:
    """Large calm letters on light paper, few lines."""
    made: alt.VConcatChart = (
        chart.configure(background=look.paper, padding=_padding(look), font=FONT)
        .configure_view(stroke=None)
        .configure_axis(
            labelFontSize=look.letters + 1,
            titleFontSize=look.letters + 1,
            labelColor=look.ink,
            titleColor=look.ink,
            gridColor=look.grid,
            domainColor=look.quiet,
            tickColor=look.quiet,
            titleFontWeight="normal",
        )
        .configure_title(
            anchor="start",
            fontSize=24,
            color=look.ink,
            subtitleFontSize=look.letters,
            subtitleColor=look.quiet,
            offset=14,
            subtitlePadding=6,
        )
    )
    return made
