"""A tank's layout as a page of text: rules of the trade first, what was measured after, never mixed."""

from collections.abc import Iterator

from rich.console import RenderableType
from rich.text import Text

from dawnlevel.cli.render_page import Paper, facts, heading, listed, page, title
from dawnlevel.desk.evenness.layout import LayoutView


def layout_page(view: LayoutView, paper: Paper) -> str:
    """The whole page."""
    return page(_blocks(view), paper)


def _blocks(view: LayoutView) -> Iterator[RenderableType]:
    measured = " as measured" if view.is_measured else ""
    yield heading(f"{view.tank}: layout")
    yield Text("")
    yield facts(
        [
            ("outflow", view.outflow),
            ("intake", view.intake),
            ("diffuser", view.diffuser),
            ("hardscape", "; ".join(view.hardscape) or "none given"),
            ("flow", f"{view.flow_l_h:.0f} L/h{measured} of {view.rated_l_h:.0f} by the label"),
            ("turnover", f"{view.turnover_per_h:.1f} tank volumes an hour"),
        ]
    )
    if not view.stored:
        yield Text("A try: it is not kept.")
    yield title("By the trade's rules")
    yield Text(view.basis)
    yield listed(
        [f"{one.rule}. {one.finding}" for one in view.rules],
        ["yes" if one.kept else "no " for one in view.rules],
    )
    yield title("Measured")
    yield Text(view.measured)
