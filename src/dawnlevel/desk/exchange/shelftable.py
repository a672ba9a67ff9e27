"""Rows of the long table for cylinders, gauges, buffers, solutions and oxygen, there and back."""

from collections.abc import Callable
from datetime import datetime

from dawnlevel.desk import amounts
from dawnlevel.desk.exchange.tablerow import TableRow, read_options, refuse_unit
from dawnlevel.tank import (
    Buffer,
    BufferCheck,
    CylinderExchange,
    CylinderStandard,
    CylinderWeighing,
    GaugeReading,
    OxygenReading,
    Record,
    SolutionPrepared,
    WeighedWith,
)

Cells = tuple[str, str, str]


def _number(options: dict[str, str], name: str) -> float | None:
    """A plain figure of the method cell; None where it is left out."""
    return amounts.read_amount(amounts.PLAIN, options[name]) if name in options else None


def _known(**figures: float | None) -> dict[str, float]:
    """The figures that are there; the others take their defaults."""
    return {name: value for name, value in figures.items() if value is not None}


def _read_cylinder(row: TableRow, at: datetime) -> Record:
    options = read_options(row, "standard", ("standard", "tare_kg", "capacity_l", "tested", "price"))
    standard = options.get("standard", CylinderStandard.UNKNOWN)
    return CylinderExchange(
        at=at,
        note=row.note,
        gas_kg=amounts.read_amount(amounts.MASS, row.value, row.unit),
        tare_kg=_number(options, "tare_kg"),
        capacity_l=_number(options, "capacity_l"),
        standard=amounts.read_choice(CylinderStandard, standard, "standard"),
        tested=options.get("tested", ""),
        price=_number(options, "price"),
    )


def _read_weight(row: TableRow, at: datetime) -> Record:
    options = read_options(row, "stood", ("stood", "scale_kg"))
    scale_kg = _number(options, "scale_kg")
    stood = amounts.read_choice(WeighedWith, options.get("stood", WeighedWith.REGULATOR), "stood")
    gross = amounts.read_amount(amounts.MASS, row.value, row.unit)
    return CylinderWeighing(at=at, note=row.note, gross_kg=gross, stood=stood, **_known(scale_kg=scale_kg))


def _read_gauge(row: TableRow, at: datetime) -> Record:
    options = read_options(row, "temp_c", ("temp_c",))
    gauge = amounts.read_amount(amounts.PRESSURE, row.value, row.unit)
    return GaugeReading(at=at, note=row.note, gauge_bar=gauge, temp_c=_number(options, "temp_c"))


def _read_buffers(row: TableRow, at: datetime) -> Record:
    options = read_options(row, "", ("low", "high", "temp_c", "adjusted"))
    refuse_unit(row)
    low_ph, high_ph = amounts.read_pair(row.value, "buffers")
    temp_c = _number(options, "temp_c")
    return BufferCheck(
        at=at,
        note=row.note,
        low_ph=low_ph,
        high_ph=high_ph,
        low=amounts.read_choice(Buffer, options.get("low", Buffer.PHTHALATE), "lower buffer"),
        high=amounts.read_choice(Buffer, options.get("high", Buffer.PHOSPHATE), "higher buffer"),
        adjusted=amounts.read_yes(options.get("adjusted", "yes"), "adjusted"),
        **_known(temp_c=temp_c),
    )


def _read_solution(row: TableRow, at: datetime) -> Record:
    options = read_options(row, "error_percent", ("error_percent",))
    kh_dkh = amounts.read_amount(amounts.KH, row.value, row.unit)
    return SolutionPrepared(
        at=at, note=row.note, kh_dkh=kh_dkh, error_percent=_number(options, "error_percent")
    )


def _read_oxygen(row: TableRow, at: datetime) -> Record:
    names = ("saturation_percent", "temp_c", "pressure_hpa", "error_mg_l")
    options = read_options(row, "", names)
    field, shown = amounts.read_oxygen(f"{row.value} {row.unit}")
    known = _known(**{name: _number(options, name) for name in names})
    return OxygenReading(at=at, note=row.note, **(known | {field: shown}))


SHELF_READERS: dict[str, Callable[[TableRow, datetime], Record]] = {
    "cylinder": _read_cylinder,
    "weight": _read_weight,
    "gauge": _read_gauge,
    "buffers": _read_buffers,
    "solution": _read_solution,
    "oxygen": _read_oxygen,
}
"""How the row of each of these quantities is read."""


def _pairs(**options: object) -> str:
    """The method cell of options that are known."""
    return ";".join(f"{name}={value}" for name, value in options.items() if value not in {None, ""})


def _oxygen_cells(record: OxygenReading) -> Cells:
    known = _pairs(temp_c=record.temp_c, pressure_hpa=record.pressure_hpa, error_mg_l=record.error_mg_l)
    if record.oxygen_mg_l is None:
        return repr(record.saturation_percent), "%", known
    both = _pairs(saturation_percent=record.saturation_percent)
    return repr(record.oxygen_mg_l), "mg/L", ";".join(filter(None, (both, known)))


def shelf_cells(record: Record) -> Cells:
    """Value, unit and method of a record of this shelf; TypeError for another."""
    match record:
        case CylinderExchange():
            method = _pairs(
                standard=record.standard,
                tare_kg=record.tare_kg,
                capacity_l=record.capacity_l,
                tested=record.tested,
                price=record.price,
            )
            return repr(record.gas_kg), "kg", method
        case CylinderWeighing():
            return repr(record.gross_kg), "kg", _pairs(stood=record.stood, scale_kg=record.scale_kg)
        case GaugeReading():
            return repr(record.gauge_bar), "bar", _pairs(temp_c=record.temp_c)
        case BufferCheck():
            method = _pairs(
                low=record.low,
                high=record.high,
                temp_c=record.temp_c,
                adjusted="yes" if record.adjusted else "no",
            )
            return f"{record.low_ph!r};{record.high_ph!r}", "", method
        case OxygenReading():
            return _oxygen_cells(record)
        case SolutionPrepared():
            return repr(record.kh_dkh), "dKH", _pairs(error_percent=record.error_percent)
        case _:
            raise TypeError(record)
