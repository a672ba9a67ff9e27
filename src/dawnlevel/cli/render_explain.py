"""`explain` as a page: three routes side by side, who bends, what is told and what is not, the sources."""

from collections.abc import Iterator

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from dawnlevel.cli.render_page import Paper, columns, facts, figure, heading, listed, page, title
from dawnlevel.desk.advice.reasons import (
    place_on,
    route_scale,
    short_rule_text,
    tangle_text,
    unknown_values,
    unknowns_told,
)
from dawnlevel.desk.phrases import band_text, chance, clock, day_text, spread
from dawnlevel.desk.views import ExplainView, RouteView, UnknownView


def explain_page(view: ExplainView, paper: Paper) -> str:
    """The page that says why."""
    return page(_blocks(view, paper), paper)


def routes_blocks(view: ExplainView, paper: Paper) -> Iterator[RenderableType]:
    """The three routes side by side and the verdict."""
    yield title("Three routes to CO2, each on its own evidence")
    heads = ("route", "mg/L", "9 in 10", "at") if paper.width < 72 else ("route", "mg/L", "9 in 10", "at", "")
    scale = route_scale(view)
    rows = [_route_row(route, scale, paper)[: len(heads)] for route in view.routes]
    yield columns(heads, rows, right={1, 2})
    for route in view.routes:
        if route.missing:
            yield Text(f"{route.label}: needs {route.missing}.")
    yield Text(view.verdict)


def _blocks(view: ExplainView, paper: Paper) -> Iterator[RenderableType]:
    now, level = view.now.at, view.now.co2_mg_l
    yield heading(f"{view.tank}, {day_text(now)}, {clock(now)}", "why")
    yield Padding(
        facts(
            [
                ("CO2 now", figure(level.median, 1) + Text(f" mg/L ({spread(level, 1)})")),
                ("target", band_text(view.band)),
                ("", view.band.rests_on),
            ]
        ),
        (1, 0, 0, 0),
    )
    yield from routes_blocks(view, paper)
    yield title("What may be wrong, with its odds")
    yield facts(((chance(c.probability), c.label) for c in view.culprits), 10)
    yield title("What would settle it: share of the doubt each would remove")
    yield facts(((chance(m.removes), m.label) for m in view.measurements), 10)
    yield from _unknowns(view)
    yield from _tangles(view)
    yield title("Meter and cell, as recorded")
    yield listed(view.gear)
    yield title("How far off the short rule is")
    yield Text(short_rule_text(view))
    yield title("Sources")
    yield listed(f"{s.text}{f', doi {s.doi}' if s.doi else ''} ({s.status}) [{s.key}]" for s in view.sources)


def _route_row(route: RouteView, scale: tuple[float, float], paper: Paper) -> tuple[str | Text, ...]:
    found = route.co2_mg_l
    if found is None or route.at is None:
        return route.label, "-", "-", "-", ""
    return (
        route.label,
        figure(found.median, 1),
        f"{found.low_90:.1f} to {found.high_90:.1f}",
        clock(route.at),
        _bar(found.low_90, found.median, found.high_90, scale, paper),
    )


def _bar(low: float, middle: float, high: float, scale: tuple[float, float], paper: Paper) -> str:
    """The interval on the scale the routes share."""
    width = 20
    places = [min(int(place_on(scale, value) * width), width - 1) for value in (low, middle, high)]
    line, dot = ("─", "●") if paper.is_unicode else ("-", "o")
    cells = [line if places[0] <= place <= places[2] else " " for place in range(width)]
    cells[places[1]] = dot
    return "".join(cells)


def _unknowns(view: ExplainView) -> Iterator[RenderableType]:
    """What the records have told, what they have not."""
    told, open_yet = unknowns_told(view)
    for name, group in (("Told by the records", told), ("Still mostly guessed", open_yet)):
        if group:
            yield title(f"{name} (9 in 10; before the records)")
            yield listed(_unknown_text(unknown) for unknown in group)


def _unknown_text(unknown: UnknownView) -> str:
    now, before = unknown_values(unknown)
    return f"{unknown.label}: {now} (before {before})"


def _tangles(view: ExplainView) -> Iterator[RenderableType]:
    """Pairs that are not told apart, with the reading that would."""
    if not view.tangles:
        return
    yield title("Not told apart yet")
    yield listed(tangle_text(view, tangle) for tangle in view.tangles)
