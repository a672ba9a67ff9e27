"""Commands on what stands on the shelf: `cylinder`, `room`, `solution`, `meter`."""

from typing import Unpack

import click

from dawnlevel.cli.advice import AdviceOptions, advice_options
from dawnlevel.cli.output import show
from dawnlevel.cli.session import TankOptions, store_options, tank_options, tank_session
from dawnlevel.desk import amounts
from dawnlevel.desk.amounts import read_amount

# The science and the pages are imported inside the commands, so that their help comes at once.


@click.command()
@advice_options
def cylinder(**options: Unpack[AdviceOptions]) -> None:
    """What is left, when it runs out, what a bubble holds.

    From the charge, the weighings, the counts and the gauge: gas left with its interval, the day to have the
    next cylinder, gas in a bubble, cost, and where a day's gas goes.
    """
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - help comes at once
    from dawnlevel.cli.render_page import this_terminal  # noqa: PLC0415 - the same
    from dawnlevel.cli.render_shelf import cylinder_page  # noqa: PLC0415 - the same
    from dawnlevel.desk.shelf.cylinder import cylinder_view  # noqa: PLC0415 - the same

    with tank_session(options) as session:
        view = cylinder_view(session.store, session.tank.name, session.moment(options["at"]))
    show(
        "cylinder",
        lambda: view_to_json(view),
        lambda: cylinder_page(view, this_terminal()),
        as_json=options["as_json"],
    )


@click.command()
@click.argument("room_air", metavar="ROOM")
@click.option(
    "--gas", metavar="MASS", help="Gas that comes out: 2kg. Default: the tank's cylinder, as filled."
)
@click.option("--fresh-air", default="0.5/h", show_default=True, help="Room volumes of fresh air an hour.")
@click.option(
    "--over", metavar="TIME", default="0h", show_default=True, help="Over how long the gas comes out."
)
@click.option("--floor", metavar="AREA", help="Floor on which it may pool: 12m2. Default: 2.5 m of height.")
@click.option("--temp", metavar="TEMP", default="20C", show_default=True, help="Temperature of the room.")
@tank_options
def room(
    room_air: str,
    gas: str | None,
    fresh_air: str,
    over: str,
    floor: str | None,
    temp: str,
    **options: Unpack[TankOptions],
) -> None:
    """CO2 in a room if the cylinder vents into it.

    ROOM is the room's air: 30m3 or 1060ft3. Well mixed and pooled low, against published limits with their
    dates; why an oxygen alarm does not warn.
    """
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - help comes at once
    from dawnlevel.cli.render_page import this_terminal  # noqa: PLC0415 - the same
    from dawnlevel.cli.render_room import room_page  # noqa: PLC0415 - the same
    from dawnlevel.desk.shelf.room import GasAtHand, gas_at_hand, room_view  # noqa: PLC0415 - the same

    if gas is None:
        with tank_session(options) as session:
            at_hand = gas_at_hand(session.store, session.tank.name, session.now)
    else:
        at_hand = GasAtHand(None, read_amount(amounts.MASS, gas))
    view = room_view(
        at_hand,
        read_amount(amounts.ROOM, room_air),
        air_changes_per_h=read_amount(amounts.FRESH_AIR, fresh_air),
        vents_over_h=read_amount(amounts.HOURS, over),
        floor_m2=None if floor is None else read_amount(amounts.FLOOR, floor),
        temp_c=read_amount(amounts.TEMPERATURE, temp),
    )
    show(
        "room",
        lambda: view_to_json(view),
        lambda: room_page(view, this_terminal()),
        as_json=options["as_json"],
    )


@click.command()
@click.option("--kh", default="4dKH", show_default=True, help="KH wanted.")
@click.option("--volume", default="1L", show_default=True, help="How much of it.")
@click.option("--balance", default="0.01g", show_default=True, help="The last digit of your balance.")
@click.option("--stock", metavar="KH", help="KH of a stock you have, to dilute instead: 40dKH.")
@click.option("--temp", metavar="TEMP", default="25C", show_default=True, help="Temperature of the cell.")
@store_options
def solution(
    kh: str, volume: str, balance: str, stock: str | None, temp: str, *, store: str | None, as_json: bool
) -> None:
    """A reference solution for the cell, its colours, standards.

    A recipe for the balance at hand with the error it leaves in CO2, the cell's colour at each CO2, and how
    to make a colour scale of one's own.
    """
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - help comes at once
    from dawnlevel.cli.render_meter import solution_page  # noqa: PLC0415 - the same
    from dawnlevel.cli.render_page import this_terminal  # noqa: PLC0415 - the same
    from dawnlevel.desk.shelf.solution import solution_view  # noqa: PLC0415 - the same

    del store  # every command takes it; this one needs no records
    view = solution_view(
        read_amount(amounts.KH, kh),
        read_amount(amounts.VOLUME, volume),
        1e3 * read_amount(amounts.MASS, balance, "g"),
        stock_dkh=None if stock is None else read_amount(amounts.KH, stock),
        temp_c=read_amount(amounts.TEMPERATURE, temp),
    )
    show(
        "solution", lambda: view_to_json(view), lambda: solution_page(view, this_terminal()), as_json=as_json
    )


@click.command()
@advice_options
def meter(**options: Unpack[AdviceOptions]) -> None:
    """Meters and kits: slope, due dates, which limits CO2 most.

    What the buffer checks found and did to CO2, when the meter and the cell's solution are due, what a larger
    KH sample brings, and which instrument limits this tank's CO2 figure most.
    """
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - help comes at once
    from dawnlevel.cli.render_meter import meter_page  # noqa: PLC0415 - the same
    from dawnlevel.cli.render_page import this_terminal  # noqa: PLC0415 - the same
    from dawnlevel.desk.shelf.meter import meter_view  # noqa: PLC0415 - the same

    with tank_session(options) as session:
        view = meter_view(session.store, session.tank.name, session.moment(options["at"]))
    show(
        "meter",
        lambda: view_to_json(view),
        lambda: meter_page(view, this_terminal()),
        as_json=options["as_json"],
    )
