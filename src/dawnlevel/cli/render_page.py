"""A page of text: its width, its characters, and the blocks every page is made of.

Pages are made as one string, no wider than 80 columns, and hold plain letters only where the terminal
can show no others.
"""

import shutil
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from io import StringIO

from rich import box
from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

WIDEST, NARROWEST = 80, 40


@dataclass(frozen=True, slots=True)
class Paper:
    """What a page is written on: columns, whether more than plain ASCII can be shown, whether in colour."""

    width: int
    is_unicode: bool
    is_colour: bool


def this_terminal() -> Paper:
    """The paper that standard output is."""
    columns = shutil.get_terminal_size((WIDEST, 24)).columns
    encoding = (sys.stdout.encoding or "ascii").lower().replace("-", "")
    return Paper(min(max(columns, NARROWEST), WIDEST), encoding.startswith("utf"), sys.stdout.isatty())


def page(blocks: Iterable[RenderableType], paper: Paper) -> str:
    """The blocks under one another, a line without trailing blanks each."""
    out = StringIO()
    console = Console(
        file=out,
        width=paper.width,
        force_terminal=paper.is_colour,
        color_system="standard" if paper.is_colour else None,
        highlight=False,
        markup=False,
        emoji=False,
        legacy_windows=False,
    )
    for block in blocks:
        console.print(block)
    text = "\n".join(line.rstrip() for line in out.getvalue().splitlines())
    return text if paper.is_unicode else text.encode("ascii", "replace").decode("ascii")


def heading(left: str, right: str = "") -> RenderableType:
    """The page's first line: what it is about, and where things stand."""
    line = Table.grid(expand=True)
    line.add_column(ratio=1)
    line.add_column(justify="right", no_wrap=True)
    line.add_row(Text(left, style="bold"), Text(right))
    return line


def title(text: str) -> RenderableType:
    """A line over a part of the page, with room above."""
    return Padding(Text(text, style="bold"), (1, 0, 0, 0))


def facts(rows: Iterable[tuple[str, str | Text]], label_width: int = 13) -> Table:
    """Labels and what stands beside them; long ones wrap under themselves."""
    table = Table.grid(padding=(0, 1), pad_edge=False)
    table.add_column(width=label_width, style="dim")
    table.add_column(ratio=1)
    for label, value in rows:
        table.add_row(label, value)
    return table


def listed(lines: Iterable[str], marks: Iterable[str] | None = None) -> Table:
    """Lines with a dash, or with the given marks, before them."""
    table = Table.grid(padding=(0, 1), pad_edge=False)
    table.add_column(no_wrap=True)
    table.add_column(ratio=1)
    given = iter(marks) if marks is not None else None
    for line in lines:
        table.add_row("-" if given is None else next(given), line)
    return table


def numbered(lines: tuple[str, ...]) -> Table:
    """Lines with numbers before them."""
    return listed(lines, [f"{place}." for place in range(1, len(lines) + 1)])


def columns(heads: tuple[str, ...], rows: Iterable[tuple[str | Text, ...]], right: set[int]) -> Table:
    """A table with a line under its heads; the columns in `right` are set to the right."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False, padding=(0, 1), safe_box=True)
    for place, head in enumerate(heads):
        table.add_column(head, justify="right" if place in right else "left", overflow="fold")
    for row in rows:
        table.add_row(*row)
    return table


def figure(value: float, digits: int) -> Text:
    """A figure that should be seen first."""
    return Text(f"{value:5.{digits}f}", style="bold")
