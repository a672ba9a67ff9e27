"""The sentences of a hand-over that do not depend on the tank's figures, and how units are said."""

import math
import re
from collections.abc import Iterator, Sequence
from datetime import datetime

from dawnlevel.desk.handover.handover_views import CellHourView, Units, WhenView
from dawnlevel.supply.handling import HANDLING
from dawnlevel.tank import CellColour
from dawnlevel.units import BAR_PER_PSI, KG_PER_LB, celsius_to_fahrenheit

LEAVE_ALONE = (
    "Please do not touch needle and timers. A turn of the needle is a new setting nobody has checked. "
    "Is the count off? Ask first."
)

_FISH = (
    WhenView(
        "Fish gasp, or lie on the ground",
        (
            "Gas off now: pull the gas timer's plug.",
            "Aerate hard: air stone, outflow up.",
            "Not better in minutes: change some water.",
            "Ask a veterinarian who treats fish.",
        ),
        is_urgent=True,
    ),
    WhenView(
        "Fish uneasy, breathing fast",
        ("Gas off, more surface movement, look again in 10 minutes.",),
        is_urgent=True,
    ),
)
"""What the owner does, who does not tune: the gas is closed where a keeper would lower it. Fish: Merck
Veterinary Manual and UF/IFAS FA27 on piping, as in `plan.fish`."""

FISH_SOURCES = ("merck_veterinary_manual", "ufifas_fa27")

_EMPTY = WhenView(
    "No bubbles, or the gauge has fallen",
    ("Cylinder empty: unplug the gas timer, have it exchanged, count afresh.",),
    is_urgent=False,
)


_TOO_MUCH = (CellColour.LIME.value, CellColour.YELLOW.value)
"""Colours of a 4 dKH cell above 30 mg/L or so: see the edges in `estimate.priors`."""


def when(cell: Sequence[CellHourView]) -> tuple[WhenView, ...]:
    """What to do when something is seen, given what the cell should look like.

    Cell and cylinder: common practice, no source.
    """
    return (*_FISH, *_cell_rows(cell), _EMPTY)


def _cell_rows(cell: Sequence[CellHourView]) -> Iterator[WhenView]:
    """Too far to yellow is pressing; too far to blue is not, and where blue is expected it says nothing."""
    colours = [colour.value for colour in CellColour]
    expected = {colours.index(name) for one in cell for name in (one.colour, one.or_colour) if name}
    highest = max(expected, default=1)
    too_much = [one for one in _TOO_MUCH if colours.index(one) > highest] or colours[-1:]
    yield WhenView(
        f"Cell {' or '.join(too_much)}",
        ("Too much CO2: gas off for today, aerate, watch the fish.",),
        is_urgent=True,
    )
    if highest == 0:
        yield WhenView(
            "Cell green",
            ("More CO2 than planned: watch the fish, count the bubbles, ask.",),
            is_urgent=False,
        )
    late = [one for one in cell if colours[0] not in {one.colour, one.or_colour}]
    if late:
        yield WhenView(
            f"Cell still blue at {late[-1].clock}",
            ("Less CO2 than planned, no hurry: count the bubbles, look at the gauge.",),
            is_urgent=False,
        )


ROOM_CAUTIONS = (
    "CO2 is heavier than air and has no smell.",
    "If the cylinder hisses or vents: leave, let in fresh air, keep everybody out, call your gas supplier.",
    "Your gas supplier and local codes decide on cylinders and rooms; a veterinarian on sick fish.",
)
"""Common practice, no source; `dawnlevel room` has the dated limits."""

ASSUMPTIONS = (
    "The water is well mixed: corners without flow may hold less.",
    "Needle, diffuser, surface and plants stay as they were while the records were made.",
    "The indicator cell holds the solution recorded, 4 dKH where none is, and lags some hours behind.",
    "The figures come from the records of this tank up to the day they name; later changes are not in them.",
    "Intervals are nine in ten: one day in ten lies outside.",
)


def cautions(units: Units) -> tuple[str, ...]:
    """What to mind with cylinder and room; sources stand with `supply.handling`."""
    return tuple(in_units(text, units) for text in (*ROOM_CAUTIONS, *(rule.text for rule in HANDLING)))


_CELSIUS = re.compile(r"(-?\d+(?:\.\d+)?) °C")
_BARS = re.compile(r"(\d+) to (\d+) bar")
_GRAMS = re.compile(r"(?<![\d.])(\d+) g\b(?!/)")


def in_units(text: str, units: Units) -> str:
    """A sentence with its temperatures, pressures and weights in the units asked for."""
    if units is Units.METRIC:
        return text
    text = _CELSIUS.sub(lambda found: f"{_fahrenheit(found[1])} °F", text)
    text = _BARS.sub(lambda found: f"{_psi(found[1])} to {_psi(found[2])} psi", text)
    return _GRAMS.sub(lambda found: f"{float(found[1]) / (1e3 * KG_PER_LB) * 16.0:.1f} oz", text)


def _fahrenheit(celsius: str) -> int:
    """Rounded down: a limit must not grow by being said in other units."""
    return math.floor(celsius_to_fahrenheit(float(celsius)) + 1e-9)


def _psi(bars: str) -> str:
    return f"{round(float(bars) / BAR_PER_PSI, -1):.0f}"


def moment_text(at: datetime, units: Units) -> str:
    """The time of a local moment, as `wall_text` says it."""
    return wall_text(at.hour + at.minute / 60.0 + at.second / 3600.0, units)


def wall_text(hour_h: float, units: Units) -> str:
    """Wall-clock time to the minute, on a 24-hour clock or, in the US, a 12-hour one."""
    minutes = round(hour_h * 60.0) % (24 * 60)
    hours, rest = divmod(minutes, 60)
    if units is Units.METRIC:
        return f"{hours:02d}:{rest:02d}"
    return f"{hours % 12 or 12}:{rest:02d} {'am' if hours < 12 else 'pm'}"
