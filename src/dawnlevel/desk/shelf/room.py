"""Use case: CO2 in a room if the cylinder vents into it, against published limits."""

from dataclasses import dataclass
from datetime import datetime

from dawnlevel.desk.cited import cited
from dawnlevel.desk.shelf.cylinder_care import care_view
from dawnlevel.desk.shelf.cylinder_case import open_cylinder
from dawnlevel.desk.shelf.room_views import AirView, CylinderCareView, LimitView, RoomView
from dawnlevel.errors import BadInputError, NotEnoughRecordsError
from dawnlevel.store import Store
from dawnlevel.supply.handling import HANDLING
from dawnlevel.supply.limits import LIMITS, symptoms_at
from dawnlevel.supply.room import (
    OXYGEN_ALARM,
    OXYGEN_ALARM_SOUNDS_AT_CO2,
    Release,
    mass_for_fraction_kg,
    oxygen_fraction,
    pooled_co2_fraction,
    room_co2_fraction,
    steady_fraction,
)
from dawnlevel.tank import CylinderExchange

ROOM_HEIGHT_M = 2.5
"""Height taken where only the volume is known [m]; common practice, no source."""

LAYER_M = 0.5
AIR_CHANGES_PER_H = 0.5
"""A closed room in a dwelling; common practice, no source."""

_HOURS = (0.0, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 24.0)

CAUTIONS = (
    "CO2 has no smell at first and harms long before oxygen runs short.",
    "A CO2 alarm warns of it, an oxygen alarm does not.",
    "It is heavier than air: cabinets, cellars, low beds and pets on the floor meet it first.",
    "If a cylinder vents, leave, keep others out, let in fresh air, and call your local emergency number.",
    "Limits are for healthy adults at work, not for children, sleepers or homes.",
    "Local codes and your gas supplier decide.",
)


@dataclass(frozen=True, slots=True)
class GasAtHand:
    """The cylinder a tank runs on.

    Attributes:
        exchange: the record of its connection; None where only its gas is known.
        gas_kg: gas it may let out [kg]: its whole charge, since it may vent on its first day.
        use_kg_per_h: gas that goes in ordinary use [kg/h]; None where it is not known.
    """

    exchange: CylinderExchange | None
    gas_kg: float
    use_kg_per_h: float | None = None


def gas_at_hand(store: Store, name: str, now: datetime) -> GasAtHand:
    """The cylinder of tank `name` at `now` (aware). NotEnoughRecordsError where none is recorded."""
    records = [stored.record for stored in store.records(name, until=now)]
    exchanges = [one for one in records if isinstance(one, CylinderExchange) and one.at <= now]
    if not exchanges:
        raise NotEnoughRecordsError(
            "It is not known how much gas the cylinder holds.",
            where=f"tank {name}",
            cure="Say it: dawnlevel room 30m3 --gas 2kg",
        )
    try:
        case = open_cylinder(store.tank(name), records, now)
    except BadInputError:  # weighings that contradict each other leave the charge standing
        case = None
    use = None if case is None else case.use_g_per_day.median / 24e3
    return GasAtHand(exchanges[-1], exchanges[-1].gas_kg, use)


def room_view(
    gas: GasAtHand,
    room_m3: float,
    *,
    air_changes_per_h: float = AIR_CHANGES_PER_H,
    vents_over_h: float = 0.0,
    floor_m2: float | None = None,
    temp_c: float = 20.0,
) -> RoomView:
    """CO2 in a room's air if `gas` vents into `room_m3` [m3].

    Args:
        gas: the cylinder and its gas.
        room_m3: the room's air [m3].
        air_changes_per_h: fresh air, room volumes an hour.
        vents_over_h: hours over which the gas comes out; 0: at once.
        floor_m2: floor on which it may pool [m2]; None: the volume over 2.5 m.
        temp_c: temperature [degC].

    Raises OutOfRangeError for what no room is.
    """
    gas_kg = gas.gas_kg
    release = Release(
        mass_kg=gas_kg,
        room_m3=room_m3,
        hours=vents_over_h,
        air_changes_per_h=air_changes_per_h,
        temp_c=temp_c,
    )
    floor = room_m3 / ROOM_HEIGHT_M if floor_m2 is None else floor_m2
    mixed, pooled = release.peak_fraction, float(pooled_co2_fraction(gas_kg, floor, LAYER_M, temp_c))
    use = None
    if gas.use_kg_per_h is not None and air_changes_per_h > 0.0:
        use = 100.0 * float(steady_fraction(gas.use_kg_per_h, room_m3, air_changes_per_h, temp_c))
    care = care_view(gas.exchange)
    return RoomView(
        gas_kg=gas_kg,
        room_m3=room_m3,
        air_changes_per_h=air_changes_per_h,
        vents_over_h=vents_over_h,
        temp_c=temp_c,
        mixed_percent=100.0 * mixed,
        closed_percent=100.0 * float(room_co2_fraction(gas_kg, room_m3, temp_c)),
        pooled_percent=100.0 * pooled,
        floor_m2=floor,
        layer_m=LAYER_M,
        oxygen_percent=100.0 * float(oxygen_fraction(mixed)),
        feels=symptoms_at(mixed),
        feels_low=symptoms_at(pooled),
        use_percent=use,
        air=tuple(AirView(hour, 100.0 * float(release.fraction(hour))) for hour in _HOURS),
        limits=tuple(_limits(release)),
        alarm=_alarm(mixed),
        care=care,
        cautions=CAUTIONS,
        sources=cited(_sources(care)),
    )


def _sources(care: CylinderCareView) -> list[str]:
    """What the figures rest on, each once."""
    air = ("span_wagner_2003", *(one.source for one in LIMITS), "co2_symptoms", "oxygen_alarm")
    cylinder = (*(one.source for one in HANDLING), *(one.source for one in care.retests))
    return list(dict.fromkeys((*air, "span_wagner_1996", *cylinder)))


def _limits(release: Release) -> list[LimitView]:
    found = []
    for limit in LIMITS:
        above = release.hours_above(limit.fraction)
        begins, ends = above if above is not None else (None, None)
        found.append(
            LimitView(
                name=limit.name,
                percent=100.0 * limit.fraction,
                over=limit.over,
                dated=limit.dated,
                in_force=limit.in_force,
                passed=above is not None,
                begins_h=begins,
                ends_h=ends,
                mass_kg=float(mass_for_fraction_kg(limit.fraction, release.room_m3, release.temp_c)),
                source=limit.source,
            )
        )
    return found


def _alarm(mixed: float) -> str:
    """Why an oxygen alarm does not warn of CO2."""
    left = 100.0 * float(oxygen_fraction(mixed))
    sounds = "would sound, but late" if mixed >= OXYGEN_ALARM_SOUNDS_AT_CO2 else "would stay silent"
    from_percent = f"{100 * OXYGEN_ALARM_SOUNDS_AT_CO2:.1f} %"
    return (
        f"An oxygen alarm set to {100 * OXYGEN_ALARM:.1f} % {sounds}: {left:.1f} % oxygen would be left. "
        f"It first sounds at {from_percent} CO2, past the 4 % that is immediately dangerous."
    )
