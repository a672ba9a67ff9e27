"""Commands on what keeps animals unharmed: `animals`, `oxygen`."""

from typing import Unpack

import click

from dawnlevel.cli.advice import AdviceOptions, advice_options
from dawnlevel.cli.output import show
from dawnlevel.cli.session import TankOptions, tank_options, tank_session

# The science and the pages are imported inside the commands, so that their help comes at once.


@click.command()
@tank_options
def animals(**options: Unpack[TankOptions]) -> None:
    """The ceiling your animals ask for, and their oxygen.

    For each kind the CO2 that published guidance allows and how strong that evidence is, the oxygen they take
    at the tank's temperature, and what to watch for.
    """
    from dawnlevel.cli.render_care import animals_page  # noqa: PLC0415 - help comes at once
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - the same
    from dawnlevel.cli.render_page import this_terminal  # noqa: PLC0415 - the same
    from dawnlevel.desk.animals import animals_view  # noqa: PLC0415 - the same

    with tank_session(options) as session:
        view = animals_view(session.tank)
    show(
        "animals",
        lambda: view_to_json(view),
        lambda: animals_page(view, this_terminal()),
        as_json=options["as_json"],
    )


@click.command()
@advice_options
def oxygen(**options: Unpack[AdviceOptions]) -> None:
    """Oxygen by day and night, and what surface movement does.

    The lowest oxygen of a day that goes as timer, lights and animals stand, against published minima; and
    what more movement of the surface does to it, to CO2 at lights-on and to the gas it takes.
    """
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - help comes at once
    from dawnlevel.cli.render_oxygen import oxygen_page  # noqa: PLC0415 - the same
    from dawnlevel.cli.render_page import this_terminal  # noqa: PLC0415 - the same
    from dawnlevel.desk.oxygen import oxygen_view  # noqa: PLC0415 - the same

    with tank_session(options) as session:
        view = oxygen_view(session.store, session.tank.name, session.moment(options["at"]))
    show(
        "oxygen",
        lambda: view_to_json(view),
        lambda: oxygen_page(view, this_terminal()),
        as_json=options["as_json"],
    )
