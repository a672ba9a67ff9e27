"""Commands that hand the tank on: `calendar`."""

import sys
from pathlib import Path
from typing import Unpack

import click

from dawnlevel.cli.output import show
from dawnlevel.cli.session import TankOptions, tank_options, tank_session
from dawnlevel.cli.writing import write_whole
from dawnlevel.errors import BadInputError

# The science and the pages are imported inside the commands, so that their help comes at once.


def wanted_path(out: str, endings: tuple[str, ...], example: str) -> Path:
    """The file to write; BadInputError for a name that ends otherwise."""
    path = Path(out).expanduser()
    if path.suffix.lower() not in endings:
        raise BadInputError(
            f"{path.name!r} does not end in {' or '.join(endings)}.",
            where="output",
            cure=f"Name it {example}.",
        )
    return path


@click.command()
@click.option("-o", "--out", metavar="FILE", help="Write it to this file, a name ending in .ics.")
@tank_options
def calendar(out: str | None, **options: Unpack[TankOptions]) -> None:
    """Gas, lights, readings, due dates as a calendar file.

    For any calendar program (iCalendar, RFC 5545): when gas and lights switch, when to read while the tank
    is tuned, weekly checks, and when cylinder, its test, buffers and the cell's solution are due. Times are
    those on the tank's wall, also when the clocks change. Import it again after changes: entries are
    replaced, not doubled. Without -o it goes to standard output.
    """
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - help comes at once
    from dawnlevel.desk.calendar import calendar_view  # noqa: PLC0415 - the same
    from dawnlevel.report.ical import calendar_ics  # noqa: PLC0415 - the same

    path = None if out is None else wanted_path(out, (".ics",), "tank.ics")
    with tank_session(options) as session:
        view = calendar_view(session.store, session.tank.name)
    if path is not None:
        write_whole(path, calendar_ics(view))
    if path is None and not options["as_json"]:
        sys.stdout.flush()
        sys.stdout.buffer.write(calendar_ics(view))
        sys.stdout.buffer.flush()
        return
    standing = sum(not entry.withdrawn for entry in view.entries)
    show(
        "calendar",
        lambda: view_to_json(view),
        lambda: f"Calendar of {view.tank} written to {path}: {standing} entries, times of {view.timezone}.",
        as_json=options["as_json"],
    )
