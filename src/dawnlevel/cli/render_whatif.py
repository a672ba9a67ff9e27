"""`whatif` as a page: faults with their hours, peaks, mornings and oxygen; guards where one is asked for."""

from collections.abc import Iterator

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from dawnlevel.cli.render_page import Paper, columns, facts, heading, listed, numbered, page, title
from dawnlevel.cli.render_shelf import sources_block
from dawnlevel.desk.amounts import write_clock
from dawnlevel.desk.animals.whatif_views import FaultView, HoursView, OutcomeView, WhatIfView
from dawnlevel.desk.animals.whatif_words import hours_text
from dawnlevel.desk.phrases import chance, clock, day_text
from dawnlevel.estimate.posterior import Interval
from dawnlevel.plan.over import OVER_LIKELY


def whatif_page(view: WhatIfView, paper: Paper) -> str:
    """The page for a tank's faults."""
    return page(_blocks(view), paper)


def _blocks(view: WhatIfView) -> Iterator[RenderableType]:
    yield heading(f"{view.tank}, {day_text(view.at)}, {clock(view.at)}", "what if")
    opening = (
        f"Ceiling {view.ceiling_mg_l:g} mg/L. Each fault by itself, over the 24 hours from its beginning."
    )
    yield Padding(Text(opening), (1, 0, 0, 0))
    if view.over_now:
        yield Padding(Text(view.over_now, style="bold"), (1, 0, 0, 0))
    yield title(f"If nothing fails, from {clock(view.usual_from)}")
    yield facts(_outcome(view.usual, view), 18)
    for fault in view.faults:
        yield from _fault(fault, view)
    yield title("When you find one")
    yield numbered(view.first_steps)
    yield title("What this rests on")
    yield listed(view.rests_on)
    if not any(fault.guards for fault in view.faults):
        yield Padding(Text("What guards help against one: dawnlevel whatif valve"), (1, 0, 0, 0))
    yield from sources_block(view.sources)


def _fault(fault: FaultView, view: WhatIfView) -> Iterator[RenderableType]:
    yield title(fault.what[0].upper() + fault.what[1:])
    yield facts([*_outcome(fault.outcome, view), ("you would see", fault.seen)], 18)
    if fault.guards:
        yield Padding(Text("What helps"), (1, 0, 0, 0))
        rows = (
            (
                name,
                _soon(one.to_ceiling),
                chance(one.to_ceiling.chance),
                _span(one.peak_mg_l),
                _span(one.morning_mg_l),
            )
            for name, one in (
                ("none", fault.outcome),
                *((guard.guard, guard.outcome) for guard in fault.guards),
            )
        )
        heads = ("guard", "ceiling in", "passed", "highest", f"at {write_clock(view.morning_h)}")
        yield columns(heads, rows, right={1, 2, 3, 4})
        yield listed(f"{one.guard}: {one.means}." for one in fault.guards)


def _outcome(one: OutcomeView, view: WhatIfView) -> Iterator[tuple[str, str | Text]]:
    yield "to the ceiling", hours_text(one.to_ceiling)
    yield f"to {1.3 * view.ceiling_mg_l:.3g} mg/L", hours_text(one.to_high)
    yield "highest", f"{_span(one.peak_mg_l)} mg/L"
    yield f"at {write_clock(view.morning_h)}", f"{_span(one.morning_mg_l)} mg/L"
    yield "lowest oxygen", f"{_span(one.least_oxygen_mg_l, 1)} mg/L"


def _soon(one: HoursView) -> str:
    """Hours to the ceiling in a table's cell."""
    if one.already >= OVER_LIKELY:
        return "already"
    return "-" if one.likely_h is None else f"{one.likely_h:.1f} h"


def _span(value: Interval, digits: int = 0) -> str:
    return f"{value.median:.{digits}f} ({value.low_90:.{digits}f}-{value.high_90:.{digits}f})"
