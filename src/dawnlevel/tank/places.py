"""Places in the water by name, as shares of the tank's length, width and depth of water.

Length runs from the left pane (0) to the right (1), width from the front pane to the back, height from the
substrate to the surface, as seen by someone who stands before the tank.
"""

import re

from dawnlevel.errors import BadInputError

NEAR, HALF, FAR = 0.1, 0.5, 0.9
"""Where a name lies on its way across: a hand's breadth from the wall (common practice, no source)."""

_WORDS: dict[str, tuple[int, float]] = {
    "left": (0, NEAR),
    "right": (0, FAR),
    "front": (1, NEAR),
    "back": (1, FAR),
    "substrate": (2, NEAR),
    "surface": (2, FAR),
}
_SAME = {"bottom": "substrate", "top": "surface", "rear": "back", "center": "middle", "centre": "middle"}
_ORDER = ("front", "back", "left", "right", "substrate", "surface")
MIDDLE = "middle"

PLACE_WORDS = (*_ORDER, MIDDLE)
"""Words a place is named by, in the order in which a name is written."""


def place_name(text: str) -> str:
    """The usual writing of a place: `back-left substrate` becomes `back left substrate`.

    A word given twice counts once. BadInputError for an unknown word, for none, and for two ends of one way.
    """
    words = [_SAME.get(word, word) for word in re.split(r"[\s,_/+-]+", text.strip().lower()) if word]
    unknown = [word for word in words if word not in PLACE_WORDS]
    if unknown or not words:
        problem = f"{unknown[0]!r} is no place in a tank." if unknown else "The place has no name."
        raise BadInputError(
            problem,
            where="place",
            cure=f"Write one or more of {', '.join(PLACE_WORDS)}: back left substrate.",
        )
    named = [word for word in _ORDER if word in words]
    if len({_WORDS[word][0] for word in named}) < len(named):
        raise BadInputError(
            f"{text.strip()!r} names two opposite sides.", where="place", cure="Name one of the two."
        )
    return " ".join(named) or MIDDLE


def place_shares(name: str) -> tuple[float, float, float]:
    """Where a place lies, as shares of length, width and height; ways that are not named lie half-way."""
    found = [HALF, HALF, HALF]
    for word in place_name(name).split():
        if word != MIDDLE:
            way, share = _WORDS[word]
            found[way] = share
    return found[0], found[1], found[2]


def name_of_shares(length: float, width: float, height: float) -> str:
    """The name that says best where shares of length, width and height lie; thirds divide each way."""
    words = []
    for share, low, high in (
        (width, "front", "back"),
        (length, "left", "right"),
        (height, "substrate", "surface"),
    ):
        if not 1 / 3 <= share <= 2 / 3:
            words.append(low if share < 1 / 3 else high)
    return " ".join(words) or MIDDLE
