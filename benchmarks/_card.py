"""The keeper's card as any module may write it: plain figures, gaps filled, and the day's hours out of it."""

import math
from collections.abc import Mapping
from typing import Any

from dawnlevel.errors import BadInputError
from dawnlevel.practice.draw import Card

NEEDED = ("lights_on_h", "lights_off_h", "co2_limit_mg_l")
"""Without these no tank can be scored; volume, surface and depth are asked for by who describes it."""

USUAL: Card = {
    "temp_c": 25.0,
    "kh_dkh": None,
    "kh_step_dkh": 1.0,
    "ph_step": 0.01,
    "room_co2_ppm": None,
    "planting": "medium",
    "surface": "gentle",
    "diffuser": "fine",
    "baseline_method": "still_cup",
    "baseline_hours": 24.0,
    "first_rate_bps": 1.0,
    "reads_per_ramp": 5,
    "timer_windows": 1,
}
"""What stands in for a key that a card leaves out; where nothing is known of KH or room, None. Common
practice, no source. `earliest_start_h` is four hours before the lights."""

MOST_READINGS = 8
"""Readings a keeper takes in a day at the most; the benchmark's own bound. `readings_a_day` may name less."""

_MAY_BE_NONE = ("kh_dkh", "room_co2_ppm")
_USUAL_LEAD_H = 4.0


def plain_card(card: Mapping[str, Any]) -> Card:
    """The card with plain Python figures in place of whatever scalars its module uses, and no gaps.

    Raises BadInputError where a needed key is missing or no number.
    """
    given = {str(key): _plain(value) for key, value in card.items()}
    for key in NEEDED:
        value = given.get(key)
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            found = "missing" if value is None else repr(value)
            raise BadInputError(
                f"{key!r} is {found}.", where="the tank's card", cure="Give it there as a number."
            )
    plain: Card = {**USUAL, "earliest_start_h": number(given, "lights_on_h") - _USUAL_LEAD_H}
    plain |= {key: value for key, value in given.items() if value is not None or key in _MAY_BE_NONE}
    return plain


def _plain(value: object) -> float | int | str | None:
    """One entry; scalars of numpy (and others that have `item`) become the number they hold."""
    item = getattr(value, "item", None)
    held = item() if callable(item) else value
    if held is None or isinstance(held, int | float):
        return held
    return str(getattr(held, "value", held))


def number(card: Mapping[str, object], key: str) -> float:
    """A figure of the card [in the unit of its key]. Raises BadInputError for what is none."""
    try:
        return float(str(card[key]))
    except (KeyError, ValueError) as error:
        raise BadInputError(
            f"{key!r} is {card.get(key)!r}.", where="the tank's card", cure="Give it there as a number."
        ) from error


def most_readings_of(card: Mapping[str, object]) -> int:
    """How many readings a day this keeper takes at the most."""
    return int(number(card, "readings_a_day")) if "readings_a_day" in card else MOST_READINGS


def hours_of(card: Mapping[str, object]) -> tuple[float, float, float]:
    """Earliest gas start, lights-on and lights-off [h since the day's midnight], in this order in time.

    A photoperiod may run over midnight, and the gas may start the evening before.
    """
    names = ("lights_on_h", "lights_off_h", "earliest_start_h")
    on_h, off_h, earliest_h = (number(card, name) for name in names)
    return (
        earliest_h if earliest_h < on_h else earliest_h - 24.0,
        on_h,
        off_h if off_h > on_h else off_h + 24.0,
    )
