"""`demo`: an invented keeper's tank, tuned by the advice alone for three days, told as it happens."""

import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from dawnlevel.cli.output import show
from dawnlevel.errors import StoreUnreachableError

if TYPE_CHECKING:
    from dawnlevel.cli.story import Event, Tell
    from dawnlevel.desk.views import ExplainView, PlanView, TodayView

# The science and the pages are imported inside the functions, so that the help comes at once.

STORE_FILE = "demo.sqlite3"
CHART_FILE = "chart.png"


def demo_folder() -> Path:
    """Where the demonstration keeps its own store: DAWNLEVEL_DATA, else `demo` in the user's data folder."""
    chosen = os.environ.get("DAWNLEVEL_DATA")
    if chosen:
        return Path(chosen).expanduser()
    from platformdirs import user_data_path  # noqa: PLC0415 - needed only here

    return user_data_path("dawnlevel", appauthor=False) / "demo"


@click.command()
@click.option("--fresh", is_flag=True, help="Play it anew, in place of the demonstration that is there.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of text.")
def demo(*, fresh: bool, as_json: bool) -> None:
    """Play an invented keeper's tank through three tuning days.

    Told day by day: what was read, what the advice said and why, what came of it at lights-on; then the
    estimate, the three routes, tomorrow's plan and a chart. A second invented tank, with a probe's log of six
    weeks in which one thing changed, stands beside it in the pages. It keeps to a store of its own, in the
    folder DAWNLEVEL_DATA names or in your data folder, and touches no other.
    """
    folder = demo_folder()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreUnreachableError(
            f"The demonstration's folder cannot be made ({error.strerror}).",
            where=str(folder),
            cure="Set DAWNLEVEL_DATA to a folder you may write to.",
        ) from error
    store = folder / STORE_FILE
    if as_json:
        _as_data(store, fresh=fresh)
    else:
        _as_text(store, fresh=fresh)


def _as_text(store: Path, *, fresh: bool) -> None:
    from dawnlevel.cli.render_demo import OPENING, StoryPage, ending, what_next  # noqa: PLC0415 - see above
    from dawnlevel.cli.render_page import page, this_terminal  # noqa: PLC0415 - see above
    from dawnlevel.practice.logged import logged_tank  # noqa: PLC0415 - see above

    paper = this_terminal()
    told = StoryPage(paper)
    if fresh or not store.exists():
        click.echo(page([OPENING], paper))
        play_story(store, lambda event: click.echo(told.lines(event)))
    else:
        click.echo(page([f"The story is in {store} already; --fresh plays and tells it anew."], paper))
    today, why, plan, chart = _finish(store)
    click.echo(ending(today, why, plan, paper))
    click.echo(what_next(store, chart, today, logged_tank().name, paper))


def _as_data(store: Path, *, fresh: bool) -> None:
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - see above

    events: list[Event] = []
    if fresh or not store.exists():
        play_story(store, events.append)
    today, why, plan, chart = _finish(store)
    show(
        "demo",
        lambda: {
            "store": str(store),
            "chart": str(chart),
            "story": [view_to_json(event) for event in events],
            "today": view_to_json(today),
            "explain": view_to_json(why),
            "plan": view_to_json(plan),
        },
        str,
        as_json=True,
    )


def play_story(store: Path, tell: "Tell") -> None:
    """Play the story into a new store at `store`, in place of one that is there; half a story is not left."""
    from dawnlevel.cli.second_tank import keep_logged_tank  # noqa: PLC0415 - see above
    from dawnlevel.cli.story import Story  # noqa: PLC0415 - see above
    from dawnlevel.practice.scenario import StoryTank, moment  # noqa: PLC0415 - see above
    from dawnlevel.store import open_store  # noqa: PLC0415 - see above

    part = store.with_suffix(".part")
    for name in (part, *_beside(part)):
        name.unlink(missing_ok=True)
    tank = StoryTank()
    with open_store(str(part), clock=lambda: moment(tank.clock())) as opened:
        Story(opened, tank, tell).play()
        keep_logged_tank(opened, moment(tank.clock()))
    for name in _beside(store):
        name.unlink(missing_ok=True)
    part.replace(store)


def _beside(store: Path) -> list[Path]:
    """Files SQLite may keep beside a store."""
    return [store.with_name(store.name + ending) for ending in ("-wal", "-shm", "-journal")]


def _finish(store: Path) -> tuple["TodayView", "ExplainView", "PlanView", Path]:
    """Where the tank stands at the end of the story; writes the chart of tomorrow's plan."""
    from dawnlevel.cli.story import end_of_story  # noqa: PLC0415 - see above
    from dawnlevel.desk.advice.explain import explain_of  # noqa: PLC0415 - see above
    from dawnlevel.desk.advice.today import today_of  # noqa: PLC0415 - see above
    from dawnlevel.desk.advice.tomorrow import plan_of  # noqa: PLC0415 - see above
    from dawnlevel.desk.casebook import open_case  # noqa: PLC0415 - see above
    from dawnlevel.practice.scenario import keepers_tank  # noqa: PLC0415 - see above
    from dawnlevel.report.chart import plan_chart, write_chart  # noqa: PLC0415 - see above
    from dawnlevel.store import open_store  # noqa: PLC0415 - see above

    with open_store(str(store)) as opened:
        case = open_case(opened, keepers_tank().name, end_of_story())
    today, why, plan = today_of(case), explain_of(case), plan_of(case)
    chart = store.with_name(CHART_FILE)
    write_chart(plan_chart(plan), chart)
    return today, why, plan, chart
