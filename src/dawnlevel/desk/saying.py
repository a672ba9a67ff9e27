"""Records and moments in a keeper's words."""

from datetime import datetime
from zoneinfo import ZoneInfo

from dawnlevel.desk.amounts import write_windows
from dawnlevel.tank import (
    BaselineCup,
    CellSighting,
    FishSighting,
    GasSwitch,
    KhTitration,
    PhReading,
    RateSetting,
    Record,
    TimerSetting,
    WaterChange,
)


def say(record: Record) -> str:
    """What was seen or done, without its moment and note."""
    match record:
        case PhReading():
            temp = "" if record.temp_c is None else f" at {record.temp_c:.4g} °C"
            return f"pH {record.ph:g}{temp}"
        case KhTitration():
            step = "" if record.step_dkh is None else f" (steps of {record.step_dkh:.3g})"
            return f"KH {record.kh_dkh:.4g} dKH{step}"
        case BaselineCup():
            room = "" if record.room_co2_ppm is None else f", room {record.room_co2_ppm:g} ppm"
            method = record.method.value.replace("_", " ")
            return f"baseline pH {record.ph:g} ({method}, {record.hours:.4g} h{room})"
        case WaterChange():
            return f"water change {record.fraction * 100:.3g} %"
        case _:
            return _say_gas(record)


def _say_gas(record: Record) -> str:
    match record:
        case CellSighting():
            return f"cell {record.colour}"
        case FishSighting():
            return f"fish {record.state}"
        case RateSetting():
            return f"rate {record.bubbles_per_second:.4g} bubbles/s"
        case GasSwitch():
            return f"gas {'open' if record.is_open else 'closed'}"
        case TimerSetting():
            return f"timer {write_windows(record.windows_h).replace(';', ', ')}"
        case _:
            raise TypeError(record)  # a kind of record nobody has taught this module yet


def say_moment(moment: datetime, zone: ZoneInfo) -> str:
    """A moment on the wall clock of `zone`, to the minute."""
    return f"{moment.astimezone(zone):%Y-%m-%d %H:%M}"
