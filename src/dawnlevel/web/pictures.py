"""The day's picture as SVG for a page: at a phone's width and at a desk's, coloured by the page's style.

Colours are the style sheet's custom properties, so the same drawing serves light and dark.
"""

import re
import threading
from collections import OrderedDict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from dawnlevel.desk.views import PictureView
from dawnlevel.report.chart import Look, picture_svg, preparing

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
            yield from preparing(look)

    def drawn(self, place: str, picture: PictureView, title: str, lights_on: datetime) -> Drawn:
        """The picture's drawings; `place` names the page part it stands in, one picture is kept for each."""
        with self._lock:
            known = self._drawn.get(place)
        if known is not None and known[0] is picture:
            return known[1]
        made = Drawn(*(for_page(picture_svg(picture, title, lights_on, look)) for look in (NARROW, WIDE)))
        with self._lock:
            self._drawn[place] = (picture, made)
            self._drawn.move_to_end(place)
            while len(self._drawn) > _MOST:
                self._drawn.popitem(last=False)
        return made


def for_page(svg: str) -> str:
    """The drawing without a size of its own, left out of what is read aloud: the words beside it say it."""
    return _SIZE.sub(r'<svg \1 aria-hidden="true" focusable="false"', svg, count=1)
