"""Commands on what keeps animals unharmed: `animals`, `oxygen`, `whatif`."""

from typing import Unpack

import click

from dawnlevel.cli.advice import AdviceOptions, advice_options
from dawnlevel.cli.output import show
from dawnlevel.cli.session import TankOptions, tank_options, tank_session

# The science and the pages are imported inside the commands, so that their help comes at once.

FAULTS = ("valve", "shifted", "doubled", "cylinder", "power", "pump", "rate", "water")
"""Kinds of fault, as plan.faults names them; here so that help comes at once."""


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
    from dawnlevel.desk.animals.animals import animals_view  # noqa: PLC0415 - the same

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
    from dawnlevel.desk.animals.oxygen import oxygen_view  # noqa: PLC0415 - the same

    with tank_session(options) as session:
        view = oxygen_view(session.store, session.tank.name, session.moment(options["at"]))
    show(
        "oxygen",
        lambda: view_to_json(view),
        lambda: oxygen_page(view, this_terminal()),
        as_json=options["as_json"],
    )


@click.command()
@click.argument("kind", required=False, type=click.Choice(FAULTS))
@click.option("--from", "from_", metavar="TIME", help="When it begins: 19:00. Default: when it is worst.")
@click.option("--by", metavar="NUMBER", help="Hours of shift, times the flow, or share of water: 6, 2, 50%.")
@click.option("--lasts", metavar="TIME", help="How long it lasts: 8h. Default: 24 h, a power cut 8 h.")
@advice_options
def whatif(
    kind: str | None, from_: str | None, by: str | None, lasts: str | None, **options: Unpack[AdviceOptions]
) -> None:
    """What a fault would do to CO2 and oxygen, and what helps.

    On this tank as its records know it: hours until the ceiling and 1.3 times it, the level by morning, the
    lowest oxygen, what you would see. With KIND also the guards that help, with their forecast; a power cut
    in each combination of valve, pump and light.
    """
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - help comes at once
    from dawnlevel.cli.render_page import this_terminal  # noqa: PLC0415 - the same
    from dawnlevel.cli.render_whatif import whatif_page  # noqa: PLC0415 - the same
    from dawnlevel.desk.animals.whatif import Asked, whatif_view  # noqa: PLC0415 - the same
    from dawnlevel.desk.animals.whatif_given import read_asked  # noqa: PLC0415 - the same

    asked: Asked = read_asked(kind, from_, by, lasts)
    with tank_session(options) as session:
        view = whatif_view(session.store, session.tank.name, session.moment(options["at"]), asked)
    show(
        "whatif",
        lambda: view_to_json(view),
        lambda: whatif_page(view, this_terminal()),
        as_json=options["as_json"],
    )
