"""The day's picture as SVG for a page: at a phone's width and at a desk's, coloured by the page's style.

Colours are the style sheet's custom properties, so the same drawing serves light and dark.
"""

import re
import threading
from collections import OrderedDict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

from dawnlevel.desk.views import PictureView
from dawnlevel.report.chart_rows import Shape, shape_of
from dawnlevel.report.day_fill import filled
from dawnlevel.report.look import Look
from dawnlevel.report.workshop import WORKSHOP, Workshop

_COLOURS = {
    "accent": "var(--accent)",
    "ink": "var(--ink)",
    "quiet": "var(--quiet)",
    "band": "var(--band)",
    "ceiling": "var(--alarm)",
    "paper": "var(--paper)",
    "grid": "var(--line)",
}
NARROW = Look(width=296, height=250, strip=44, letters=13, hours=5, padding=2, is_titled=False, **_COLOURS)
WIDE = Look(width=760, height=330, strip=46, letters=15, hours=12, padding=4, is_titled=False, **_COLOURS)
_MOST = 24
_TEMPLATES = Workshop(idle_s=10.0)
"""What puts charts together needs twice the memory of what draws them, and that only for a few seconds."""
_SIZE = re.compile(r'<svg ([^>]*?) width="[\d.]+" height="[\d.]+"')


@dataclass(frozen=True, slots=True)
class Drawn:
    """The same picture at two widths, as SVG to stand in a page."""

    narrow: str
    wide: str


class Pictures:
    """Draws pictures, and keeps those just drawn."""

    def __init__(self) -> None:
        self._drawn: OrderedDict[str, tuple[PictureView, Drawn]] = OrderedDict()
        self._lock = threading.Lock()

    @staticmethod
    def preparing() -> Iterator[None]:
        """Get ready for the pictures most days ask for, one at a step."""
        for look in (NARROW, WIDE):
            for has_readings in (True, False):
                _template(Shape(has_readings, True, shows_lights_on=True), look)
                yield

    def drawn(self, place: str, picture: PictureView, title: str, lights_on: datetime) -> Drawn:
        """The picture's drawings; `place` names the page part it stands in, one picture is kept for each."""
        with self._lock:
            known = self._drawn.get(place)
        if known is not None and known[0] is picture:
            return known[1]
        made = Drawn(*(for_page(_svg(picture, title, lights_on, look)) for look in (NARROW, WIDE)))
        with self._lock:
            self._drawn[place] = (picture, made)
            self._drawn.move_to_end(place)
            while len(self._drawn) > _MOST:
                self._drawn.popitem(last=False)
        return made


@lru_cache(maxsize=64)
def _template(shape: Shape, look: Look) -> str:
    """The chart of a shape without its rows; some kilobytes, kept, for putting it together takes a moment."""
    made: str = _TEMPLATES.run("dawnlevel.report.chart:day_template", shape, look)
    return made


def _svg(picture: PictureView, title: str, lights_on: datetime, look: Look) -> str:
    spec = filled(_template(shape_of(picture, lights_on), look), picture, title, "", lights_on, look)
    drawn: str = WORKSHOP.run("dawnlevel.report.workshop:svg_of", spec)
    return drawn


def for_page(svg: str) -> str:
    """The drawing without a size of its own, left out of what is read aloud: the words beside it say it."""
    return _SIZE.sub(r'<svg \1 aria-hidden="true" focusable="false"', svg, count=1)
