"""The day's picture in letters, and the sentence that says what it says."""

import bisect
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo

from rich.text import Text

from dawnlevel.cli.render_page import Paper
from dawnlevel.desk.phrases import levels_at
from dawnlevel.desk.views import PictureView, SpanView

ROWS = 10
_LABEL = 6


@dataclass(frozen=True, slots=True)
class _Marks:
    """What the picture is drawn with."""

    likely: str
    level: str
    band: str
    ceiling: str
    now: str
    reading: str
    strip: str


_FULL = _Marks("░", "█", "┄", "═", "│", "o", "▄")
_PLAIN = _Marks(":", "#", "-", "=", "|", "o", "x")


def draw_picture(picture: PictureView, paper: Paper) -> Text:
    """The picture, at most as wide as the paper: level, band, ceiling, readings, gas and light."""
    marks = _FULL if paper.is_unicode else _PLAIN
    width = paper.width - _LABEL - 1
    start, end = (moment.astimezone(UTC) for moment in (picture.curve.at[0], picture.curve.at[-1]))
    moments = [start + (end - start) * (column + 0.5) / width for column in range(width)]
    top = _top(picture)
    cells = [[" "] * width for _ in range(ROWS)]
    _draw_levels(cells, picture, moments, top, marks)
    lines = [f"{_label(row, top)} {''.join(cells[row])}" for row in range(ROWS)]
    lines += [
        f"{'gas':>{_LABEL}} {_strip(picture.gas, moments, marks)}",
        f"{'light':>{_LABEL}} {_strip(picture.light, moments, marks)}",
        f"{'':>{_LABEL}} {_clock_line(picture.now.tzinfo, start, end, width)}",
        *_legend(picture, marks, top, paper.width),
    ]
    return Text("\n".join(line.rstrip() for line in lines))


def _top(picture: PictureView) -> float:
    """The picture's upper end [mg/L]; the ceiling is in it unless that would squash all else."""
    needed = max(*picture.curve.high_90, picture.band_high_mg_l) * 1.08
    return max(needed, picture.ceiling_mg_l * 1.05) if picture.ceiling_mg_l < 1.6 * needed else needed


def _row(level: float, top: float) -> int:
    """The row a level falls into; above the picture is -1."""
    return max(ROWS - 1 - int(level / top * ROWS), -1)


def _label(row: int, top: float) -> str:
    middle = (ROWS - 0.5 - row) / ROWS * top
    return f"{middle:{_LABEL}.0f}" if row % 2 == 0 else " " * _LABEL


def _draw_levels(
    cells: list[list[str]], picture: PictureView, moments: Sequence[datetime], top: float, marks: _Marks
) -> None:
    now = bisect.bisect_left(moments, picture.now)
    for level, mark in (
        (picture.band_low_mg_l, marks.band),
        (picture.band_high_mg_l, marks.band),
        (picture.ceiling_mg_l, marks.ceiling),
    ):
        row = _row(level, top)
        if row >= 0:
            cells[row] = [mark] * len(moments)
    for column, moment in enumerate(moments):
        low, middle, high = levels_at(picture.curve, moment)
        for row in range(max(_row(high, top), 0), _row(low, top) + 1):
            cells[row][column] = marks.likely
        if column == now:
            for row in range(ROWS):
                cells[row][column] = marks.now
        cells[max(_row(middle, top), 0)][column] = marks.level
    for reading in picture.readings:
        column = min(bisect.bisect_left(moments, reading.at), len(moments) - 1)
        cells[max(_row(reading.co2_mg_l, top), 0)][column] = marks.reading


def _strip(spans: Sequence[SpanView], moments: Sequence[datetime], marks: _Marks) -> str:
    return "".join(
        marks.strip if any(span.opens <= moment < span.closes for span in spans) else " "
        for moment in moments
    )


def _clock_line(zone: tzinfo | None, start: datetime, end: datetime, width: int) -> str:
    """Hours under the picture (from and to in UTC), at whole hours of the wall clock, as many as fit."""
    hours = (end - start) / timedelta(hours=1)
    every = next(step for step in (1, 2, 3, 4, 6, 12, 24) if hours / step * 7 <= width or step == 24)
    line = [" "] * (width + 2)
    mark = start.replace(minute=0, second=0, microsecond=0)
    while mark <= end:
        mark += timedelta(minutes=15)  # zones differ by quarter hours
        column, shown = round((mark - start) / (end - start) * width), mark.astimezone(zone)
        if shown.minute == 0 and shown.hour % every == 0 and 0 <= column <= width - 5:
            line[column : column + 5] = f"{shown:%H:%M}"
    return "".join(line)


def _legend(picture: PictureView, marks: _Marks, top: float, width: int) -> list[str]:
    """What the marks mean, over as many lines as it takes."""
    words = [
        "CO2 in mg/L:",
        f"{marks.level} level",
        f"{marks.likely} 9 in 10",
        f"{marks.reading} reading",
        f"{marks.band} target",
        f"{marks.ceiling} ceiling {picture.ceiling_mg_l:g}",
        f"{marks.now} now",
    ]
    if picture.ceiling_mg_l > top:
        words[5] = f"(ceiling {picture.ceiling_mg_l:g} lies above)"
    lines, line = [], ""
    for word in words:
        if line and len(line) + 2 + len(word) > width:
            lines.append(line)
            line = ""
        line = f"{line}  {word}" if line else word
    return [*lines, line]
