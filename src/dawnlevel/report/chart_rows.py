"""What a picture puts into its chart: rows for each layer, and which layers there are."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from dawnlevel.desk.views import PictureView, SpanView
from dawnlevel.report.free_place import target_place
from dawnlevel.report.look import Look

Rows = list[dict[str, object]]


_ROOM_FOR_WORDS = 0.66
"""Beyond this share of the picture's width a phone has no room for a moment's words at the right, and before
the rest none at the left."""


@dataclass(frozen=True, slots=True)
class Shape:
    """Which layers a picture has: readings, the ceiling as a line, lights-on; where the moments' words stand.

    Words stand above the picture, each at its rule's right or left, in two lines: so that no words lie across
    the other's rule, of two at the right the earlier stand higher, of two at the left the later.
    """

    has_readings: bool
    shows_ceiling: bool
    shows_lights_on: bool
    now_at_left: bool = False
    lights_on_at_left: bool = False
    now_is_higher: bool = True


def wall(moment: datetime) -> str:
    """Wall-clock time as if it were UTC, which is the clock the chart's axis is set to.

    The hour that comes twice when summer time ends is drawn over itself.
    """
    return moment.replace(tzinfo=None).isoformat(timespec="seconds") + "Z"


def top_mg_l(picture: PictureView) -> float:
    """Upper end of the axis [mg/L]: all of the 9 in 10, and the ceiling where it is not far above."""
    needed = 1.12 * max(
        *picture.curve.high_90, picture.band_high_mg_l, *(point.high_90 for point in picture.readings)
    )
    return max(needed, 1.08 * picture.ceiling_mg_l) if picture.ceiling_mg_l < 1.8 * needed else needed


def shape_of(picture: PictureView, lights_on: datetime) -> Shape:
    """The layers of a picture."""
    start, end = picture.curve.at[0], picture.curve.at[-1]
    late = start + _ROOM_FOR_WORDS * (end - start)
    shows_lights_on = start < lights_on < end and lights_on != picture.now
    first, last = sorted((picture.now, lights_on)) if shows_lights_on else (picture.now, picture.now)
    last_at_left = last > late
    first_at_left = first > late or (last_at_left and first > end - _ROOM_FOR_WORDS * (end - start))
    now_is_first = first == picture.now
    return Shape(
        has_readings=bool(picture.readings),
        shows_ceiling=picture.ceiling_mg_l <= top_mg_l(picture),
        shows_lights_on=shows_lights_on,
        now_at_left=first_at_left if now_is_first else last_at_left,
        lights_on_at_left=shows_lights_on and (last_at_left if now_is_first else first_at_left),
        now_is_higher=not shows_lights_on or now_is_first != first_at_left,
    )


def rows_of(picture: PictureView, lights_on: datetime, look: Look) -> dict[str, Rows]:
    """The rows of every layer, by the name of its data, as `look` colours and sizes them."""
    curve = picture.curve
    start, end = wall(curve.at[0]), wall(curve.at[-1])
    low, high = picture.band_low_mg_l, picture.band_high_mg_l
    at = [wall(moment) for moment in curve.at]
    words = f"target {low:.0f} to {high:.0f}"
    ends, middle = target_place(picture, lights_on, words, top_mg_l(picture), look)
    return {
        "target": [{"at": start, "to": end, "level": low, "high": high}],
        "nine_in_ten": _area(at, curve.low_90, curve.high_90),
        "even_odds": _area(at, curve.low_50, curve.high_50),
        "median": [{"at": one, "level": level} for one, level in zip(at, curve.median, strict=True)],
        "readings": [
            {"at": wall(point.at), "level": point.co2_mg_l, "low": point.low_90, "high": point.high_90}
            for point in picture.readings
        ],
        "ceiling": _ceiling(picture, start),
        "target_words": [{"at": wall(ends), "level": middle, "text": words}],
        "now": [{"at": wall(picture.now), "text": f"{look.now_word} {picture.now:%H:%M}"}],
        "lights_on": [{"at": wall(lights_on), "text": f"lights on {lights_on:%H:%M}"}],
        "strips": [
            *_bars("gas open", picture.gas, look.accent),
            *_bars("lights on", picture.light, look.band),
        ],
    }


def _area(at: Sequence[str], lows: Sequence[float], highs: Sequence[float]) -> Rows:
    return [{"at": one, "level": low, "high": high} for one, low, high in zip(at, lows, highs, strict=True)]


def _ceiling(picture: PictureView, start: str) -> Rows:
    """The ceiling and its words; where it lies above the picture, the words say so."""
    level, top = picture.ceiling_mg_l, top_mg_l(picture)
    if level > top:
        return [{"at": start, "level": top, "text": f"the ceiling, {level:g} mg/L, lies above this picture"}]
    return [{"at": start, "level": level, "text": f"ceiling {level:g}"}]


def _bars(what: str, spans: Sequence[SpanView], color: str) -> Rows:
    return [
        {"what": what, "opens": wall(span.opens), "closes": wall(span.closes), "color": color}
        for span in spans
    ]
