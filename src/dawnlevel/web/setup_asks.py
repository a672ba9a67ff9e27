"""The questions that describe a tank: a few on each step, what each answer means for the forecast."""

from dataclasses import dataclass

Units = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Ask:
    """One question.

    Attributes:
        name: the field's name in the form.
        label: what is asked.
        meaning: one sentence on what the answer means for the forecast.
        units: what it may be given in, the usual one first; empty where it has none.
        example: shown in an empty field.
        mode: the keyboard a phone shows.
        needed: what to say where it is left empty; empty where it may be.
        choices: machine names and sentences, for a choice among few.
    """

    name: str
    label: str
    meaning: str
    units: Units = ()
    example: str = ""
    mode: str = "decimal"
    needed: str = ""
    choices: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Step:
    """Questions asked together."""

    key: str
    title: str
    lead: str
    asks: tuple[Ask, ...]


_LENGTHS = ("cm", "in")

ANIMALS: tuple[tuple[str, str], ...] = (
    ("fish", "Grown fish of warm water"),
    ("labyrinth", "Fish that breathe air (gouramis, bettas)"),
    ("coldwater", "Fish of cold water"),
    ("fry", "Fry and young fish"),
    ("shrimp", "Shrimp and crayfish"),
    ("snails", "Snails and mussels"),
    ("other", "Other animals"),
)
"""Kinds of animals as asked for: machine name and words."""


def _animal_asks(kind: str, label: str) -> tuple[Ask, Ask]:
    """How many of a kind, and what one weighs."""
    return (
        Ask(f"{kind}_number", f"{label}: how many?", "Left empty: none.", example="12", mode="numeric"),
        Ask(
            f"{kind}_weight",
            f"{label}: weight of one",
            "About is enough; a fish of 3 cm weighs about 0.5 g, one of 5 cm about 2 g.",
            ("g", "kg"),
            "1.5",
        ),
    )


STEPS: tuple[Step, ...] = (
    Step(
        "size",
        "Name and size",
        "How much water there is, and how deep: CO2 leaves shallow water sooner.",
        (
            Ask("name", "Name", "So that you know it among several.", mode="text", needed="Give it a name."),
            Ask(
                "volume",
                "Water in the tank",
                "The more water, the less a bubble raises CO2. Count the water, not stones and soil.",
                ("L", "gal"),
                "180",
                needed="Say how much water there is.",
            ),
            Ask(
                "depth",
                "Depth of the water",
                "Twice as deep takes about twice as long, both to rise and to fall.",
                _LENGTHS,
                "45",
                needed="Say how deep the water is.",
            ),
            Ask(
                "length",
                "Length, if you know it",
                "With the width: the surface through which gas leaves. Left empty, volume by depth gives it.",
                _LENGTHS,
                "90",
            ),
            Ask("width", "Width, if you know it", "See length.", _LENGTHS, "45"),
            Ask(
                "owner",
                "Whose tank it is, if you look after several people's",
                "It changes no forecast: what you hand to one owner then shows nothing of another's tanks.",
                mode="text",
            ),
        ),
    ),
    Step(
        "lights",
        "Lights and place",
        "The forecast aims at lights-on: from then on plants take CO2 up.",
        (
            Ask(
                "lights_on",
                "Lights on",
                "The moment at which CO2 should be where you want it.",
                example="13:00",
                mode="text",
                needed="Say when the lights come on.",
            ),
            Ask(
                "lights_off",
                "Lights off",
                "Plants rest from here on, so the gas can stop before.",
                example="21:00",
                mode="text",
                needed="Say when the lights go off.",
            ),
            Ask(
                "timezone",
                "Time zone",
                "Times you type are read on the clock of this place, also when the clocks change.",
                example="Europe/Madrid",
                mode="text",
                needed="Name the time zone, for example Europe/Madrid.",
            ),
        ),
    ),
    Step(
        "water",
        "Surface, plants, diffuser",
        "A first idea of how fast CO2 comes and goes. Your readings correct it within days.",
        (
            Ask(
                "surface",
                "How does the surface move?",
                "It decides how fast CO2 leaves when the gas is closed.",
                choices=(
                    ("still", "Still: a mirror; only the air above moves. CO2 stays long."),
                    ("gentle", "Gentle: it sways and drifts without ripples. CO2 leaves over many hours."),
                    ("rippled", "Rippled: small waves all over. Half leaves within a few hours."),
                    ("strong", "Strong: it breaks, or an air stone or a spray bar runs. CO2 leaves fast."),
                ),
            ),
            Ask(
                "planting",
                "How densely is it planted?",
                "It decides how much CO2 goes missing once the lights are on.",
                choices=(
                    ("sparse", "Sparse: a few plants, much open ground. Light changes CO2 little."),
                    ("medium", "Medium: about half of the ground. The level sags slowly in light."),
                    ("dense", "Dense: plants all over, fast ones too. The level sags unless gas keeps up."),
                ),
            ),
            Ask(
                "diffuser",
                "How is the gas dissolved?",
                "It decides how much of each bubble ends up in the water.",
                choices=(
                    ("coarse", "Coarse: bubbles that rise to the surface in sight. Much is lost."),
                    ("fine", "Fine: a ceramic disc with a mist. More than half usually dissolves."),
                    ("inline", "Inline: a diffuser in the filter's hose. Little is lost."),
                    ("reactor", "Reactor: a chamber in which bubbles stay until they are gone."),
                ),
            ),
        ),
    ),
    Step(
        "instruments",
        "Water and instruments",
        "What you do not know may stay empty; the forecast is then less sure, not wrong.",
        (
            Ask("temp", "Water temperature", "Colder water holds more CO2.", ("°C", "°F"), "25"),
            Ask(
                "kh_step",
                "One drop of the KH kit",
                "Finer drops make mg/L surer. A double water sample halves what a drop stands for.",
                ("dKH", "mg/L CaCO3"),
                "1",
            ),
            Ask("ph_step", "Last digit of the pH meter", "A coarse meter sees a rise later.", example="0.01"),
            Ask("gh", "General hardness, if known", "Salts shift pH and CO2 a little.", ("dGH",), "8"),
            Ask(
                "conductivity",
                "Conductivity, if known",
                "The better measure of the same; leave one of them empty.",
                ("uS/cm",),
                "350",
            ),
            Ask(
                "altitude", "Height above the sea", "Thin air holds less CO2 in degassed water.", ("m",), "0"
            ),
            Ask(
                "room_co2",
                "CO2 of the room's air, if measured",
                "It sets the baseline. Left empty, the forecast allows for a wide span.",
                ("ppm",),
                "600",
            ),
        ),
    ),
    Step(
        "animals",
        "Animals",
        "The ceiling for CO2 comes from the most sensitive of them. Leave out what does not live here.",
        tuple(ask for kind, label in ANIMALS for ask in _animal_asks(kind, label)),
    ),
    Step(
        "target",
        "Target and ceiling",
        "Where CO2 should be at lights-on, and what your livestock must never see.",
        (
            Ask(
                "target_kind",
                "What do you steer by?",
                "A drop needs no KH count; mg/L needs one, and is less sure by its error.",
                choices=(
                    ("drop", "pH drop: how far pH falls below the degassed baseline cup."),
                    ("mg/L", "CO2 in mg/L: from pH and KH."),
                ),
            ),
            Ask(
                "low",
                "From",
                "The lower end of the band wanted at lights-on, in what you steer by.",
                example="1.0",
                needed="Give the lower end, for example 1.0.",
            ),
            Ask(
                "high",
                "To",
                "The upper end. A narrow band is harder to hit than a wide one.",
                example="1.2",
                needed="Give the upper end, for example 1.2.",
            ),
            Ask(
                "limit",
                "Ceiling for the livestock",
                "Plans stay below it. Left empty: what published guidance gives for your animals. Watch the "
                "fish all the same; a veterinarian knows sensitive kinds.",
                ("mg/L",),
                "30",
            ),
            Ask(
                "limit_reason",
                "Why above the guidance, if it is",
                "A ceiling above the guidance for your animals is kept only with its reason.",
                mode="text",
            ),
        ),
    ),
    Step(
        "timer",
        "The gas and its timer",
        "So that plans fit what you have and how often you can look.",
        (
            Ask(
                "timer_windows",
                "On/off windows a day the gas timer can switch",
                "With more than one, gas can pause at midday.",
                example="1",
            ),
            Ask(
                "earliest_gas",
                "Gas may not start before, if it matters",
                "An early start may be gentler but needs somebody awake.",
                example="06:00",
                mode="text",
            ),
            Ask(
                "first_rate",
                "Rate you would begin with",
                "Only a beginning: the first days' advice moves it.",
                ("/s", "/min"),
                "1",
            ),
            Ask(
                "readings",
                "Readings before lights-on you will take",
                "Each makes the forecast surer; five in a ramp are plenty.",
                example="5",
            ),
        ),
    ),
)

DEFAULTS: dict[str, str] = {
    "surface": "gentle",
    "planting": "medium",
    "diffuser": "fine",
    "temp": "25",
    "kh_step": "1",
    "ph_step": "0.01",
    "altitude": "0",
    "target_kind": "drop",
    "low": "1.0",
    "high": "1.2",
    "timer_windows": "1",
    "first_rate": "1",
    "readings": "5",
    "since": "today",
}
"""What stands in a new tank's fields before anything is typed; the time zone is this computer's."""


def step_of(key: str) -> Step | None:
    """The step called `key`."""
    return next((step for step in STEPS if step.key == key), None)
