"""The spread map as a chart: the water from the front and from above, every cell with its figure."""

from typing import Any

import altair as alt

from dawnlevel.desk.evenness.spread_views import MapView, SpreadView, on_the_lines
from dawnlevel.report.look import FONT, INK, PAPER, QUIET, Spec

CELL = 84
_LEGEND = "Figures: CO2 in % of the tank's mean, ± half of 9 in 10. Dots: readings."
_LIGHT, _DARK = "#f3e7c3", "#1f6f78"
"""Ochre paper to petrol: from light to dark, so that more CO2 is darker in any kind of colour vision."""


def spread_chart(view: SpreadView) -> Spec:
    """The chart as a Vega-Lite specification; the readings stand on it as dots."""
    lowest = min(min(map(min, one.percent)) for one in (view.front, view.top))
    highest = max(max(map(max, one.percent)) for one in (view.front, view.top))
    scale = alt.Scale(domain=[lowest, max(highest, lowest + 10.0)], range=[_LIGHT, _DARK])
    front = [(one.x_share, 1.0 - one.z_share) for one in view.readings]
    top = [(one.x_share, 1.0 - one.y_share) for one in view.readings]
    marks = [
        [(one.letter, one.x_share, 1.0 - one.z_share) for one in view.marks],
        [(one.letter, one.x_share, 1.0 - one.y_share) for one in view.marks],
    ]
    parts = [_panel(view.front, front, marks[0], scale), _panel(view.top, top, marks[1], scale)]
    name = f"{view.tank}, {view.at:%A} {view.at.day} {view.at:%B %Y %H:%M}"
    chart = (
        alt.vconcat(*parts, spacing=26)
        .properties(title=alt.TitleParams(text=name, subtitle=[*view.verdict.split(". "), _LEGEND]))
        .configure(background=PAPER, padding=24, font=FONT)
        .configure_view(stroke=QUIET)
        .configure_title(anchor="start", fontSize=22, color=INK, subtitleFontSize=14, subtitleColor=QUIET)
    )
    spec: Spec = chart.to_dict()
    spec["description"] = f"{view.tank}: {view.verdict}"
    return spec


def spread_svg(view: SpreadView, font: str = FONT) -> str:
    """The map alone as SVG, both views beside their names; the page around it says the rest."""
    import vl_convert  # noqa: PLC0415 - takes a moment to load

    spec = spread_chart(view)
    spec.pop("title")
    spec["config"] |= {"padding": 12, "background": "#ffffff"}
    drawn: str = vl_convert.vegalite_to_svg(spec)
    return drawn.replace(FONT, font)


def say_spread(view: SpreadView) -> str:
    """The map in words, row by row, for those who cannot see it."""
    parts = []
    for one in (view.front, view.top):
        rows = "; ".join(", ".join(f"{cell:.0f}" for cell in row) for row in one.percent)
        parts.append(f"{one.title}, rows from {one.first_row} to {one.last_row}, left to right: {rows}.")
    return f"CO2 in % of the tank's mean. {' '.join(parts)}"


def _panel(
    view: MapView,
    readings: list[tuple[float, float]],
    marks: list[tuple[str, float, float]],
    scale: alt.Scale,
) -> alt.LayerChart | alt.FacetChart:
    """One view of the water: cells, their figures, the readings."""
    rows, across = len(view.percent), len(view.percent[0])
    low = {(_crowded_row(rows * at_y), int(across * at_x)) for at_x, at_y in readings}
    cells = [
        _cell(view, (row, column), scale, 0.33 if (row, column) in low else 0.8)
        for row in range(rows)
        for column in range(across)
    ]
    wide = alt.Scale(domain=[0, across], nice=False)
    high = alt.Scale(domain=[rows, 0], nice=False)
    x, y = alt.X("left:Q", scale=wide, axis=None), alt.Y("top:Q", scale=high, axis=None)
    base = alt.Chart(alt.InlineData(cells))
    colour = alt.Color("level:Q", scale=scale, legend=None)
    rects = base.mark_rect(stroke=PAPER).encode(x=x, x2="right:Q", y=y, y2="bottom:Q", color=colour)
    words = base.mark_text(fontSize=15, font=FONT).encode(
        x=alt.X("middle:Q", scale=wide),
        y=alt.Y("centre:Q", scale=high),
        text="words:N",
        color=alt.Color("ink:N", scale=None),
    )
    rings = (
        alt.Chart(
            alt.InlineData([{"middle": across * at_x, "centre": rows * at_y} for at_x, at_y in readings])
        )
        .mark_point(size=45, color=INK, fill=PAPER, filled=True, stroke=INK, strokeWidth=1.5, opacity=1)
        .encode(x="middle:Q", y="centre:Q")
    )
    name = f"{view.title}: {view.first_row} above, {view.last_row} below"
    letters = _letters(marks, rows, across)
    made: alt.LayerChart | alt.FacetChart = alt.layer(rects, words, rings, *letters).properties(
        width=CELL * across, height=CELL * rows * 0.6, title=alt.TitleParams(name, fontSize=15)
    )
    return made


def _cell(view: MapView, where: tuple[int, int], scale: alt.Scale, words_at: float) -> dict[str, Any]:
    """A cell with its figure, which stands `words_at` of its height down, clear of a reading's dot."""
    row, column = where
    level = view.percent[row][column]
    half = (view.high_90[row][column] - view.low_90[row][column]) / 2.0
    lowest, highest = scale.domain
    return {
        "left": column, "right": column + 1, "middle": column + 0.5,
        "top": row, "bottom": row + 1, "centre": row + words_at,
        "level": level, "words": f"{level:.0f} ± {half:.0f}",
        "ink": ink_on((level - lowest) / (highest - lowest)),
    }  # fmt: skip


def _crowded_row(down: float) -> int:
    """The row whose figure, low in its cell, a reading `down` rows from the top would hide; -1: none."""
    row, within = divmod(down, 1.0)
    if within > 0.5:
        return int(row)
    return int(row) - 1 if within < 0.1 else -1


def _letters(marks: list[tuple[str, float, float]], rows: int, across: int) -> list[alt.Chart]:
    """What the sketch places, as letters on paper, a little aside of the readings."""
    if not marks:
        return []
    points: list[dict[str, Any]] = []
    for letter, x, y in marks:
        column, row = on_the_lines(x, across), on_the_lines(y, rows)
        crowd = sum(one["home"] == (column, row) for one in points)
        column_shown = column + 0.3 * crowd * (1.0 if x < 0.5 else -1.0)
        points.append({"middle": column_shown, "centre": row, "letter": letter, "home": (column, row)})
    base = alt.Chart(alt.InlineData(points)).encode(x="middle:Q", y="centre:Q")
    ring = base.mark_point(size=330, fill=PAPER, filled=True, stroke=INK, strokeWidth=1.5, opacity=1)
    words = base.mark_text(fontSize=14, fontWeight="bold", font=FONT, color="#000000").encode(text="letter:N")
    return [ring, words]


def ink_on(share: float) -> str:
    """Black or white, whichever is told better from the ground `share` of the way from light to dark.

    Relative luminance and contrast as in WCAG 2.2; against the better of the two it is 4.5 at least.
    """
    light, dark = (tuple(int(one[at : at + 2], 16) / 255.0 for at in (1, 3, 5)) for one in (_LIGHT, _DARK))
    ground = [a + share * (b - a) for a, b in zip(light, dark, strict=True)]
    linear = [one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in ground]
    luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    return "#000000" if luminance + 0.05 > (1.05 * 0.05) ** 0.5 else "#ffffff"
