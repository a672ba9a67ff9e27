"""The demonstration in letters: its events as they happen, and where the tank stands at the end."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from shlex import quote

from rich.console import RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from dawnlevel.cli.render_explain import routes_blocks
from dawnlevel.cli.render_page import Paper, facts, heading, page, title
from dawnlevel.cli.render_plan import plan_page
from dawnlevel.cli.render_today import level_rows
from dawnlevel.cli.story import Event
from dawnlevel.desk.phrases import clock, day_text
from dawnlevel.desk.views import ExplainView, PlanView, TodayView

OPENING = (
    "A demonstration: an invented keeper, an invented home and a simulated tank. The keeper knows only what "
    "the meter, the kit, the cup, the indicator cell and the fish show, and follows the advice; the tank's "
    "truth is told at lights-on for comparison."
)


class StoryPage:
    """Prints events as they come, a heading for each new day, and a reason only where it is new."""

    def __init__(self, paper: Paper) -> None:
        self._paper = paper
        self._day: date | None = None
        self._last_kind = ""

    def lines(self, event: Event) -> str:
        """One event, with its day's heading where it is the day's first."""
        return page(self._blocks(event), self._paper)

    def _blocks(self, event: Event) -> Iterator[RenderableType]:
        if event.at.date() != self._day:
            self._day, self._last_kind = event.at.date(), ""
            yield title(day_text(event.at))
        kind = "hold" if " Hold at " in event.text else event.text
        table = Table.grid(padding=(0, 1), pad_edge=False)
        table.add_column(width=5)
        table.add_column(ratio=1)
        table.add_row(clock(event.at), Text(event.text, style="bold" if "LIGHTS ON" in event.text else ""))
        if event.why and kind != self._last_kind:
            table.add_row("", Text(f"Why: {event.why}", style="dim"))
        if event.why:
            self._last_kind = kind
        yield table


def ending(today: TodayView, why: ExplainView, plan: PlanView, paper: Paper) -> str:
    """The estimate, the three routes and tomorrow's plan."""
    return page(_ending(today, why, paper), paper) + "\n\n" + plan_page(plan, paper)


def _ending(today: TodayView, why: ExplainView, paper: Paper) -> Iterator[RenderableType]:
    yield Text("")
    yield heading(f"Where {today.tank} stands", f"{day_text(today.now.at)}, {clock(today.now.at)}")
    yield Padding(facts(level_rows(today)), (1, 0, 0, 0))
    yield from routes_blocks(why, paper)


def what_next(store: Path, chart: Path, today: TodayView, logged: str, paper: Paper) -> str:
    """Where the chart is, and which commands to try; `logged` is the tank whose probe logs."""
    place = f"--tank {quote(today.tank)} --store {quote(str(store))}"
    at = f"--at '{today.now.at:%Y-%m-%d %H:%M}'"
    options = f"{place} {at}"
    ramp = f"{place} --at '{today.now.at:%Y-%m-%d} 12:00'"
    lines = [
        f"dawnlevel today {ramp}",
        f"dawnlevel plan {options}",
        f"dawnlevel explain {options}",
        f"dawnlevel log {place}",
        f"dawnlevel watch --tank {quote(logged)} --store {quote(str(store))} {at}",
        "dawnlevel play",
    ]
    blocks = [Text(f"\nThe chart of tomorrow's plan: {chart}"), Text("Try next:")]
    return page(blocks, paper) + "\n" + "\n".join(f"  {line}" for line in lines)
