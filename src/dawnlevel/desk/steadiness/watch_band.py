"""The band at lights-on as CO2, so that a log's days can be held against it."""

from collections.abc import Sequence
from zoneinfo import ZoneInfo

from dawnlevel.chemistry import air_co2_mg_l, co2_from_ph, pressure_atm_at_altitude
from dawnlevel.desk.phrases import day_text
from dawnlevel.desk.steadiness.watch_views import BandLimits
from dawnlevel.estimate.priors import OUTDOOR_PPM, ROOM_EXCESS_PPM
from dawnlevel.tank import BaselineCup, Record, Tank, TargetKind
from dawnlevel.watch.days import Card


def band_limits(tank: Tank, records: Sequence[Record], card: Card) -> BandLimits:
    """The tank's band [mg/L] by the KH that the log was read with.

    A drop counts from the last cup; without one, from water at rest with the room's air.
    """
    target, ceiling = tank.target, tank.co2_limit_mg_l
    if target.kind is TargetKind.CO2:
        return BandLimits(target.low, target.high, ceiling, "as you set it, in mg/L")
    wanted = f"a drop of {target.low:g} to {target.high:g}"
    cups = [one for one in records if isinstance(one, BaselineCup)]
    if cups:
        cup = max(cups, key=lambda one: one.at)
        ends = co2_from_ph([cup.ph - target.low, cup.ph - target.high], card.alkalinity_meq_l, card.temp_c)
        day = day_text(cup.at.astimezone(ZoneInfo(tank.timezone)))
        return BandLimits(
            float(ends[0]), float(ends[1]), ceiling, f"{wanted} from the cup of {day}, pH {cup.ph:g}"
        )
    room = tank.room_co2_ppm or OUTDOOR_PPM + ROOM_EXCESS_PPM[0]
    rest = float(air_co2_mg_l(card.temp_c, room, pressure_atm_at_altitude(tank.altitude_m)))
    said = f"{wanted} from water at rest with the room's air, since no cup is written down"
    return BandLimits(rest * 10.0**target.low, rest * 10.0**target.high, ceiling, said)
