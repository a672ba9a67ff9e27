"""How a chart is drawn: size, letters, colours."""

from dataclasses import dataclass
from typing import Any

Spec = dict[str, Any]

ACCENT = "#1f6f78"
INK = "#22302f"
QUIET = "#5c6967"
BAND = "#e9c46a"
CEILING = "#9b2226"
PAPER = "#fdfcf9"
"""Petrol on paper, ochre and dark red: told apart by lightness too, so in any kind of colour vision."""

FONT = "Liberation Sans, Arial, Helvetica, sans-serif"
WIDTH, HEIGHT, STRIP = 900, 380, 46
DENSE = 120
"""More days than this are drawn as a line without their errors: a year of dots is a megabyte (measured)."""


@dataclass(frozen=True, slots=True)
class Look:
    """How a chart is drawn: size of the plot and its strips [px], letters [px], colours, hours on the axis.

    A colour is anything SVG takes. `now_word` is what the picture's present is called. Title and caption are
    left out where the page around it says them.
    """

    width: int = WIDTH
    height: int = HEIGHT
    strip: int = STRIP
    letters: int = 15
    hours: int = 12
    padding: int = 24
    is_titled: bool = True
    now_word: str = "now"
    accent: str = ACCENT
    ink: str = INK
    quiet: str = QUIET
    band: str = BAND
    ceiling: str = CEILING
    paper: str = PAPER
    grid: str = "#e3e6e1"


ON_PAPER = Look()
