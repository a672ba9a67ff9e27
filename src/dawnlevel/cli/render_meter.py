"""`solution` and `meter` as pages: recipes, colours and standards; checks, due dates and what limits CO2."""

from collections.abc import Iterator

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from dawnlevel.cli.render_page import Paper, columns, facts, heading, listed, numbered, page, title
from dawnlevel.cli.render_shelf import date_text, sources_block
from dawnlevel.desk.phrases import chance, clock, day_text
from dawnlevel.desk.shelf.meter_views import MeterView, SolutionView


def solution_page(view: SolutionView, paper: Paper) -> str:
    """The page for a reference solution."""
    return page(_solution(view), paper)


def _solution(view: SolutionView) -> Iterator[RenderableType]:
    yield heading(f"{view.volume_l:g} L of {view.kh_dkh:g} dKH", "reference solution")
    yield Padding(Text(view.direct), (1, 0, 0, 0))
    yield title("Recipe")
    yield numbered(view.recipe.steps)
    yield Text(view.carried)
    if view.stock_ml is not None:
        yield title("From the stock you have")
        yield Text(f"Measure {view.stock_ml:.4g} mL of it and fill up to {view.volume_l:g} L.")
    yield title("The cell at each CO2, in balance; blue share with its ends")
    yield columns(
        ("mg/L", "pH", "seen as", "blue", "standard's pH"),
        (
            (
                f"{one.co2_mg_l:g}",
                f"{one.cell_ph:.2f}",
                one.word,
                f"{100 * one.blue_share:.0f} % ({100 * one.blue_low:.0f} to {100 * one.blue_high:.0f})",
                f"{one.standard_ph:.2f}",
            )
            for one in view.colours
        ),
        right={0, 1, 4},
    )
    yield title("A colour scale of your own")
    yield numbered(view.standards)
    yield title("Mind")
    yield listed(view.cautions)
    yield from sources_block(view.sources)


def meter_page(view: MeterView, paper: Paper) -> str:
    """The page for meters and kits."""
    return page(_meter(view), paper)


def _meter(view: MeterView) -> Iterator[RenderableType]:
    yield heading(f"{view.tank}, {day_text(view.at)}, {clock(view.at)}", "meters and kits")
    yield Padding(Text(view.advice), (1, 0, 0, 0))
    if view.factor_now is not None:
        yield title(f"What limits CO2 most (known now within a factor of {view.factor_now:.2f}, 9 in 10)")
        yield facts(
            (
                (chance(one.share), f"{one.label} (x{one.factor_if_known:.2f} if known)")
                for one in view.limits
            ),
            10,
        )
        yield title("What would improve it: share of the doubt removed, factor after")
        yield facts(
            ((chance(one.removes), f"{one.label} (x{one.factor_after:.2f})") for one in view.improvements), 10
        )
    yield title("The pH meter in buffers")
    if not view.checks:
        yield Text("Not recorded yet: dawnlevel buffers LOW HIGH, with what it shows before it is adjusted.")
    yield facts(((day_text(one.at), one.text) for one in view.checks), 16)
    yield facts(_due(view), 16)
    yield title(f"The KH kit at {view.kh_dkh:g} dKH")
    yield columns(
        ("sample", "a drop is", "drops", "counting", "with its bias"),
        (
            (
                f"{one.multiple}-fold",
                f"{one.step_dkh:.3g} dKH",
                str(one.drops),
                f"{one.counting_percent:.1f} %",
                f"{one.with_bias_percent:.1f} %",
            )
            for one in view.kit
        ),
        right={1, 2, 3, 4},
    )
    yield Text(
        f"An end point at pH 4.5 counts {view.end_point_bias_dkh:.2f} dKH too much here. No sample size "
        "helps against a kit's bias: titrate a solution of known KH with it."
    )
    yield title("What usual errors do to CO2, in any tank (one standard deviation)")
    yield facts(((f"{one.co2_percent:.0f} %", f"{one.label}, {one.error}") for one in view.errors), 10)
    yield from sources_block(view.sources)


def _due(view: MeterView) -> Iterator[tuple[str, str]]:
    if view.due is not None:
        yield "due again", date_text(view.due)
    if view.drift_ph_per_week is not None:
        yield "drift", f"{view.drift_ph_per_week:+.3f} pH a week since it was adjusted"
    if view.solution_due is not None:
        yield "cell's solution", f"due afresh {date_text(view.solution_due)}"
