"""Copies of the store while it is served: a thread that looks at the schedule once a minute."""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path

import click

from dawnlevel.desk.amounts import HOURS, read_amount
from dawnlevel.desk.exchange.backup_schedule import BackupSchedule
from dawnlevel.errors import BadInputError

LOOK_S = 60.0
"""Seconds between looks at the schedule."""


def schedule_of(place: str | None, every: str | None, folder: str | None, keep: int) -> BackupSchedule | None:
    """The schedule that the options ask for; None where they ask for none. BadInputError."""
    if every is None and folder is None:
        return None
    if every is None or folder is None:
        raise BadInputError(
            "--backup-every and --backup-to go together.",
            where="backup",
            cure="Write: dawnlevel serve --backup-every 24h --backup-to FOLDER",
        )
    hours = timedelta(hours=read_amount(HOURS, every))
    return BackupSchedule(place, Path(folder).expanduser(), hours, keep)


def keep_copies(
    schedule: BackupSchedule, clock: Callable[[], datetime], has_ended: Callable[[float], bool]
) -> None:
    """Look at the schedule until `has_ended`, which waits so many seconds; what happens goes to the log."""
    while True:
        outcome = schedule.look(clock())
        if outcome is not None and outcome.view is not None:
            click.echo(f"Copied the store to {outcome.view.file}; read again and compared.")
        if outcome is not None and outcome.failure:
            click.echo(f"The store was not copied: {outcome.failure}", err=True)
        if has_ended(LOOK_S):
            return


@contextmanager
def copies_kept(schedule: BackupSchedule | None, clock: Callable[[], datetime]) -> Iterator[None]:
    """Copies are made while this is entered; a copy that is being made is waited for at the end."""
    if schedule is None:
        yield
        return
    hours = schedule.every / timedelta(hours=1)
    plan = schedule.state
    click.echo(f"Copies of the store go to {plan.folder} every {hours:g} h; {plan.keep} are kept.")
    ended = threading.Event()
    thread = threading.Thread(target=keep_copies, args=(schedule, clock, ended.wait), daemon=True)
    thread.start()
    try:
        yield
    finally:
        ended.set()
        thread.join()
