"""`steady` as a page: is it steady, what changed, what to check, and each figure on its chart."""

from collections.abc import Iterator

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from dawnlevel.cli.render_page import Paper, columns, facts, heading, numbered, page, title
from dawnlevel.desk.phrases import chance, clock, day_text
from dawnlevel.desk.steadiness.steadiness_views import ChartView, ShiftView, SteadinessView

_STATES = {"too_few": "too few yet", "steady": "steady", "warning": "near its limit", "changed": "changed"}


def steady_page(view: SteadinessView, paper: Paper) -> str:
    """All of it as text."""
    return page(_blocks(view), paper)


def _blocks(view: SteadinessView) -> Iterator[RenderableType]:
    yield heading(f"{view.tank}, {day_text(view.at)}, {clock(view.at)}", "Is it steady?")
    yield Padding(Text(view.answer), (1, 0, 0, 0))
    for one in view.changes:
        yield title(f"Since {day_text(one.since)}" if one.is_lasting else f"On {day_text(one.since)}")
        yield _change(one)
    if view.charts:
        yield title("The figures")
        yield columns(
            ("figure", "usual", "last", "since", "readings", ""), map(_chart, view.charts), {1, 2, 4}
        )
    if view.needs:
        yield title("What would tell more")
        yield numbered(view.needs)


def _change(one: ShiftView) -> RenderableType:
    between = f"{one.since_earliest:%Y-%m-%d} and {one.since_latest:%Y-%m-%d}"
    rows: list[tuple[str, str | Text]] = [
        ("what", one.text),
        ("how sure", f"{chance(one.probability)} that it changed; it began between {between}"),
        (
            "how much",
            f"{one.moved:+.2f} {one.moved_unit} (9 in 10: {one.moved_low:+.2f} to {one.moved_high:+.2f})",
        ),
    ]
    for kind in one.kinds:
        size = f"{kind.size:+g} ({kind.size_unit})"
        rows.append((chance(kind.probability), f"{kind.label}: {size}"))
        for cause in kind.causes[:3]:
            said = [f"for: {reason}" for reason in cause.speaks_for]
            said += [f"against: {reason}" for reason in cause.speaks_against]
            rows.append(("", f"- {cause.cause}" + (f" ({'; '.join(said)})" if said else "")))
    rows.append(("check", one.check))
    return facts(rows, 10)


def _chart(one: ChartView) -> tuple[str, ...]:
    usual = "-" if one.usual is None else f"{one.usual:.2f}"
    last = f"{one.points[-1].value:.2f}" if one.points else "-"
    since = "-" if one.since is None else f"{one.since:%Y-%m-%d}"
    return (f"{one.label} [{one.unit}]", usual, last, since, str(one.count), _STATES[one.state])
