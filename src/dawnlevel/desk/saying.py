"""Records and moments in a keeper's words."""

from datetime import datetime
from zoneinfo import ZoneInfo

from dawnlevel.desk.amounts import write_windows
from dawnlevel.tank import (
    BaselineCup,
    Buffer,
    BufferCheck,
    CellSighting,
    CylinderExchange,
    CylinderStandard,
    CylinderWeighing,
    FishSighting,
    GasSwitch,
    GaugeReading,
    KhTitration,
    OxygenReading,
    PhReading,
    RateSetting,
    Record,
    SolutionPrepared,
    SurveyReading,
    TimerSetting,
    WaterChange,
    WeighedWith,
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
        case SurveyReading():
            return f"pH {record.ph:g} at {record.where}"
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
            return _say_shelf(record)


def _oxygen(record: OxygenReading) -> str:
    shown = [
        f"{record.oxygen_mg_l:.4g} mg/L" if record.oxygen_mg_l is not None else "",
        f"{record.saturation_percent:.4g} %" if record.saturation_percent is not None else "",
    ]
    temp = "" if record.temp_c is None else f" at {record.temp_c:.4g} °C"
    return ", ".join(filter(None, shown)) + temp


def _say_shelf(record: Record) -> str:
    match record:
        case CylinderExchange():
            return f"cylinder with {record.gas_kg:.4g} kg of gas{_of_cylinder(record)}"
        case CylinderWeighing():
            alone = " without regulator" if record.stood is WeighedWith.BARE else ""
            return f"cylinder weighs {record.gross_kg:.5g} kg{alone} (within {1000 * record.scale_kg:.3g} g)"
        case OxygenReading():
            return f"oxygen {_oxygen(record)}"
        case GaugeReading():
            temp = "" if record.temp_c is None else f" at {record.temp_c:.4g} °C"
            return f"gauge {record.gauge_bar:.4g} bar{temp}"
        case BufferCheck():
            adjusted = "adjusted" if record.adjusted else "not adjusted"
            return (
                f"buffers {record.low_ph:g} in {_buffer(record.low)}, {record.high_ph:g} in "
                f"{_buffer(record.high)} at {record.temp_c:.4g} °C, {adjusted}"
            )
        case SolutionPrepared():
            error = "" if record.error_percent is None else f" (within {record.error_percent:.3g} %)"
            return f"cell's solution of {record.kh_dkh:.4g} dKH{error}"
        case _:
            raise TypeError(record)  # a kind of record nobody has taught this module yet


def _buffer(kind: Buffer) -> str:
    return kind.value.replace("_", " ")


def _of_cylinder(record: CylinderExchange) -> str:
    """What else is known of it, in brackets."""
    known = [
        f"empty {record.tare_kg:.4g} kg" if record.tare_kg is not None else "",
        f"holds {record.capacity_l:.3g} L" if record.capacity_l is not None else "",
        record.standard.value.upper() if record.standard is not CylinderStandard.UNKNOWN else "",
        f"tested {record.tested}" if record.tested else "",
        f"price {record.price:g}" if record.price is not None else "",
    ]
    told = ", ".join(filter(None, known))
    return f" ({told})" if told else ""


def say_moment(moment: datetime, zone: ZoneInfo) -> str:
    """A moment on the wall clock of `zone`, to the minute."""
    return f"{moment.astimezone(zone):%Y-%m-%d %H:%M}"
