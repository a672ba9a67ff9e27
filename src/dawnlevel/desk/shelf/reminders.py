"""What is due on the shelf: the next cylinder, its test, the meter's buffers, the cell's solution, KH."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from dawnlevel.desk.phrases import date_text
from dawnlevel.desk.shelf.cylinder_care import cylinder_retest
from dawnlevel.desk.shelf.cylinder_case import open_cylinder
from dawnlevel.desk.shelf.meter import kh_due, solution_due
from dawnlevel.desk.shelf.shelf_views import ReminderView
from dawnlevel.errors import BadInputError
from dawnlevel.supply.ph_meter import calibration_due
from dawnlevel.tank import BufferCheck, CylinderExchange, PhReading, Record, Tank

AHEAD = timedelta(days=7)
"""How long before a cylinder may run out it is told; own choice."""

RETEST_AHEAD = timedelta(days=30)


def due_reminders(tank: Tank, records: Sequence[Record], now: datetime) -> tuple[ReminderView, ...]:
    """What is due at `now` (aware), from standing `records` (sorted by time); the soonest first.

    Nothing is told that the keeper never recorded, but for the meter's first check in buffers.
    """
    today = now.astimezone(ZoneInfo(tank.timezone)).date()
    found = [
        *_cylinder(tank, records, now, today),
        *_buffers(tank, records, today),
        *_solution(tank, records, today),
        *_kh(tank, records, today),
    ]
    return tuple(sorted(found, key=lambda one: one.due))


def _cylinder(tank: Tank, records: Sequence[Record], now: datetime, today: date) -> Iterator[ReminderView]:
    exchanges = [one for one in records if isinstance(one, CylinderExchange) and one.at <= now]
    if not exchanges:
        return
    retest = cylinder_retest(exchanges[-1])
    if retest is not None and retest - RETEST_AHEAD <= today:
        when = "is due by" if retest >= today else "is overdue since"
        yield ReminderView(
            "retest",
            f"The cylinder's test {when} {date_text(retest)}: hand it in for an exchange or a retest.",
            retest,
        )
    try:
        case = open_cylinder(tank, records, now)
    except BadInputError as error:
        yield ReminderView("cylinder", f"{error.what} {error.cure}", today)
        return
    runs_out = None if case is None else case.runs_out
    if runs_out is not None and runs_out[0] - AHEAD <= today:
        early, likely, late = (date_text(one) for one in runs_out)
        yield ReminderView(
            "cylinder",
            f"Have the next cylinder ready: this one runs out about {likely} (nine in ten: {early} to "
            f"{late}). dawnlevel cylinder says on what that rests.",
            runs_out[0],
        )


def buffers_due(tank: Tank, records: Sequence[Record]) -> date | None:
    """When the pH meter is due in buffers; None where neither it nor buffers were ever read."""
    checks = [one.at for one in records if isinstance(one, BufferCheck)]
    readings = [one.at for one in records if isinstance(one, PhReading)]
    if not checks and not readings:
        return None
    due = calibration_due(checks[-1] if checks else readings[0])
    return due.astimezone(ZoneInfo(tank.timezone)).date()


def _buffers(tank: Tank, records: Sequence[Record], today: date) -> Iterator[ReminderView]:
    due = buffers_due(tank, records)
    if due is not None and due <= today:
        checked = any(isinstance(one, BufferCheck) for one in records)
        said = "was last in buffers over four weeks ago" if checked else "has not been in buffers yet"
        yield ReminderView(
            "buffers",
            f"The pH meter {said}: check it in two, and record what it shows: dawnlevel buffers LOW HIGH",
            due,
        )


def _solution(tank: Tank, records: Sequence[Record], today: date) -> Iterator[ReminderView]:
    due = solution_due(tank, records)
    if due is not None and due <= today:
        yield ReminderView(
            "solution",
            "The indicator cell's solution is six months old: make it afresh (dawnlevel solution).",
            due,
        )


def _kh(tank: Tank, records: Sequence[Record], today: date) -> Iterator[ReminderView]:
    due = kh_due(tank, records)
    if due is not None and due <= today:
        yield ReminderView(
            "kh",
            "KH was last counted over four weeks ago; water changes move it: count it again (dawnlevel kh).",
            due,
        )
