"""The command `why`: a keeper's complaint, answered from the tank's own records."""

from typing import Unpack

import click

from dawnlevel.cli.advice import AdviceOptions, advice_options
from dawnlevel.cli.output import show
from dawnlevel.cli.session import tank_session

# The science and the pages are imported inside the command, so that its help comes at once.

COMPLAINTS = (
    "algae-despite-co2",
    "cell-stays-blue",
    "cell-goes-yellow",
    "pearling-unsteady",
    "fish-at-surface",
    "low-at-lights-on",
    "ph-rises-after-lights-on",
    "plants-stall",
)
"""The values of desk.complaint_causes.Complaint, named here so that help need not load the desk."""


@click.command()
@click.argument("complaint", metavar="COMPLAINT", type=click.Choice(COMPLAINTS))
@advice_options
def why(complaint: str, **options: Unpack[AdviceOptions]) -> None:
    """Why it isn't working: causes, what to measure, what to change.

    COMPLAINT is one of: algae-despite-co2, cell-stays-blue, cell-goes-yellow, pearling-unsteady,
    fish-at-surface, low-at-lights-on, ph-rises-after-lights-on, plants-stall.

    Its causes are ranked from this tank's own records, each with its chance, the evidence, what is unknown
    and the one check that settles it; then what to measure next, and the plan that would help with its
    forecast.
    """
    from dawnlevel.cli.render_complaint import complaint_page  # noqa: PLC0415 - help comes at once
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - the same
    from dawnlevel.cli.render_page import this_terminal  # noqa: PLC0415 - the same
    from dawnlevel.desk.trouble.complaint import complaint_view  # noqa: PLC0415 - the same
    from dawnlevel.desk.trouble.complaint_causes import Complaint  # noqa: PLC0415 - the same

    with tank_session(options) as session:
        now = session.moment(options["at"])
        view = complaint_view(session.store, session.tank.name, Complaint(complaint), now)
    show(
        "why",
        lambda: view_to_json(view),
        lambda: complaint_page(view, this_terminal()),
        as_json=options["as_json"],
    )
