"""`cylinder` as a page: what is left, when it runs out, what a bubble holds, where the gas goes."""

from collections.abc import Iterator
from datetime import date

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from dawnlevel.cli.render_page import Paper, facts, figure, heading, listed, page, title
from dawnlevel.desk.phrases import clock, day_text, spread
from dawnlevel.desk.shelf.cylinder_care import hot_text
from dawnlevel.desk.shelf.shelf_views import CylinderView, GasDayView
from dawnlevel.desk.views import SourceView
from dawnlevel.estimate.posterior import Interval


def cylinder_page(view: CylinderView, paper: Paper) -> str:
    """The page for a cylinder."""
    return page(_blocks(view), paper)


def sources_block(sources: tuple[SourceView, ...]) -> Iterator[RenderableType]:
    """What the figures rest on."""
    yield title("Sources")
    yield listed(f"{s.text}{f', doi {s.doi}' if s.doi else ''} ({s.status}) [{s.key}]" for s in sources)


def date_text(day: date) -> str:
    """A day as people write it: `4 May 2026`."""
    return f"{day.day} {day:%b %Y}"


def _blocks(view: CylinderView) -> Iterator[RenderableType]:
    yield heading(f"{view.tank}, {day_text(view.at)}, {clock(view.at)}", "gas cylinder")
    yield Padding(facts(_rows(view), 16), (1, 0, 0, 0))
    if view.warnings:
        yield title("Look at")
        yield listed(view.warnings)
    yield title("To know more")
    yield Text(view.weigh_next)
    if view.gauge is not None:
        yield title(f"The gauge: {view.gauge.gauge_bar:.0f} bar, {day_text(view.gauge.at)}")
        yield Text(view.gauge.text)
    yield title(f"If the full cylinder gets warm ({view.fill_kg_l:.2f} kg a litre)")
    yield Text(hot_text(view.heat, view.liquid_full_c))
    yield title("Where the last day's gas went")
    yield facts(_day_rows(view.gas_day), 16) if view.gas_day is not None else Text(view.no_gas_day)
    yield title("Mind")
    yield listed(view.cautions)
    yield Text("Your gas supplier, the stamp on the shoulder and local codes decide.")
    yield from sources_block(view.sources)


def _rows(view: CylinderView) -> Iterator[tuple[str, str | Text]]:
    left, share = view.left_kg, view.left_share
    yield "left", figure(left.median, 2) + Text(f" kg of {view.charge_kg:.3g} ({spread(left, 2)})")
    yield "", f"{100 * share.median:.0f} % of the charge connected on {day_text(view.fitted)}"
    yield "use", _amount(view.use_g_per_day, "g a day, as set now", 1)
    if view.mg_per_bubble is not None:
        yield "a bubble", _amount(view.mg_per_bubble, "mg of gas", 3)
    yield "", f"{100 * view.told:.0f} % of the doubt about that is gone, by weighing and gauge"
    if view.runs_out is None or view.exchange_by is None:
        yield "runs out", "not while no gas is due"
    else:
        early, likely, late = (
            date_text(one) for one in (view.runs_out.early, view.runs_out.likely, view.runs_out.late)
        )
        yield "runs out", f"about {likely} (9 in 10: {early} to {late})"
        yield "next one", f"have it by {date_text(view.exchange_by)}"
    if view.cost_per_month is not None:
        yield "cost", _amount(view.cost_per_month, "a month, in the currency of the price", 2)
    if view.retest:
        yield "test", view.retest


def _amount(value: Interval, unit: str, digits: int) -> str:
    return f"{value.median:.{digits}f} {unit} ({spread(value, digits)})"


def _day_rows(day: GasDayView) -> Iterator[tuple[str, str | Text]]:
    def percent(share: Interval) -> str:
        return f"{100 * share.median:.0f} % (9 in 10: {100 * share.low_90:.0f} to {100 * share.high_90:.0f})"

    yield "injected", _amount(day.injected_g, "g", 1)
    yield "dissolved", percent(day.dissolved_share)
    yield "bubbled off", _amount(day.bubbled_off_g, "g", 1)
    yield "to the room", _amount(day.given_off_g, "g off the water's surface", 1)
    yield (
        "taken up",
        f"{day.taken_up_g.median:.1f} g by plants; of what was injected {percent(day.taken_up_share)}",
    )
