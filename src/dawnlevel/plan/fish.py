"""The fish come first: what their behaviour asks for, before any forecast."""

from datetime import datetime, timedelta

from dawnlevel.tank import FishSighting, FishState, Record

UNEASY_HOURS = timedelta(hours=12)
"""How long an uneasy sighting stands unless a calm one clears it; common practice, no source."""


def standing_state(records: list[Record], now: datetime) -> FishState:
    """The state that counts now: distress until a calm sighting clears it, uneasy for half a day."""
    sightings = [record for record in records if isinstance(record, FishSighting) and record.at <= now]
    for position in reversed(range(len(sightings))):
        sighting = sightings[position]
        if sighting.state is FishState.CALM:
            return FishState.CALM
        if sighting.state is FishState.DISTRESS:
            return FishState.DISTRESS
        if now - sighting.at <= UNEASY_HOURS:
            return FishState.DISTRESS if _distress_before(sightings[:position]) else FishState.UNEASY
    return FishState.CALM


def _distress_before(earlier: list[FishSighting]) -> bool:
    """Whether a distress among the earlier sightings has not been cleared by a calm one since."""
    for sighting in reversed(earlier):
        if sighting.state is not FishState.UNEASY:
            return sighting.state is FishState.DISTRESS
    return False


DISTRESS_STEPS = (
    "Close the gas now.",
    "Aerate hard: air stone, outflow to the surface, lid open.",
    "Gasping has other causes too: check ammonia, nitrite and oxygen, and whether the filter runs.",
    "If it does not ease within minutes, change part of the water for aged water of the same temperature.",
    "Ask a veterinarian who treats fish. Do not tune again until the fish are calm and you have recorded it.",
)
"""What to do in distress: Merck Veterinary Manual and UF/IFAS FA27 on piping and its causes; remedies
from memory, not checked."""

UNEASY_STEPS = (
    "Lower the rate now and move the surface more.",
    "Look again in ten minutes; close the gas if it gets worse.",
    "Rule out low oxygen, ammonia and nitrite before blaming CO2 alone.",
)
"""What to do when fish are uneasy: the same sources."""

UNEASY_FACTOR = 0.8
"""Rate to go to when fish are uneasy, as a share of the present one; common practice, no source."""
