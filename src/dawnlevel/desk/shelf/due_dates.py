"""When gas, meter and solution are due, near or far; `reminders` tells of them once they are near."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from dawnlevel.desk.phrases import date_text
from dawnlevel.desk.shelf.cylinder_care import cylinder_retest
from dawnlevel.desk.shelf.cylinder_case import open_cylinder
from dawnlevel.desk.shelf.meter import kh_due, solution_due
from dawnlevel.desk.shelf.reminders import RETEST_AHEAD, buffers_due
from dawnlevel.errors import BadInputError
from dawnlevel.tank import CylinderExchange, Record, Tank
from dawnlevel.tank.clock import local_day


@dataclass(frozen=True, slots=True)
class DueDate:
    """Something due on a day.

    Attributes:
        kind: `cylinder`, `retest`, `buffers`, `solution` or `kh`.
        title: what, in a few words.
        text: what to do and why; without commands, for owners have none.
        day: when.
        ahead_days: how many days before it is told.
    """

    kind: str
    title: str
    text: str
    day: date
    ahead_days: int


def due_dates(tank: Tank, records: Sequence[Record], now: datetime) -> list[DueDate]:
    """Every date that standing `records` (sorted by time) give at `now` (aware), the soonest first.

    Where the weighings of the cylinder contradict each other, that is due now.
    """
    found = [
        *_cylinder(tank, records, now), *_retest(records, now), *_buffers(tank, records),
        *_solution(tank, records), *_kh(tank, records),
    ]  # fmt: skip
    return sorted(found, key=lambda one: one.day)


def _cylinder(tank: Tank, records: Sequence[Record], now: datetime) -> Iterator[DueDate]:
    try:
        case = open_cylinder(tank, records, now)
    except BadInputError as error:
        day = local_day(now, ZoneInfo(tank.timezone))
        yield DueDate("cylinder", "weigh the gas cylinder again", f"{error.what} {error.cure}", day, 0)
        return
    runs_out = None if case is None else case.runs_out
    if runs_out is not None:
        early, likely, late = (date_text(one) for one in runs_out)
        yield DueDate(
            "cylinder",
            "have the next gas cylinder ready",
            f"This one runs out about {likely} (nine in ten: {early} to {late}). Weighing it tells more.",
            runs_out[0],
            0,
        )


def _retest(records: Sequence[Record], now: datetime) -> Iterator[DueDate]:
    exchanges = [one for one in records if isinstance(one, CylinderExchange) and one.at <= now]
    due = cylinder_retest(exchanges[-1]) if exchanges else None
    if due is not None:
        yield DueDate(
            "retest",
            "the gas cylinder's test is due",
            "Hand it in for an exchange or a retest; your gas supplier knows the rule that holds.",
            due,
            RETEST_AHEAD.days,
        )


def _buffers(tank: Tank, records: Sequence[Record]) -> Iterator[DueDate]:
    due = buffers_due(tank, records)
    if due is not None:
        yield DueDate(
            "buffers",
            "check the pH meter in buffers",
            "Two fresh buffers; write down what it shows in each before adjusting.",
            due,
            0,
        )


def _solution(tank: Tank, records: Sequence[Record]) -> Iterator[DueDate]:
    due = solution_due(tank, records)
    if due is not None:
        yield DueDate(
            "solution",
            "fresh solution for the indicator cell",
            "It is six months old: make it afresh, and write down the day.",
            due,
            0,
        )


def _kh(tank: Tank, records: Sequence[Record]) -> Iterator[DueDate]:
    due = kh_due(tank, records)
    if due is not None:
        yield DueDate(
            "kh",
            "count KH",
            "With the drop kit; a larger sample counts finer. Water changes, filter and rock move it.",
            due,
            0,
        )
