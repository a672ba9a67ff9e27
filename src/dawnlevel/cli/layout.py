"""Command `layout`: the tank's sketch against the trade's rules, and what was measured, apart."""

from collections.abc import Callable
from typing import Any, TypeVar

import click

from dawnlevel.cli.advice import advice_options
from dawnlevel.cli.output import show
from dawnlevel.cli.session import tank_session

Command = TypeVar("Command", bound=Callable[..., Any])

_WORDS = (
    ("outflow", "PLACE", "Where water comes in: 'front left surface'."),
    ("intake", "PLACE", "Where the filter draws: 'back right substrate'."),
    ("diffuser", "PLACE", "Where the gas comes in."),
    ("flow", "FLOW", "What the pump's label says: 800L/h or 210gal/h."),
    ("head-loss", "SHARE", "Share lost to height and hoses.  [usually 20%]"),
    ("clogging", "SHARE", "Share lost to dirt in filter and hoses.  [usually 20%]"),
    ("measured", "FLOW", "What a bucket and a clock at the outflow say: 520L/h, or none; counts instead."),
    ("length", "LENGTH", "The tank's inner length, so that maps have its true sides: 90cm, or none."),
)


def _word_options(command: Command) -> Command:
    for word, kind, explained in reversed(_WORDS):
        command = click.option(f"--{word}", metavar=kind, help=explained)(command)
    return command


@click.command()
@_word_options
@click.option(
    "--hardscape",
    multiple=True,
    metavar="PLACE",
    help="Where stone or wood stands; may be repeated; or none.",
)
@click.option("--try", "is_try", is_flag=True, help="Judge it without keeping it.")
@advice_options
def layout(
    hardscape: tuple[str, ...],
    *,
    is_try: bool,
    at: str | None,
    store: str | None,
    tank: str | None,
    as_json: bool,
    **words: str | None,
) -> None:
    """Inflow, outflow, diffuser, hardscape by the trade's rules.

    What is given is kept with the tank; what is left out stays as it was. Without any it shows what is
    kept. A PLACE is front, back, left, right, substrate, surface, middle, or several of them. The losses are
    common practice, no source; a bucket and a clock at the outflow tell better.
    """
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - help comes at once
    from dawnlevel.cli.render_layout import layout_page  # noqa: PLC0415 - the same
    from dawnlevel.cli.render_page import this_terminal  # noqa: PLC0415 - the same
    from dawnlevel.desk.evenness.layout import keep_layout, layout_view, read_layout  # noqa: PLC0415 - the same

    given = {word.replace("_", "-"): text for word, text in words.items()}
    given["hardscape"] = "; ".join(hardscape) if hardscape else None
    with tank_session({"store": store, "tank": tank, "as_json": as_json}) as session:
        sketch = None
        if any(text is not None for text in given.values()):
            sketch = read_layout(given, session.tank.layout)
            if not is_try:
                keep_layout(session.store, session.tank, sketch, session.now)
        view = layout_view(session.store, session.tank.name, session.moment(at), sketch)
    show(
        "layout",
        lambda: view_to_json(view),
        lambda: layout_page(view, this_terminal()),
        as_json=as_json,
    )
