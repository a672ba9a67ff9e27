"""`why` as a page: what to do first, the causes with their evidence, what to measure, what to change."""

from collections.abc import Iterator

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from dawnlevel.cli.render_page import Paper, facts, heading, numbered, page, title
from dawnlevel.desk.phrases import chance, clock, day_text
from dawnlevel.desk.trouble.complaint_views import CauseView, ComplaintView, RemedyView

HARDLY = 0.1
"""Causes with a smaller chance are named in one line; own choice."""


def complaint_page(view: ComplaintView, paper: Paper) -> str:
    """The page that answers a complaint."""
    return page(_blocks(view), paper)


def _blocks(view: ComplaintView) -> Iterator[RenderableType]:
    yield heading(f"{view.tank}, {day_text(view.at)}, {clock(view.at)}", view.label)
    if view.first:
        yield title("First")
        yield numbered(view.first)
    yield Padding(Text(view.answer), (1, 0, 0, 0))
    if view.needs:
        yield title("What to read")
        yield numbered(view.needs)
        return
    for cause in view.causes:
        if cause.probability is None or cause.probability >= HARDLY:
            yield from _cause(cause)
    unlikely = [one for one in view.causes if one.probability is not None and one.probability < HARDLY]
    if unlikely:
        yield title("Hardly, by these records")
        yield facts(((chance(one.probability), f"{one.label}. {one.evidence}") for one in unlikely), 12)
    if view.measurements:
        yield title("What to measure next: share of the doubt about these causes it should remove")
        yield facts(((chance(one.removes), one.label) for one in view.measurements), 12)
    if view.remedy is not None:
        yield from _remedy(view.remedy)


def _cause(cause: CauseView) -> Iterator[RenderableType]:
    yield title(cause.label)
    told = "not told" if cause.probability is None else chance(cause.probability)
    yield facts(
        (
            ("chance", told),
            ("evidence", cause.evidence),
            ("unknown", cause.unknown),
            ("to settle it", cause.check),
        ),
        12,
    )


def _remedy(remedy: RemedyView) -> Iterator[RenderableType]:
    yield title("What to change")
    yield Text(f"{remedy.text} The whole plan: dawnlevel plan; --accept takes it over.")
    level = remedy.forecast.co2_mg_l
    rows = [
        ("lights-on", f"{level.median:.1f} mg/L (9 in 10: {level.low_90:.1f} to {level.high_90:.1f})"),
        ("in band", f"{chance(remedy.chance_if_done)}; if left as it is {chance(remedy.chance_if_left)}"),
        ("ceiling", f"chance of passing {remedy.over}: {chance(remedy.breach_if_done)}"),
    ]
    if remedy.out_of_reach:
        rows.append(("but", remedy.out_of_reach))
    yield facts(rows, 12)
