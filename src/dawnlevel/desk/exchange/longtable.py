"""One record as rows of the long table that files carry, and back, losing nothing.

Columns: time (RFC 3339 with offset), tank, quantity, value, unit, method, note. The quantities are the
machine names of the records, and `temp` for the water temperature read together with a pH: it stands in
a row of its own, below the pH row of the same time. `method` carries what else is known of a reading:
the baseline cup's preparation, and `key=value` pairs separated by `;`.
"""

import re
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from dawnlevel.desk import amounts
from dawnlevel.desk.exchange.shelftable import SHELF_READERS, shelf_cells
from dawnlevel.desk.exchange.tablerow import TableRow, read_options, refuse_unit
from dawnlevel.errors import BadInputError
from dawnlevel.store.codec import kind_of
from dawnlevel.tank import (
    BaselineCup,
    BaselineMethod,
    CellColour,
    CellSighting,
    FishSighting,
    FishState,
    GasSwitch,
    KhTitration,
    PhReading,
    RateSetting,
    Record,
    SurveyReading,
    TimerSetting,
    WaterChange,
)

COLUMNS = ("time", "tank", "quantity", "value", "unit", "method", "note")
TEMP = "temp"
_RFC_3339 = re.compile(r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d(?::\d\d(?:\.\d+)?)?(?:[Zz]|[+-]\d\d:\d\d)")


def read_moment(text: str) -> datetime:
    """The moment (UTC) that RFC 3339 text with an offset names; BadInputError otherwise."""
    stripped = text.strip()
    with suppress(ValueError, OverflowError):  # a 30 February, a 25th hour: told like any other text
        if _RFC_3339.fullmatch(stripped):
            return datetime.fromisoformat(stripped.upper()).astimezone(UTC)
    raise BadInputError(
        f"{stripped!r} is no time with an offset.",
        where="time",
        cure="Write it like 2026-05-04T09:30:00+02:00 (or ...Z for UTC).",
    )


def write_moment(moment: datetime, zone: ZoneInfo) -> str:
    """RFC 3339 text of a moment in the offset of `zone`; in UTC where that offset has odd seconds."""
    local = moment.astimezone(zone)
    if (local.utcoffset() or timedelta()) % timedelta(minutes=1):
        local = moment.astimezone(UTC)
    return local.isoformat()


def _read_ph(row: TableRow, at: datetime) -> Record:
    read_options(row, "", ())
    return PhReading(at=at, note=row.note, ph=amounts.read_amount(amounts.PH, row.value, row.unit))


def _read_kh(row: TableRow, at: datetime) -> Record:
    step = read_options(row, "", ("step_dkh",)).get("step_dkh")
    return KhTitration(
        at=at,
        note=row.note,
        kh_dkh=amounts.read_amount(amounts.KH, row.value, row.unit),
        step_dkh=None if step is None else amounts.read_amount(amounts.PLAIN, step),
    )


def _read_baseline(row: TableRow, at: datetime) -> Record:
    options = read_options(row, "method", ("method", "hours", "room_co2_ppm"))
    more: dict[str, float] = {
        name: amounts.read_amount(amounts.PLAIN, options[name])
        for name in ("hours", "room_co2_ppm")
        if name in options
    }
    method = options.get("method", BaselineMethod.STILL_CUP)
    ph = amounts.read_amount(amounts.PH, row.value, row.unit)
    return BaselineCup(
        at=at, note=row.note, ph=ph, method=amounts.read_choice(BaselineMethod, method, "method"), **more
    )


def _read_word(row: TableRow, at: datetime) -> Record:
    """Records whose value is a word or a list of times."""
    read_options(row, "", ())
    refuse_unit(row)
    if row.quantity == "cell":
        return CellSighting(at=at, note=row.note, colour=amounts.read_choice(CellColour, row.value, "cell"))
    if row.quantity == "fish":
        return FishSighting(at=at, note=row.note, state=amounts.read_choice(FishState, row.value, "fish"))
    if row.quantity == "gas":
        return GasSwitch(at=at, note=row.note, is_open=amounts.read_open(row.value))
    return TimerSetting(at=at, note=row.note, windows_h=amounts.read_windows(row.value))


def _read_rate(row: TableRow, at: datetime) -> Record:
    read_options(row, "", ())
    count = amounts.read_amount(amounts.RATE, row.value, row.unit)
    return RateSetting(at=at, note=row.note, bubbles_per_second=count)


def _read_water_change(row: TableRow, at: datetime) -> Record:
    read_options(row, "", ())
    share = amounts.read_amount(amounts.SHARE, row.value, row.unit)
    return WaterChange(at=at, note=row.note, fraction=share)


_PLACE = ("place", "x_cm", "y_cm", "z_cm")


def _read_survey(row: TableRow, at: datetime) -> Record:
    options = read_options(row, "place", _PLACE)
    ph = amounts.read_amount(amounts.PH, row.value, row.unit)
    cm = {name: amounts.read_amount(amounts.PLAIN, options[name]) for name in _PLACE[1:] if name in options}
    return SurveyReading(at=at, note=row.note, ph=ph, place=options.get("place", ""), **cm)


_READERS: dict[str, Callable[[TableRow, datetime], Record]] = {
    "ph": _read_ph,
    "kh": _read_kh,
    "baseline": _read_baseline,
    "cell": _read_word,
    "rate": _read_rate,
    "gas": _read_word,
    "timer": _read_word,
    "fish": _read_word,
    "water_change": _read_water_change,
    "survey": _read_survey,
    **SHELF_READERS,
}


def read_row(row: TableRow, at: datetime) -> Record:
    """The record of a row at `at` (UTC), all but `temp`; BadInputError or OutOfRangeError otherwise."""
    reader = _READERS.get(row.quantity)
    if reader is None:
        raise BadInputError(
            f"{row.quantity!r} is no quantity.",
            where="quantity",
            cure=f"Write one of {', '.join((*_READERS, TEMP))}.",
        )
    return reader(row, at)


def _value_cells(record: Record) -> tuple[str, str, str]:
    """Value, unit and method of a record."""
    match record:
        case PhReading() | SurveyReading():
            return repr(record.ph), "[pH]", _where(record)
        case KhTitration():
            step = "" if record.step_dkh is None else f"step_dkh={record.step_dkh!r}"
            return repr(record.kh_dkh), "dKH", step
        case BaselineCup():
            room = "" if record.room_co2_ppm is None else f";room_co2_ppm={record.room_co2_ppm!r}"
            return repr(record.ph), "[pH]", f"{record.method};hours={record.hours!r}{room}"
        case RateSetting():
            return repr(record.bubbles_per_second), "/s", ""
        case WaterChange():
            return *amounts.write_share(record.fraction), ""
        case _:
            return shelf_cells(record) if kind_of(record) in SHELF_READERS else (_word_value(record), "", "")


def _where(record: PhReading | SurveyReading) -> str:
    """The place of a reading; empty for one of the tank as a whole."""
    if isinstance(record, PhReading):
        return ""
    return record.place or ";".join(f"{name}={getattr(record, name)!r}" for name in _PLACE[1:])


def _word_value(record: Record) -> str:
    match record:
        case CellSighting():
            return record.colour.value
        case FishSighting():
            return record.state.value
        case GasSwitch():
            return "open" if record.is_open else "closed"
        case TimerSetting():
            return amounts.write_windows(record.windows_h)
        case _:
            raise TypeError(record)  # a kind of record nobody has taught this module yet


def write_rows(tank_name: str, record: Record, zone: ZoneInfo) -> list[TableRow]:
    """The row of a record; two for a pH with its temperature. Reading them gives the same record."""
    time = write_moment(record.at, zone)
    rows = [TableRow(time, tank_name, kind_of(record), *_value_cells(record), record.note)]
    if isinstance(record, PhReading) and record.temp_c is not None:
        rows.append(TableRow(time, tank_name, TEMP, repr(record.temp_c), "Cel"))
    return rows
