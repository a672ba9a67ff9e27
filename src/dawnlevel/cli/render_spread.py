"""How even CO2 is, as a page of text: findings, the maps in figures, readings, where to read next."""

from collections.abc import Iterator

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from dawnlevel.cli.render_page import Paper, columns, facts, heading, listed, page, title
from dawnlevel.desk.evenness.spread_views import MapView, SpreadView
from dawnlevel.estimate.posterior import Interval


def spread_page(view: SpreadView, paper: Paper) -> str:
    """The whole page."""
    return page(_blocks(view), paper)


def _blocks(view: SpreadView) -> Iterator[RenderableType]:
    yield heading(f"{view.tank}: how even is the CO2?", f"{view.at:%a %d %b %H:%M}")
    yield Text("")
    yield Text(view.verdict)
    yield Text("")
    yield facts(_figures(view), label_width=16)
    for one in (view.front, view.top):
        yield title(f"{one.title}, in % of the tank's mean (from left to right; ± half of 9 in 10)")
        yield _map(one)
    if view.compared is not None:
        yield title("Against the survey before")
        change = view.compared.change_percent
        by = (
            f" Unevenness changed by {change.median:+.0f} points (9 in 10: {change.low_90:+.0f} to "
            f"{change.high_90:+.0f})."
        )
        yield Text(view.compared.verdict + ("" if view.compared.missed else by))
        if view.exchange:
            yield Text("If the flow was not touched in between:")
        yield listed(one.text for one in view.exchange)
    yield title("Readings, brought to one moment")
    yield columns(
        ("time", "place", "pH", "CO2 mg/L", "9 in 10"),
        (
            (
                f"{one.at:%H:%M}",
                one.place,
                f"{one.ph:g}",
                f"{one.co2_mg_l.median:.1f}",
                _span(one.co2_mg_l, 1),
            )
            for one in view.readings
        ),
        right={2, 3},
    )
    yield title("Where to read next")
    yield listed(
        f"{one.place} ({one.x_cm:.0f} cm from the left, {one.y_cm:.0f} from the front, {one.z_cm:.0f} up): "
        f"takes {100.0 * one.removes:.0f} % of the map's doubt away"
        for one in view.next_places
    )
    if view.notes:
        yield title("To keep in mind")
        yield listed(view.notes)


def _figures(view: SpreadView) -> Iterator[tuple[str, str]]:
    yield "tank's mean", f"{view.co2_mg_l.median:.1f} mg/L, 9 in 10 {_span(view.co2_mg_l, 1)}"
    uneven = view.variation_percent
    yield "unevenness", f"{uneven.median:.0f} % of the mean (sd), 9 in 10 {_span(uneven, 0)}"
    corner = view.worst_corner_percent
    yield "worst corner", f"{view.worst_corner}: {_below(corner)}"
    for zone in view.dead_zones:
        short = zone.shortfall_percent
        yield (
            "dead zone",
            f"{zone.place}, {zone.water_percent:.0f} % of the water or more: {_below(short)}",
        )


def _below(short: Interval) -> str:
    return f"{short.median:.0f} % below the mean, 9 in 10 {_span(short, 0)}"


def _level(found: Interval) -> tuple[str, str]:
    return f"{found.median:.1f}", _span(found, 1)


def _span(found: Interval, digits: int) -> str:
    return f"{found.low_90:.{digits}f} to {found.high_90:.{digits}f}"


def _map(view: MapView) -> Table:
    table = Table.grid(padding=(0, 1), pad_edge=False)
    table.add_column(width=9)
    for _ in view.percent[0]:
        table.add_column(justify="right", no_wrap=True)
    last = len(view.percent) - 1
    for number, row in enumerate(view.percent):
        label = {0: view.first_row, last: view.last_row}.get(number, "")
        spans = zip(row, view.low_90[number], view.high_90[number], strict=True)
        table.add_row(label, *(f"{level:.0f}±{(high - low) / 2:.0f}" for level, low, high in spans))
    return table
