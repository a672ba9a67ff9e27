"""Commands that hand the tank on: `handover` and `calendar`."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Unpack

import click

from dawnlevel.cli.output import show
from dawnlevel.cli.session import TankOptions, owner_option, store_session, tank_options, tank_session
from dawnlevel.cli.writing import write_whole
from dawnlevel.errors import BadInputError

if TYPE_CHECKING:
    from dawnlevel.desk.handover.handover_views import HandoverPack
    from dawnlevel.report.brand import Brand

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
@owner_option
@tank_options
def calendar(out: str | None, owner: str | None, **options: Unpack[TankOptions]) -> None:
    """Gas, lights, readings, due dates as a calendar file.

    For any calendar program (iCalendar, RFC 5545): when gas and lights switch, when to read in the next
    week of tuning, weekly checks, and when cylinder, its test, buffers and the cell's solution are due.
    Times are those on the tank's wall, also when the clocks change. Import it again after changes: entries
    are replaced, not doubled. Without -o it goes to standard output. --owner: one file for all of an
    owner's tanks.
    """
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - help comes at once
    from dawnlevel.desk.handover.calendar import calendar_view, owner_calendar_view  # noqa: PLC0415 - the same
    from dawnlevel.report.ical import calendars_ics  # noqa: PLC0415 - the same

    path = None if out is None else wanted_path(out, (".ics",), "tank.ics")
    if owner is None:
        with tank_session(options) as session:
            view = calendar_view(session.store, session.tank.name)
        views, of, data = [view], f"Tank {view.tank}", view_to_json(view)
    else:
        refuse_tank(options["tank"])
        with store_session(options["store"]) as (store, _):
            group = owner_calendar_view(store, owner)
        views, of, data = list(group.calendars), f"Tanks of {group.owner}", view_to_json(group)
    content = calendars_ics(views, of)
    if path is not None:
        write_whole(path, content)
    if path is None and not options["as_json"]:
        sys.stdout.flush()
        sys.stdout.buffer.write(content)
        sys.stdout.buffer.flush()
        return
    standing = sum(not entry.withdrawn for view in views for entry in view.entries)
    zones = ", ".join(dict.fromkeys(view.timezone for view in views))
    names = ", ".join(view.tank for view in views)
    show(
        "calendar" if owner is None else "owner-calendar",
        lambda: data,
        lambda: f"Calendar of {names} written to {path}: {standing} entries, times of {zones}.",
        as_json=options["as_json"],
    )


def refuse_tank(tank: str | None) -> None:
    """BadInputError where a tank is named beside an owner."""
    if tank is not None:
        raise BadInputError(
            "Both --owner and a tank were given.",
            where="owner",
            cure="Leave out one of them (and DAWNLEVEL_TANK beside --owner).",
        )


@click.command()
@click.option("-o", "--out", metavar="FILE", help="Where to write it: a name ending in .pdf or .html.")
@click.option(
    "--units",
    type=click.Choice(["metric", "us"]),
    default="metric",
    show_default=True,
    help="us: gallons, inches, degrees Fahrenheit, a 12-hour clock and letter paper.",
)
@click.option(
    "--brand-text", default="", metavar="TEXT", help="Your own name and number, for the first page."
)
@click.option("--brand-image", metavar="FILE", help="Your own picture beside it, PNG or SVG.")
@owner_option
@tank_options
def handover(
    out: str | None,
    units: str,
    brand_text: str,
    brand_image: str | None,
    owner: str | None,
    **options: Unpack[TankOptions],
) -> None:
    """The plan for the tank's owner: a PDF or HTML file.

    The first page is for the cabinet's door, to be read at a metre: timers, bubbles, target, the indicator
    cell by the hour, and what to do when. Behind it: weekly checks, due dates, cautions, what to expect and
    on what it rests. It tells what is set, as of the latest record: the same records give the same file.
    --owner: one file with all of an owner's tanks, and no other's.
    """
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - help comes at once
    from dawnlevel.desk.handover.handover import handover_pack, owner_handover  # noqa: PLC0415 - the same
    from dawnlevel.desk.handover.handover_views import Units  # noqa: PLC0415 - the same

    if out is None and not options["as_json"]:
        raise BadInputError("No file is named.", where="output", cure="Add -o plan.pdf, or -o plan.html.")
    path = None if out is None else wanted_path(out, (".pdf", ".html"), "plan.pdf")
    brand = _brand(brand_text, brand_image)
    if owner is None:
        with tank_session(options) as session:
            pack = handover_pack(session.store, session.tank.name, Units(units))
    else:
        refuse_tank(options["tank"])
        with store_session(options["store"]) as (store, _):
            pack = owner_handover(
                store, owner, Units(units), lambda name: click.echo(f"{name} ...", err=True)
            )
    if path is not None:
        write_whole(path, _drawn_up(pack, brand, path))
    show(
        "handover" if owner is None else "owner-handover",
        lambda: view_to_json(pack.tanks[0] if owner is None else pack),
        lambda: _written(pack, path),
        as_json=options["as_json"],
    )


def _written(pack: "HandoverPack", path: Path | None) -> str:
    """What was written where, what would be better, and what is not in it."""
    names = ", ".join(view.tank for view in pack.tanks)
    lines = [f"Hand-over of {names} written to {path}."]
    notes = [(view.tank, note) for view in pack.tanks for note in (view.over_ceiling, view.other_plan)]
    lines += [f"{tank}: {note}" for tank, note in notes if note]
    lines += [f"Left out: {one.tank}. {one.why}" for one in pack.left_out]
    return "\n".join(lines)


def _drawn_up(pack: "HandoverPack", brand: "Brand", path: Path) -> bytes:
    """The file's content, by its ending."""
    if path.suffix.lower() == ".html":
        from dawnlevel.report.web_page import handover_html  # noqa: PLC0415 - help comes at once

        return handover_html(pack, brand).encode()
    from dawnlevel.report.paper import handover_pdf  # noqa: PLC0415 - the same

    return handover_pdf(pack, brand)


def _brand(text: str, image: str | None) -> "Brand":
    """The consultant's own words and picture; BadInputError where the picture cannot be read."""
    from dawnlevel.report.brand import read_brand  # noqa: PLC0415 - help comes at once

    if image is None:
        return read_brand(text, b"", "")
    path = Path(image).expanduser()
    try:
        content = path.read_bytes()
    except OSError as error:
        raise BadInputError(
            f"The picture cannot be read ({error.strerror}).",
            where=str(path),
            cure="Check its path and your rights.",
        ) from error
    return read_brand(text, content, path.name)
