"""The day as a chart: one Vega-Lite specification from a picture, drawn as PNG or SVG without a network.

Everything is told by words and shapes besides colour: each line and band carries its name.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any, Literal

import altair as alt

from dawnlevel.desk.views import CurveView, PictureView, PlanView, SpanView, TodayView
from dawnlevel.errors import BadInputError

ACCENT = "#1f6f78"
INK = "#22302f"
QUIET = "#5c6967"
BAND = "#e9c46a"
CEILING = "#9b2226"
PAPER = "#fdfcf9"
"""Petrol on paper, ochre and dark red: told apart by lightness too, so in any kind of colour vision."""

FONT = "Liberation Sans, Arial, Helvetica, sans-serif"
WIDTH, HEIGHT, STRIP = 900, 380, 46
SCALE = 2.0

Spec = dict[str, Any]
Rows = list[dict[str, object]]


@dataclass(frozen=True, slots=True)
class Look:
    """How a chart is drawn: size of the plot and its strips [px], letters [px], colours, hours on the axis.

    A colour is anything SVG takes. Title and caption are left out where the page around it says them.
    """

    width: int = WIDTH
    height: int = HEIGHT
    strip: int = STRIP
    letters: int = 15
    hours: int = 12
    padding: int = 24
    is_titled: bool = True
    accent: str = ACCENT
    ink: str = INK
    quiet: str = QUIET
    band: str = BAND
    ceiling: str = CEILING
    paper: str = PAPER
    grid: str = "#e3e6e1"


ON_PAPER = Look()


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


def _wall(moment: datetime) -> str:
    """Wall-clock time as if it were UTC, which is the clock the chart's axis is set to.

    The hour that comes twice when summer time ends is drawn over itself.
    """
    return moment.replace(tzinfo=None).isoformat(timespec="seconds") + "Z"


def _spec(
    picture: PictureView, title: str, subtitle: str, lights_on: datetime, look: Look = ON_PAPER
) -> Spec:
    """The whole chart: levels above, gas and light as strips under them, one clock for both."""
    ends = [_wall(picture.curve.at[0]), _wall(picture.curve.at[-1])]
    scale = alt.Scale(domain=ends, type="utc", nice=False)
    hours = alt.Axis(format="%H:%M", tickCount=look.hours, labelOverlap=True, grid=False, title=None)
    levels = alt.layer(*_levels(picture, scale, lights_on, look)).properties(
        width=look.width, height=look.height
    )
    x = alt.X("opens:T", scale=scale, axis=hours)
    strips = _strips(picture, x, look).properties(width=look.width, height=look.strip)
    whole = alt.vconcat(levels, strips, spacing=8).properties(description=_said(picture, title))
    if look.is_titled:
        whole = whole.properties(title=alt.TitleParams(title, subtitle=_caption(subtitle)))
    spec: Spec = _drawn_as(whole, look).to_dict()
    return spec


def _said(picture: PictureView, title: str) -> str:
    """The chart in one sentence, for those who do not see it."""
    ahead = [
        level for at, level in zip(picture.curve.at, picture.curve.median, strict=True) if at >= picture.now
    ]
    low, high = picture.band_low_mg_l, picture.band_high_mg_l
    return (
        f"{title}: CO2 is about {ahead[0]:.0f} mg/L now, between {min(ahead):.0f} and {max(ahead):.0f} in "
        f"the hours ahead; the target is {low:.0f} to {high:.0f}, the ceiling {picture.ceiling_mg_l:g}."
    )


def _caption(subtitle: str) -> list[str]:
    return [
        f"Dissolved CO2 in mg/L, {subtitle}.",
        "Line: median. Dark band: even odds. Light band: 9 in 10. Points: pH readings as CO2, with 9 in 10.",
    ]


def _levels(picture: PictureView, scale: alt.Scale, lights_on: datetime, look: Look) -> Iterator[alt.Chart]:
    """Target, bands, median, readings, ceiling and the two moments that count, from back to front."""
    top = _top(picture)
    x = alt.X("at:T", scale=scale, axis=None)
    y = alt.Y("level:Q", title="CO2, mg/L", scale=alt.Scale(domain=[0, top], nice=False, clamp=True))
    start, end = picture.curve.at[0], picture.curve.at[-1]
    low, high = picture.band_low_mg_l, picture.band_high_mg_l
    yield (
        alt.Chart(_data([{"at": _wall(start), "to": _wall(end), "level": low, "high": high}]))
        .mark_rect(color=look.band, opacity=0.35)
        .encode(x=x, x2="to:T", y=y, y2="high:Q")
    )
    yield from _bands(picture.curve, x, y, look)
    yield from _points(picture, x, y, look)
    yield from _ceiling(picture, x, y, top, look)
    target = f"target {low:.0f} to {high:.0f}"
    yield _words(
        [{"at": _wall(end), "level": high, "text": target}], x, y, look, dx=-4, dy=-10, at_right=True
    )
    is_near = timedelta(0) <= lights_on - picture.now < 0.15 * (end - start)
    yield from _moment(picture.now, f"now {picture.now:%H:%M}", x, look, dashed=False, at_left=is_near)
    if start < lights_on < end and lights_on != picture.now:
        yield from _moment(lights_on, f"lights on {lights_on:%H:%M}", x, look, dashed=True, at_left=False)


def _top(picture: PictureView) -> float:
    """Upper end of the axis [mg/L]: all of the 9 in 10, and the ceiling where it is not far above."""
    needed = 1.12 * max(
        *picture.curve.high_90, picture.band_high_mg_l, *(point.high_90 for point in picture.readings)
    )
    return max(needed, 1.08 * picture.ceiling_mg_l) if picture.ceiling_mg_l < 1.8 * needed else needed


def _data(rows: Rows) -> alt.InlineData:
    return alt.InlineData(rows)


def _bands(curve: CurveView, x: alt.X, y: alt.Y, look: Look) -> Iterator[alt.Chart]:
    for lows, highs, opacity in ((curve.low_90, curve.high_90, 0.16), (curve.low_50, curve.high_50, 0.30)):
        rows: Rows = [
            {"at": _wall(at), "level": low, "high": high}
            for at, low, high in zip(curve.at, lows, highs, strict=True)
        ]
        yield (
            alt.Chart(_data(rows))
            .mark_area(color=look.accent, opacity=opacity, line=False)
            .encode(x=x, y=y, y2="high:Q")
        )
    middle: Rows = [
        {"at": _wall(at), "level": level} for at, level in zip(curve.at, curve.median, strict=True)
    ]
    yield alt.Chart(_data(middle)).mark_line(color=look.accent, strokeWidth=3).encode(x=x, y=y)


def _points(picture: PictureView, x: alt.X, y: alt.Y, look: Look) -> Iterator[alt.Chart]:
    rows: Rows = [
        {"at": _wall(point.at), "level": point.co2_mg_l, "low": point.low_90, "high": point.high_90}
        for point in picture.readings
    ]
    if not rows:
        return
    bars = y.copy()
    bars.shorthand = "low:Q"
    yield alt.Chart(_data(rows)).mark_rule(color=look.ink, strokeWidth=1.5).encode(x=x, y=bars, y2="high:Q")
    yield (
        alt.Chart(_data(rows))
        .mark_point(
            color=look.ink, fill=look.paper, filled=True, stroke=look.ink, strokeWidth=2, size=70, opacity=1
        )
        .encode(x=x, y=y)
    )


def _ceiling(picture: PictureView, x: alt.X, y: alt.Y, top: float, look: Look) -> Iterator[alt.Chart]:
    """The livestock ceiling as a line; where it lies above the picture, the words say so."""
    level, start = picture.ceiling_mg_l, _wall(picture.curve.at[0])
    if level > top:
        text = f"the ceiling, {level:g} mg/L, lies above this picture"
        yield _words([{"at": start, "level": top, "text": text}], x, y, look, dx=6, dy=12, color=look.ceiling)
        return
    yield (
        alt.Chart(_data([{"level": level}]))
        .mark_rule(color=look.ceiling, strokeWidth=2.5, strokeDash=[9, 4])
        .encode(y=y)
    )
    yield _words(
        [{"at": start, "level": level, "text": f"ceiling {level:g}"}],
        x,
        y,
        look,
        dx=6,
        dy=-9,
        color=look.ceiling,
    )


def _moment(
    at: datetime, text: str, x: alt.X, look: Look, *, dashed: bool, at_left: bool
) -> Iterator[alt.Chart]:
    """A moment that counts, as an upright rule with its words at the foot, on the side that is free."""
    align: Literal["left", "right"] = "right" if at_left else "left"
    rows: Rows = [{"at": _wall(at), "text": text}]
    dash = [3, 4] if dashed else [1, 0]
    yield alt.Chart(_data(rows)).mark_rule(color=look.ink, strokeWidth=1.5, strokeDash=dash).encode(x=x)
    yield (
        alt.Chart(_data(rows))
        .mark_text(color=look.ink, align=align, dx=-6 if at_left else 6, fontSize=look.letters, font=FONT)
        .encode(x=x, y=alt.value(look.height - (34 if dashed else 14)), text="text:N")
    )


def _words(
    rows: Rows,
    x: alt.X,
    y: alt.Y,
    look: Look,
    *,
    dx: int,
    dy: int,
    color: str = "",
    at_right: bool = False,
) -> alt.Chart:
    align: Literal["left", "right"] = "right" if at_right else "left"
    made: alt.Chart = (
        alt.Chart(_data(rows))
        .mark_text(color=color or look.ink, align=align, dx=dx, dy=dy, fontSize=look.letters, font=FONT)
        .encode(x=x, y=y, text="text:N")
    )
    return made


def _strips(picture: PictureView, x: alt.X, look: Look) -> alt.Chart:
    """Gas and light as bars, a row each, named at the left."""
    rows = [*_bars("gas open", picture.gas, look.accent), *_bars("lights on", picture.light, look.band)]
    y = alt.Y(
        "what:N",
        title=None,
        sort=["gas open", "lights on"],
        scale=alt.Scale(domain=["gas open", "lights on"]),
    )
    made: alt.Chart = (
        alt.Chart(_data(rows))
        .mark_bar(height=14, cornerRadius=3)
        .encode(x=x, x2="closes:T", y=y, color=alt.Color("color:N", scale=None))
    )
    return made


def _bars(what: str, spans: Sequence[SpanView], color: str) -> Rows:
    return [
        {"what": what, "opens": _wall(span.opens), "closes": _wall(span.closes), "color": color}
        for span in spans
    ]


def _drawn_as(chart: alt.VConcatChart, look: Look) -> alt.VConcatChart:
    """Large calm letters on light paper, few lines."""
    made: alt.VConcatChart = (
        chart.configure(background=look.paper, padding=look.padding, font=FONT)
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
