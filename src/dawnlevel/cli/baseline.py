"""The command `degassed`: how to take a baseline cup here, and whether one is ready to be recorded."""

from typing import Unpack

import click

from dawnlevel.cli.advice import AdviceOptions, advice_options
from dawnlevel.cli.output import show
from dawnlevel.cli.session import tank_session
from dawnlevel.desk.amounts import HOURS, PH, read_amount, read_choice
from dawnlevel.tank import BaselineMethod


@click.command()
@click.argument("value", metavar="PH", required=False)
@click.option("--hours", metavar="TIME", help="How long ago it was poured: 2h or 90min.")
@click.option("--method", default="aerated", show_default=True, help="still_cup, stirred_cup or aerated.")
@click.option(
    "--first", metavar="PH", help="What it showed as it was poured: two readings tell more than one."
)
@advice_options
def degassed(
    value: str | None, hours: str | None, method: str, first: str | None, **options: Unpack[AdviceOptions]
) -> None:
    """How to take a baseline cup; whether one is ready.

    Without PH: how long each way of preparing a cup takes with this water. With it: how much CO2 the cup is
    likely to hold still, and how much longer it should stand. `dawnlevel cup` records it.
    """
    from dawnlevel.cli.render_baseline import cup_page, guide_page  # noqa: PLC0415 - help comes at once
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - the same
    from dawnlevel.desk.advice.baseline import cup_guide, cup_view  # noqa: PLC0415 - the same

    as_json = options["as_json"]
    with tank_session(options) as session:
        now, name = session.moment(options["at"]), session.tank.name
        if value is None:
            guide = cup_guide(session.store, name, now)
            show("degassed", lambda: view_to_json(guide), lambda: guide_page(guide), as_json=as_json)
            return
        if hours is None:
            raise click.UsageError("Say how long ago the cup was poured, for example --hours 2h.")
        readings = [(read_amount(HOURS, hours), read_amount(PH, value))]
        if first is not None:
            readings.insert(0, (0.0, read_amount(PH, first)))
        way = read_choice(BaselineMethod, method, "baseline method")
        found = cup_view(session.store, name, now, way, readings)
    show("degassed", lambda: view_to_json(found), lambda: cup_page(found), as_json=as_json)
