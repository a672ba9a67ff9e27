"""`explain` as a page: three routes side by side, who bends, what is told and what is not, the sources."""

from collections.abc import Iterator
from math import exp, log

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from dawnlevel.cli.render_page import Paper, columns, facts, figure, heading, listed, page, title
from dawnlevel.desk.phrases import band_text, chance, clock, day_text, spread
from dawnlevel.desk.views import ExplainView, RouteView, UnknownView
from dawnlevel.estimate.identify import TOLD

_UNITS = {
    "_mg_l_h_per_bps": "mg/L an hour",
    "_mg_l_h": "mg/L an hour",
    "_meq_l": "meq/L",
    "_mg_l": "mg/L",
    "_per_h": "per hour",
    "_ppm": "ppm",
    "_ph": "pH",
    "_h": "h",
}


def explain_page(view: ExplainView, paper: Paper) -> str:
    """The page that says why."""
    return page(_blocks(view, paper), paper)


def routes_blocks(view: ExplainView, paper: Paper) -> Iterator[RenderableType]:
    """The three routes side by side and the verdict."""
    yield title("Three routes to CO2, each on its own evidence")
    heads = ("route", "mg/L", "9 in 10", "at") if paper.width < 72 else ("route", "mg/L", "9 in 10", "at", "")
    scale = _scale(view)
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
    yield title("How far off the short rule is")
    yield Text(_short_rule(view))
    yield title("Sources")
    yield listed(f"{s.text}{f', doi {s.doi}' if s.doi else ''} ({s.status}) [{s.key}]" for s in view.sources)


def _scale(view: ExplainView) -> tuple[float, float]:
    """Both ends of the shared scale, in log mg/L."""
    found = [route.co2_mg_l for route in view.routes if route.co2_mg_l is not None]
    if not found:
        return 0.0, 1.0
    return (
        log(max(min(i.low_90 for i in found), 0.1)) - 0.05,
        log(max(*(i.high_90 for i in found), 0.2)) + 0.05,
    )


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
    places = [
        min(max(int((log(max(value, 0.1)) - scale[0]) / (scale[1] - scale[0]) * width), 0), width - 1)
        for value in (low, middle, high)
    ]
    line, dot = ("─", "●") if paper.is_unicode else ("-", "o")
    cells = [line if places[0] <= place <= places[2] else " " for place in range(width)]
    cells[places[1]] = dot
    return "".join(cells)


def _unknowns(view: ExplainView) -> Iterator[RenderableType]:
    """What the records have told, what they have not."""
    told = [unknown for unknown in view.unknowns if unknown.removed >= TOLD]
    open_yet = [unknown for unknown in view.unknowns if unknown.removed < TOLD]
    for name, group in (("Told by the records", told), ("Still mostly guessed", open_yet)):
        if group:
            yield title(f"{name} (9 in 10; before the records)")
            yield listed(_unknown_text(unknown) for unknown in group)


def _unknown_text(unknown: UnknownView) -> str:
    unit = next((text for suffix, text in _UNITS.items() if unknown.name.endswith(suffix)), "")
    values = [unknown.now.low_90, unknown.now.high_90, unknown.prior_median]
    if unknown.name.endswith("_log"):
        values, unit = [exp(value) for value in values], "-fold"
    low, high, before = (f"{value:.2f}" if abs(value) < 10 else f"{value:.0f}" for value in values)
    ending = unit if unit.startswith("-") or not unit else f" {unit}"
    return f"{unknown.label}: {low} to {high}{ending} (before {before})"


def _tangles(view: ExplainView) -> Iterator[RenderableType]:
    """Pairs that are not told apart, with the reading that would."""
    if not view.tangles:
        return
    labels = {unknown.name: unknown.label for unknown in view.unknowns}
    yield title("Not told apart yet")
    yield listed(
        f"{labels.get(tangle.first, tangle.first)} and {labels.get(tangle.second, tangle.second)}"
        + (f": {tangle.cure}." if tangle.cure else ".")
        for tangle in view.tangles
    )


def _short_rule(view: ExplainView) -> str:
    if view.short_rule_mg_l is None or view.short_rule_off_percent is None:
        return "It needs a pH reading and a KH count."
    off = view.short_rule_off_percent
    side = "above" if off >= 0 else "below"
    return (
        f"3 x dKH x 10^(7 - pH) gives {view.short_rule_mg_l:.1f} mg/L at the last reading: "
        f"{abs(off):.0f} % {side} this estimate."
    )
