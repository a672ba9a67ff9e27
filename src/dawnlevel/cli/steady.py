"""The command `steady`: is the tank steady by a keeper's own readings, and if not, what changed?"""

from typing import Unpack

import click

from dawnlevel.cli.advice import AdviceOptions, advice_options
from dawnlevel.cli.output import show
from dawnlevel.cli.session import tank_session

# The science and the pages are imported inside the command, so that its help comes at once.


@click.command()
@advice_options
def steady(**options: Unpack[AdviceOptions]) -> None:
    """Steady by your own readings? If not: since when, what changed.

    For keepers without a probe: one reading of pH a day or a week, at about the same hour, is enough. The
    level at lights-on, pH at rest, the baseline cup, KH and the indicator cell are each held against what
    they were before; a tank in which nothing changes is told of a change at most once a year. For each
    change: since when, by how much, what could have done it, and the one check that decides.
    """
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - help comes at once
    from dawnlevel.cli.render_page import this_terminal  # noqa: PLC0415 - the same
    from dawnlevel.cli.render_steady import steady_page  # noqa: PLC0415 - the same
    from dawnlevel.desk.steadiness.steadiness import steadiness_view  # noqa: PLC0415 - the same

    with tank_session(options) as session:
        view = steadiness_view(session.store, session.tank.name, session.moment(options["at"]))
    show(
        "steady",
        lambda: view_to_json(view),
        lambda: steady_page(view, this_terminal()),
        as_json=options["as_json"],
    )
