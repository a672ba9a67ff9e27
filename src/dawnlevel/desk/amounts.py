"""Amounts as keepers write them, number and unit, brought to the unit Dawnlevel keeps.

Used wherever a person or a file gives a figure. Units are compared without regard to case and blanks;
conversions are those of `dawnlevel.units`.
"""

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import TypeVar

from dawnlevel import units
from dawnlevel.errors import BadInputError
from dawnlevel.tank import Target, TargetKind

Convert = Callable[[float], float]
Choice = TypeVar("Choice", bound=StrEnum)
_NUMBER = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*", re.DOTALL)
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?")
_DECIMAL_HOURS = re.compile(r"(\d+(?:\.\d+)?)h")
_SECONDS_PER_HOUR = 3600


def _same(value: float) -> float:
    return value


def _times(factor: float) -> Convert:
    return lambda value: value * factor


def _over(divisor: float) -> Convert:
    return lambda value: value / divisor


@dataclass(frozen=True, slots=True)
class Measure:
    """One measured quantity: its name, an example, and every unit it may be given in ("" is bare)."""

    name: str
    example: str
    units: Mapping[str, Convert]


def _units(*groups: tuple[str, Convert]) -> dict[str, Convert]:
    return {name: convert for names, convert in groups for name in names.split(",")}


VOLUME = Measure(
    "volume",
    "180L or 48gal",
    _units(
        (",l,litre,litres,liter,liters", _same),
        ("ml", _over(1000.0)),
        ("gal,gallon,gallons,usgal,[gal_us]", units.us_gallon_to_l),
    ),
)
LENGTH = Measure(
    "length",
    "45cm or 18in",
    _units(
        (",cm", _same),
        ("mm", _over(10.0)),
        ("m", _times(100.0)),
        ('in,inch,inches,",[in_i]', units.inch_to_cm),
    ),
)
TEMPERATURE = Measure(
    "temperature",
    "25C or 77F",
    _units((",c,°c,degc,cel", _same), ("f,°f,degf,[degf]", units.fahrenheit_to_celsius)),
)
KH = Measure(
    "KH",
    "4dKH, 71mg/L (as CaCO3) or 1.4meq/L",
    _units(
        (",dkh,°dkh,dh,°dh", _same),
        ("mg/l,mg/lcaco3,mg/l(caco3),mg/lascaco3,ppm,ppmcaco3", units.mg_l_caco3_to_dkh),
        ("meq/l", units.meq_l_to_dkh),
    ),
)
PH = Measure("pH", "6.85", _units((",ph,[ph]", _same)))
RATE = Measure(
    "rate",
    "2/s or 90/min",
    _units(
        (",/s,bps,bubbles/s,bubbles/sec", _same),
        ("/min,bpm,bubbles/min", _over(60.0)),
    ),
)
SHARE = Measure("share", "30%", _units(("%", _over(100.0)), (",1", _same)))
HOURS = Measure("hours", "24h", _units((",h,hour,hours", _same), ("min", _over(60.0))))
PPM = Measure("room CO2", "600ppm", _units((",ppm", _same)))
CO2 = Measure("CO2", "30mg/L", _units((",mg/l,ppm", _same)))
ALTITUDE = Measure("altitude", "300m", _units((",m", _same)))
GH = Measure("GH", "8dGH", _units((",dgh,°dgh,dh,°dh", _same)))
CONDUCTIVITY = Measure("conductivity", "350uS/cm", _units((",us/cm,µs/cm,μs/cm", _same)))
MASS = Measure(
    "mass",
    "2kg, 350g or 5lb",
    _units((",kg", _same), ("g", _over(1000.0)), ("lb,lbs,[lb_av]", units.lb_to_kg)),
)
PRESSURE = Measure(
    "pressure",
    "58bar or 840psi",
    _units((",bar", _same), ("psi,[psi]", units.psi_to_bar), ("mpa", _times(10.0))),
)
ROOM = Measure(
    "room", "30m3", _units((",m3,m³", _same), ("l", _over(1000.0)), ("ft3,ft³,cuft", units.cubic_ft_to_m3))
)
FLOOR = Measure("floor", "12m2", _units((",m2,m²", _same), ("ft2,ft²,sqft", units.square_ft_to_m2)))
FRESH_AIR = Measure("fresh air", "0.5/h", _units((",/h,1/h", _same)))
FLOW = Measure("flow", "800L/h or 210gal/h", _units((",l/h,lph", _same), ("gal/h,gph", units.us_gallon_to_l)))
OXYGEN = Measure("oxygen", "6.5mg/L or 82%", _units((",mg/l,ppm", _same)))
AIR_PRESSURE = Measure(
    "air pressure",
    "1013hPa or 760mmHg",
    _units((",hpa,mbar", _same), ("kpa", _times(10.0)), ("mmhg", _times(units.HPA_PER_ATM / 760.0))),
)
OXYGEN_SHARE = Measure("oxygen", "82%", _units(("%", _same)))
PERCENT = Measure("error", "3%", _units((",%", _same)))
PLAIN = Measure("number", "5", _units(("", _same)))


def _number_and_unit(measure: Measure, text: str) -> tuple[float, str]:
    found = _NUMBER.fullmatch(text)
    if found is None or found[2].startswith(",") or not math.isfinite(float(found[1])):
        raise BadInputError(
            f"{text.strip()!r} is no number.",
            where=measure.name,
            cure=f"Write it with a decimal point, for example {measure.example}.",
        )
    return float(found[1]), found[2]


def read_amount(measure: Measure, text: str, unit: str = "") -> float:
    """The amount in `text`, in the unit Dawnlevel keeps; `unit` is where the text has none.

    BadInputError where it is no number or the unit is unknown.
    """
    value, written = _number_and_unit(measure, text)
    chosen = written or unit
    convert = measure.units.get(re.sub(r"\s", "", chosen).lower())
    if convert is None:
        raise BadInputError(
            f"{chosen!r} is no unit for it.", where=measure.name, cure=f"Write for example {measure.example}."
        )
    return convert(value)


def read_count(measure: Measure, text: str) -> int:
    """A whole number; BadInputError otherwise."""
    value = read_amount(measure, text)
    if value != int(value):
        raise BadInputError(f"{text!r} is no whole number.", where=measure.name, cure="Write for example 5.")
    return int(value)


def read_choice(choices: type[Choice], text: str, where: str) -> Choice:
    """The member a word names, blanks and hyphens standing for underscores; BadInputError otherwise."""
    word = text.strip().lower().replace(" ", "_").replace("-", "_")
    for choice in choices:
        if choice.value == word:
            return choice
    raise BadInputError(
        f"{text.strip()!r} is none of {', '.join(choices)}.", where=where, cure="Write one of these words."
    )


def read_open(text: str) -> bool:
    """Whether a word says that the gas is open; BadInputError for other words."""
    word = text.strip().lower()
    if word in {"open", "opened", "on"}:
        return True
    if word in {"close", "closed", "off"}:
        return False
    raise BadInputError(
        f"{text.strip()!r} is neither open nor closed.", where="gas", cure="Write open or closed."
    )


def read_yes(text: str, where: str) -> bool:
    """Whether a word says yes; BadInputError for other words than yes and no."""
    word = text.strip().lower()
    if word not in {"yes", "no"}:
        raise BadInputError(f"{text.strip()!r} is neither yes nor no.", where=where, cure="Write yes or no.")
    return word == "yes"


def read_pair(text: str, where: str) -> tuple[float, float]:
    """Two figures `4.03;6.91`, parted by a semicolon; BadInputError otherwise."""
    parts = text.split(";")
    if len(parts) != 2:
        raise BadInputError(
            f"{text.strip()!r} is no pair of figures.", where=where, cure="Give two figures, the lower first."
        )
    first, second = (read_amount(PLAIN, part) for part in parts)
    return first, second


def read_oxygen(text: str) -> tuple[str, float]:
    """An oxygen reading `6.5mg/L` or `82%`: the field of the record it fills, and its figure."""
    try:
        return "saturation_percent", read_amount(OXYGEN_SHARE, text)
    except BadInputError:
        return "oxygen_mg_l", read_amount(OXYGEN, text)


def write_share(fraction: float) -> tuple[str, str]:
    """Value and unit that `read_amount(SHARE, ...)` turns back into exactly `fraction`; % if it can."""
    percent = f"{(Decimal(repr(fraction)) * 100).normalize():f}"
    return (percent, "%") if float(percent) / 100.0 == fraction else (repr(fraction), "1")


def read_clock(text: str, where: str) -> float:
    """Hours since midnight of a wall-clock time `13:30` or `13:30:15`, or of decimal hours `13.5h`."""
    stripped = text.strip()
    clock = _CLOCK.fullmatch(stripped)
    if clock is not None:
        hours, minutes, seconds = int(clock[1]), int(clock[2]), int(clock[3] or 0)
        total_s = hours * _SECONDS_PER_HOUR + minutes * 60 + seconds
        if minutes < 60 and seconds < 60 and total_s <= 24 * _SECONDS_PER_HOUR:
            return total_s / _SECONDS_PER_HOUR
    decimal = _DECIMAL_HOURS.fullmatch(stripped)
    if decimal is not None:
        return float(decimal[1])
    raise BadInputError(
        f"{stripped!r} is no time of day.", where=where, cure="Write it like 13:30, on a 24-hour clock."
    )


def write_clock(hour_h: float) -> str:
    """The shortest text that `read_clock` turns back into exactly `hour_h` [h]."""
    total_s = round(hour_h * _SECONDS_PER_HOUR)
    if total_s / _SECONDS_PER_HOUR != hour_h:
        return f"{Decimal(repr(hour_h)):f}h"
    hours, rest = divmod(total_s, _SECONDS_PER_HOUR)
    seconds = f":{rest % 60:02d}" if rest % 60 else ""
    return f"{hours:02d}:{rest // 60:02d}{seconds}"


def read_span(text: str, where: str) -> tuple[float, float]:
    """Two wall-clock times `10:30-19:00` in hours since midnight."""
    parts = text.replace("–", "-").split("-")  # people paste dashes
    if len(parts) != 2 or not all(part.strip() for part in parts):
        raise BadInputError(
            f"{text.strip()!r} is no pair of times.", where=where, cure="Write them like 10:30-19:00."
        )
    return read_clock(parts[0], where), read_clock(parts[1], where)


def read_windows(text: str) -> tuple[tuple[float, float], ...]:
    """Timer windows `10:30-12:00;13:00-19:00`, or `never`, in hours since midnight."""
    if text.strip().lower() == "never":
        return ()
    return tuple(read_span(part, "timer") for part in text.split(";"))


def write_windows(windows_h: tuple[tuple[float, float], ...]) -> str:
    """The text that `read_windows` turns back into exactly these windows [h]."""
    return ";".join(f"{write_clock(opens)}-{write_clock(closes)}" for opens, closes in windows_h) or "never"


_BAND = re.compile(r"\s*(\d[\d.]*)\s*[-–]\s*(\d[\d.]*)\s*(.*?)\s*")


def read_target(text: str) -> Target:
    """A target band: `1.0-1.2` is a pH drop, `20-30mg/L` is CO2. BadInputError or OutOfRangeError."""
    found = _BAND.fullmatch(text)
    kinds = {"": TargetKind.DROP, "drop": TargetKind.DROP, "ph": TargetKind.DROP, "mg/l": TargetKind.CO2}
    kind = kinds.get(found[3].lower()) if found else None
    if found is None or kind is None:
        raise BadInputError(
            f"{text.strip()!r} is no target.",
            where="target",
            cure="Write a pH drop such as 1.0-1.2, or a CO2 band such as 20-30mg/L.",
        )
    return Target(kind=kind, low=read_amount(PLAIN, found[1]), high=read_amount(PLAIN, found[2]))
