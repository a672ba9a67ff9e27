"""Commands that answer: `today`, `plan`, `explain`, and `chart`, which draws."""

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, Unpack

import click

from dawnlevel.cli.output import show
from dawnlevel.cli.session import TankOptions, tank_options, tank_session
from dawnlevel.errors import BadInputError

# The science and the pages are imported inside the commands, so that their help comes at once.

Command = TypeVar("Command", bound=Callable[..., Any])


class AdviceOptions(TankOptions):
    """Options of every command that answers."""

    at: str | None


def advice_options(command: Command) -> Command:
    """Add --at, --tank, --store and --json."""
    return click.option(
        "--at",
        metavar="TIME",
        help="As it stood then: 09:30, 'yesterday 21:30', '2026-05-04 09:30' or RFC 3339. Default: now.",
    )(tank_options(command))


@click.command()
@advice_options
def today(**options: Unpack[AdviceOptions]) -> None:
    """Where CO2 stands, the forecast, the next action.

    From what is recorded: how much CO2 there is and how sure that is, how long to lights-on, the one thing
    to do next and why, when to read next.
    """
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - help comes at once
    from dawnlevel.cli.render_page import this_terminal  # noqa: PLC0415 - the same
    from dawnlevel.cli.render_today import today_page  # noqa: PLC0415 - the same
    from dawnlevel.desk.advice.today import today_view  # noqa: PLC0415 - the same

    with tank_session(options) as session:
        view = today_view(session.store, session.tank.name, session.moment(options["at"]))
    show(
        "today",
        lambda: view_to_json(view),
        lambda: today_page(view, this_terminal()),
        as_json=options["as_json"],
    )


@click.command()
@click.option("--accept", is_flag=True, help="Record the plan's timer and needle as set, after showing it.")
@advice_options
def plan(*, accept: bool, **options: Unpack[AdviceOptions]) -> None:
    """The next gas day: start, count, stop; --accept records it.

    When to open the gas, at what needle count, when to close it, and why. With --accept the timer's
    windows, and the needle where it changes, are recorded as set.
    """
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - the same
    from dawnlevel.cli.render_page import this_terminal  # noqa: PLC0415 - the same
    from dawnlevel.cli.render_plan import plan_page  # noqa: PLC0415 - the same
    from dawnlevel.desk.advice.acceptance import accept as accept_plan  # noqa: PLC0415 - help comes at once
    from dawnlevel.desk.advice.tomorrow import plan_view  # noqa: PLC0415 - the same

    with tank_session(options) as session:
        now = session.moment(options["at"])
        view = plan_view(session.store, session.tank.name, now)
        if not options["as_json"]:
            show("plan", dict, lambda: plan_page(view, this_terminal()), as_json=False)
        accepted = accept_plan(session.store, view, now, session.now) if accept else []
    if options["as_json"]:
        data = view_to_json(view)
        if accept and isinstance(data, dict):
            data["accepted"] = [found.id for found in accepted]
        show("plan", lambda: data, str, as_json=True)
    elif accepted:
        numbers = " and ".join(str(found.id) for found in accepted)
        show("plan", dict, lambda: f"\nAccepted: stored as record {numbers}.", as_json=False)


@click.command()
@advice_options
def explain(**options: Unpack[AdviceOptions]) -> None:
    """Why: three routes, what is not told yet, sources.

    The three routes side by side and whether they agree, what may be wrong with its odds, which measurement
    would settle it, which unknowns are not told apart yet, how far off the short rule is.
    """
    from dawnlevel.cli.render_explain import explain_page  # noqa: PLC0415 - help comes at once
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - the same
    from dawnlevel.cli.render_page import this_terminal  # noqa: PLC0415 - the same
    from dawnlevel.desk.advice.explain import explain_view  # noqa: PLC0415 - the same

    with tank_session(options) as session:
        view = explain_view(session.store, session.tank.name, session.moment(options["at"]))
    show(
        "explain",
        lambda: view_to_json(view),
        lambda: explain_page(view, this_terminal()),
        as_json=options["as_json"],
    )


@click.command()
@click.option(
    "--out", required=True, metavar="FILE", help="Where to write it: a name ending in .png or .svg."
)
@click.option(
    "--view",
    "which",
    type=click.Choice(["today", "plan"]),
    default="today",
    show_default=True,
    help="The day that runs, or the next one as planned.",
)
@advice_options
def chart(out: str, which: str, **options: Unpack[AdviceOptions]) -> None:
    """Draw the day to a PNG or SVG file."""
    path = Path(out).expanduser()
    if path.suffix.lower() not in {".png", ".svg"}:
        raise BadInputError(
            f"{path.name!r} ends neither in .png nor in .svg.", where="chart", cure="Name it day.png."
        )
    from dawnlevel.desk.advice.today import today_view  # noqa: PLC0415 - help comes at once
    from dawnlevel.desk.advice.tomorrow import plan_view  # noqa: PLC0415 - the same
    from dawnlevel.report.chart import plan_chart, today_chart, write_chart  # noqa: PLC0415 - the same

    with tank_session(options) as session:
        now = session.moment(options["at"])
        name = session.tank.name
        made = (
            today_chart(today_view(session.store, name, now))
            if which == "today"
            else plan_chart(plan_view(session.store, name, now))
        )
    write_chart(made, path)
    show(
        "chart",
        lambda: {"tank": name, "view": which, "file": str(path)},
        lambda: f"Chart of {name} written to {path}",
        as_json=options["as_json"],
    )
