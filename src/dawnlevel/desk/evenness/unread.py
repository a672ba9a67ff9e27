"""What a survey did not read: a map takes such places to be like the rest, and they may not be."""

from itertools import product

import numpy as np
import numpy.typing as npt

from dawnlevel.desk.evenness.surveys import Surveyed
from dawnlevel.survey.evenness import variation
from dawnlevel.tank.places import FAR, NEAR, name_of_shares

Array = npt.NDArray[np.float64]

CORNER_SEEN, PLACE_SEEN = 0.45, 0.3
"""How near a reading must lie, as a share of the sides, to have seen a corner (half-way up its edge will do)
or a place once more; own choice."""


def unread_corners(found: Surveyed) -> tuple[str, ...]:
    """The names of the tank's corners near which nobody read."""
    corners = np.array(list(product((FAR, NEAR), (NEAR, FAR), (NEAR, FAR))))[:, [1, 0, 2]]
    return tuple(
        name_of_shares(*corner)
        for corner in corners.tolist()
        if _nearest(found, np.array(corner)) > CORNER_SEEN
    )


def missed_place(before: Surveyed, after: Surveyed) -> str:
    """The lowest place of the less even of two surveys, where the other did not read it; else empty.

    Without a reading there the two cannot be compared: what one found, the other may have overlooked.
    """
    is_worse_now = float(np.median(variation(after.field))) > float(np.median(variation(before.field)))
    uneven, other = (after, before) if is_worse_now else (before, after)
    lowest = int(np.argmin(uneven.brought.relative))
    place = uneven.places_cm[lowest] / uneven.box.sides_cm
    return uneven.readings[lowest].where if _nearest(other, place) > PLACE_SEEN else ""


def _nearest(found: Surveyed, shares: Array) -> float:
    """How far the nearest reading lies from a place, all as shares of the sides."""
    away = found.places_cm / found.box.sides_cm - shares
    return float(np.sqrt((away**2).sum(axis=1)).min())
