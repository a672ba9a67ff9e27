"""Commands about evenness: `survey` records the meter at a place, `spread` tells and draws what it means."""

from pathlib import Path
from typing import Unpack

import click

from dawnlevel.cli.advice import AdviceOptions, advice_options
from dawnlevel.cli.entries import FIGURES, enter
from dawnlevel.cli.output import show
from dawnlevel.cli.session import EntryOptions, entry_options, tank_session
from dawnlevel.errors import BadInputError
from dawnlevel.tank import SurveyReading


@click.command(context_settings=FIGURES)
@click.argument("value", metavar="PH")
@click.option("--place", help="Where: front, back, left, right, substrate, surface, middle, or several.")
@click.option("--x", metavar="CM", help="Instead of a name: distance from the left pane: 12cm.")
@click.option("--y", metavar="CM", help="Distance from the front pane.")
@click.option("--z", metavar="CM", help="Height over the substrate.")
@entry_options
def survey(
    value: str,
    place: str | None,
    x: str | None,
    y: str | None,
    z: str | None,
    **options: Unpack[EntryOptions],
) -> None:
    """Record the meter held at a place: how even is it?

    PH is what the meter shows once it has settled there. Read eight places or so near the day's peak, within
    the hour; `dawnlevel spread` then tells how even CO2 is. A file with the columns time, place, ph (or time,
    x_cm, y_cm, z_cm, ph) is taken by `dawnlevel import`.
    """
    enter(SurveyReading, value, options, {"place": place, "x": x, "y": y, "z": z})


@click.command()
@click.option("-o", "--out", metavar="FILE", help="Draw the map too: a name ending in .png or .svg.")
@advice_options
def spread(out: str | None, **options: Unpack[AdviceOptions]) -> None:
    """How even CO2 is across the tank: map, dead zones.

    From the latest survey: a map from the front and from above, how much CO2 differs, the worst corner, dead
    zones where they are beyond meter noise, and where to read next.
    """
    path = None if out is None else Path(out).expanduser()
    if path is not None and path.suffix.lower() not in {".png", ".svg"}:
        raise BadInputError(
            f"{path.name!r} ends neither in .png nor in .svg.", where="spread", cure="Name it spread.png."
        )
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - help comes at once
    from dawnlevel.cli.render_page import this_terminal  # noqa: PLC0415 - the same
    from dawnlevel.cli.render_spread import spread_page  # noqa: PLC0415 - the same
    from dawnlevel.desk.evenness.spread import spread_view  # noqa: PLC0415 - the same

    with tank_session(options) as session:
        view = spread_view(session.store, session.tank.name, session.moment(options["at"]))
    if path is not None:
        from dawnlevel.report.chart import write_chart  # noqa: PLC0415 - the same
        from dawnlevel.report.spread_chart import spread_chart  # noqa: PLC0415 - the same

        write_chart(spread_chart(view), path)
    show(
        "spread",
        lambda: view_to_json(view),
        lambda: (
            spread_page(view, this_terminal()) + (f"\n\nMap written to {path}" if path is not None else "")
        ),
        as_json=options["as_json"],
    )
