"""From the words a person gave, on a command line or in a form, to the fields of records and tanks."""

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import fields

from dawnlevel.desk import amounts
from dawnlevel.desk.amounts import read_amount, read_choice, read_clock, read_count
from dawnlevel.desk.animals.animal_words import read_animals
from dawnlevel.errors import BadInputError
from dawnlevel.tank import (
    AnimalKind,
    BaselineCup,
    BaselineMethod,
    Buffer,
    BufferCheck,
    CellColour,
    CellSighting,
    CylinderExchange,
    CylinderStandard,
    CylinderWeighing,
    Diffuser,
    FishSighting,
    FishState,
    GasSwitch,
    GaugeReading,
    KhTitration,
    OxygenReading,
    Photoperiod,
    PhReading,
    Planting,
    RateSetting,
    Record,
    SolutionPrepared,
    Surface,
    SurveyReading,
    Tank,
    TimerSetting,
    WaterChange,
    WeighedWith,
)
from dawnlevel.tank.places import place_name

Reader = Callable[[str], object]


def _amount(measure: amounts.Measure) -> Reader:
    return lambda text: read_amount(measure, text)


def _share(text: str, tank: Tank) -> float:
    """A share of the water: a percentage, a fraction, or a volume of this tank's."""
    try:
        return read_amount(amounts.SHARE, text)
    except BadInputError:
        return read_amount(amounts.VOLUME, text) / tank.volume_l


_VALUES: dict[type[Record], tuple[str, Reader]] = {
    PhReading: ("ph", _amount(amounts.PH)),
    KhTitration: ("kh_dkh", _amount(amounts.KH)),
    BaselineCup: ("ph", _amount(amounts.PH)),
    CellSighting: ("colour", lambda text: read_choice(CellColour, text, "cell")),
    RateSetting: ("bubbles_per_second", _amount(amounts.RATE)),
    GasSwitch: ("is_open", amounts.read_open),
    TimerSetting: ("windows_h", amounts.read_windows),
    FishSighting: ("state", lambda text: read_choice(FishState, text, "fish")),
    CylinderExchange: ("gas_kg", _amount(amounts.MASS)),
    CylinderWeighing: ("gross_kg", _amount(amounts.MASS)),
    GaugeReading: ("gauge_bar", _amount(amounts.PRESSURE)),
    SolutionPrepared: ("kh_dkh", _amount(amounts.KH)),
    SurveyReading: ("ph", _amount(amounts.PH)),
}
"""The field that a record's one value fills, and how it is read. A water change needs the tank too, buffers
have two, oxygen is in mg/L or %."""

_EXTRAS: dict[str, tuple[str, Reader]] = {
    "temp": ("temp_c", _amount(amounts.TEMPERATURE)),
    "step": ("step_dkh", _amount(amounts.KH)),
    "hours": ("hours", _amount(amounts.HOURS)),
    "method": ("method", lambda text: read_choice(BaselineMethod, text, "method")),
    "room_co2": ("room_co2_ppm", _amount(amounts.PPM)),
    "tare": ("tare_kg", _amount(amounts.MASS)),
    "capacity": ("capacity_l", _amount(amounts.VOLUME)),
    "standard": ("standard", lambda text: read_choice(CylinderStandard, text, "standard")),
    "tested": ("tested", str.strip),
    "price": ("price", _amount(amounts.PLAIN)),
    "scale": ("scale_kg", _amount(amounts.MASS)),
    "stood": ("stood", lambda text: read_choice(WeighedWith, text, "stood")),
    "low": ("low", lambda text: read_choice(Buffer, text, "lower buffer")),
    "high": ("high", lambda text: read_choice(Buffer, text, "higher buffer")),
    "adjusted": ("adjusted", lambda text: amounts.read_yes(text, "adjusted")),
    "error": ("error_percent", _amount(amounts.PERCENT)),
    "pressure": ("pressure_hpa", _amount(amounts.AIR_PRESSURE)),
    "within": ("error_mg_l", _amount(amounts.OXYGEN)),
    "place": ("place", place_name),
    "x": ("x_cm", _amount(amounts.LENGTH)),
    "y": ("y_cm", _amount(amounts.LENGTH)),
    "z": ("z_cm", _amount(amounts.LENGTH)),
}
"""What may be given besides the value, and the field it fills in some kinds of record."""


def record_fields(
    kind: type[Record], value: str | None, extras: Mapping[str, str | None], tank: Tank
) -> dict[str, object]:
    """Constructor arguments for what was given; options left out (None) fill nothing.

    BadInputError for what cannot be read, and for an option that this kind of record has no field for.
    """
    found: dict[str, object] = {}
    if value is not None and kind is WaterChange:
        found["fraction"] = _share(value, tank)
    elif value is not None and kind is BufferCheck:
        found["low_ph"], found["high_ph"] = amounts.read_pair(value, "buffers")
    elif value is not None and kind is OxygenReading:
        name, found_value = amounts.read_oxygen(value)
        found |= {"oxygen_mg_l": None, "saturation_percent": None, name: found_value}
    elif value is not None:
        name, reader = _VALUES[kind]
        found[name] = reader(value)
    known = {field.name for field in fields(kind)}
    for option, text in extras.items():
        name, reader = _EXTRAS[option]
        if text is None:
            continue
        if name not in known:
            raise BadInputError(
                f"A record of this kind has no {option.replace('_', ' ')}.",
                where="record",
                cure="Leave it out.",
            )
        found[name] = reader(text)
    return found


def _maybe(reader: Reader) -> Reader:
    """The same, with the word `none` for not known."""
    return lambda text: None if text.strip().lower() == "none" else reader(text)


def _owner(text: str) -> str:
    """An owner's name with single spaces; `none` for the keeper's own tank."""
    name = " ".join(text.split())
    return "" if name.lower() == "none" else name


def _photoperiod(text: str) -> Photoperiod:
    lights_on_h, lights_off_h = amounts.read_span(text, "lights")
    return Photoperiod(lights_on_h=lights_on_h, lights_off_h=lights_off_h)


_FOOTPRINT = re.compile(r"\s*([\d.]+)\s*(\D*?)\s*[x×*]\s*([\d.]+)\s*(\D*)", re.IGNORECASE)


def _footprint(text: str) -> float:
    """Area [cm2] of a length by a width such as 90x45cm or 36x18in."""
    found = _FOOTPRINT.fullmatch(text)
    if found is None:
        raise BadInputError(
            f"{text!r} is no length by width.", where="footprint", cure="Write 90x45cm or 36x18in."
        )
    length, width = (read_amount(amounts.LENGTH, one, found[4].strip()) for one in (found[1], found[3]))
    return length * width


TANK_FIELDS: dict[str, tuple[str, Reader, str]] = {
    "volume": ("volume_l", _amount(amounts.VOLUME), "Water in the tank: 180L or 48gal."),
    "depth": ("depth_cm", _amount(amounts.LENGTH), "Depth of the water: 45cm or 18in."),
    "footprint": ("surface_cm2", _footprint, "Length by width: 90x45cm. Default: volume by depth."),
    "lights": ("photoperiod", _photoperiod, "When the lights are on: 13:00-21:00."),
    "temp": ("temp_c", _amount(amounts.TEMPERATURE), "Water temperature: 25C or 77F."),
    "planting": (
        "planting",
        lambda text: read_choice(Planting, text, "planting"),
        "sparse, medium or dense.",
    ),
    "surface": (
        "surface",
        lambda text: read_choice(Surface, text, "surface"),
        "How the surface moves: still, gentle, rippled or strong.",
    ),
    "diffuser": (
        "diffuser",
        lambda text: read_choice(Diffuser, text, "diffuser"),
        "How gas is dissolved: coarse, fine, inline or reactor.",
    ),
    "gh": ("gh_dgh", _maybe(_amount(amounts.GH)), "General hardness: 8dGH, or none."),
    "conductivity": (
        "conductivity_us_cm",
        _maybe(_amount(amounts.CONDUCTIVITY)),
        "Conductivity: 350uS/cm, or none.",
    ),
    "altitude": ("altitude_m", _amount(amounts.ALTITUDE), "Height above the sea: 300m."),
    "room-co2": ("room_co2_ppm", _maybe(_amount(amounts.PPM)), "CO2 of the room's air: 600ppm, or none."),
    "kh-step": ("kh_step_dkh", _amount(amounts.KH), "What one drop of the KH kit stands for: 1dKH."),
    "ph-step": ("ph_step", _amount(amounts.PH), "Last digit of the pH meter: 0.01."),
    "limit": (
        "co2_limit_mg_l",
        _amount(amounts.CO2),
        "CO2 your livestock must never see: 30mg/L. By default as the animals ask.",
    ),
    "limit-reason": ("limit_reason", str.strip, "Why the limit is above the guidance, where it is."),
    "animals": (
        "animals",
        read_animals,
        f"Kind, number, weight of one: fish:12:1.5g,shrimp:20:0.2g; or none. Kinds: {', '.join(AnimalKind)}.",
    ),
    "target": ("target", amounts.read_target, "Band wanted at lights-on: a drop 1.0-1.2, or 20-30mg/L."),
    "first-rate": ("first_rate_bps", _amount(amounts.RATE), "Rate you would begin with: 1/s."),
    "readings": (
        "reads_per_ramp",
        lambda text: read_count(amounts.PLAIN, text),
        "Readings before lights-on you will take: 5.",
    ),
    "earliest-gas": (
        "earliest_start_h",
        _maybe(lambda text: read_clock(text, "earliest gas")),
        "Gas may not start earlier: 06:00, or none.",
    ),
    "timer-windows": (
        "timer_windows",
        lambda text: read_count(amounts.PLAIN, text),
        "On/off windows a day the gas timer can switch: 1.",
    ),
    "timezone": ("timezone", str, "IANA name: Europe/Madrid. Default: this computer's."),
    "owner": ("owner", _owner, "Whose tank it is, where you look after several people's; or none."),
}
"""What describes a tank: the field each word fills, how it is read, and its help."""


def tank_fields(options: Mapping[str, str | None]) -> dict[str, object]:
    """Fields of a tank for the options given (None: left out); BadInputError or OutOfRangeError."""
    found: dict[str, object] = {}
    for option, (name, reader, _) in TANK_FIELDS.items():
        text = options.get(option.replace("-", "_"))
        if text is not None:
            found[name] = reader(text)
    return found


def with_surface(changes: Mapping[str, object], before: Tank) -> dict[str, object]:
    """`changes` of a description, in which a surface that came from volume by depth follows those two."""
    volume, depth = changes.get("volume_l", before.volume_l), changes.get("depth_cm", before.depth_cm)
    came_from_them = math.isclose(
        before.surface_cm2, surface_cm2(before.volume_l, before.depth_cm), rel_tol=1e-6
    )
    if "surface_cm2" in changes or not came_from_them or not {"volume_l", "depth_cm"} & changes.keys():
        return dict(changes)
    return {**changes, "surface_cm2": surface_cm2(float(str(volume)), float(str(depth)))}


def surface_cm2(volume_l: float, depth_cm: float) -> float:
    """The surface [cm2] of water with upright walls."""
    return volume_l * 1000.0 / depth_cm
