"""Command `layout`: the sketch against the trade's rules, and what was measured, apart."""

from typing import Unpack

import click

from dawnlevel.cli.advice import AdviceOptions, advice_options
from dawnlevel.cli.output import show
from dawnlevel.cli.session import tank_session
from dawnlevel.desk import amounts
from dawnlevel.desk.amounts import read_amount


@click.command()
@click.option("--outflow", required=True, metavar="PLACE", help="Where water comes in: 'front left surface'.")
@click.option(
    "--intake", required=True, metavar="PLACE", help="Where the filter draws: 'back right substrate'."
)
@click.option("--diffuser", required=True, metavar="PLACE", help="Where the gas comes in.")
@click.option(
    "--hardscape", multiple=True, metavar="PLACE", help="Where stone or wood stands; may be repeated."
)
@click.option("--flow", required=True, help="What the pump's label says: 800L/h or 210gal/h.")
@click.option("--head-loss", default="20%", show_default=True, help="Share lost to height and hoses.")
@click.option("--clogging", default="20%", show_default=True, help="Share lost to dirt in filter and hoses.")
@advice_options
def layout(
    outflow: str,
    intake: str,
    diffuser: str,
    hardscape: tuple[str, ...],
    flow: str,
    head_loss: str,
    clogging: str,
    **options: Unpack[AdviceOptions],
) -> None:
    """Inflow, outflow, diffuser, hardscape by the trade's rules.

    A PLACE is front, back, left, right, substrate, surface, middle, or several of them. The losses are
    common practice, no source; a bucket and a clock at the outflow tell better.
    """
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - help comes at once
    from dawnlevel.cli.render_layout import layout_page  # noqa: PLC0415 - the same
    from dawnlevel.cli.render_page import this_terminal  # noqa: PLC0415 - the same
    from dawnlevel.desk.layout import layout_view  # noqa: PLC0415 - the same

    with tank_session(options) as session:
        view = layout_view(
            session.store,
            session.tank.name,
            session.moment(options["at"]),
            outflow=outflow,
            intake=intake,
            diffuser=diffuser,
            hardscape=hardscape,
            rated_l_h=read_amount(amounts.FLOW, flow),
            head_loss=read_amount(amounts.SHARE, head_loss),
            clogging=read_amount(amounts.SHARE, clogging),
        )
    show(
        "layout",
        lambda: view_to_json(view),
        lambda: layout_page(view, this_terminal()),
        as_json=options["as_json"],
    )
