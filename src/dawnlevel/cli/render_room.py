"""`room` as a page: CO2 in a room if the cylinder vents, against published limits."""

from collections.abc import Iterator

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from dawnlevel.cli.render_page import Paper, columns, facts, heading, listed, page, title
from dawnlevel.cli.render_shelf import date_text, sources_block
from dawnlevel.desk.shelf.room_views import CylinderCareView, LimitView, RoomView

_WIDE = 72


def room_page(view: RoomView, paper: Paper) -> str:
    """The page for a room."""
    return page(_blocks(view, paper), paper)


def _blocks(view: RoomView, paper: Paper) -> Iterator[RenderableType]:
    yield heading(f"{view.gas_kg:.3g} kg of CO2 into {view.room_m3:.4g} m3", "people")
    yield Padding(facts(_rows(view), 16), (1, 0, 0, 0))
    yield title("In time, well mixed")
    yield Text(", ".join(f"{_percent(one.percent)} after {one.hours:g} h" for one in view.air))
    yield title("Published limits")
    heads = ("limit", "CO2", "over", "dated", "here")
    rows = (_limit_row(limit) for limit in view.limits)
    yield columns(_cut(heads, paper), (_cut(row, paper) for row in rows), right={1})
    yield title("Why an oxygen alarm does not warn")
    yield Text(view.alarm)
    yield from _cylinder(view.care)
    yield title("Mind")
    yield listed(view.cautions)
    yield from sources_block(view.sources)


def _cylinder(care: CylinderCareView) -> Iterator[RenderableType]:
    """Warmth, handling, tests."""
    yield title(f"If the full cylinder gets warm ({care.fill_kg_l:.2f} kg a litre)")
    yield Text(care.hot)
    yield title("The cylinder")
    yield listed(care.rules)
    yield title("Its test, in CO2 service")
    yield listed(f"every {one.years} years: {one.label}" for one in care.retests)
    yield Text("The stamp on the shoulder and the filler decide.")
    if care.retest_due is not None:
        yield Text(f"This one's date: {date_text(care.retest_due)}.")


def _cut(row: tuple[str, ...], paper: Paper) -> tuple[str, ...]:
    """The whole row, or what fits a narrow page: the limit, its share, and whether it is passed."""
    return row if paper.width >= _WIDE else (row[0], row[1], row[4])


def _percent(share: float) -> str:
    """A share of CO2 in the air [%]."""
    if share < 0.01:
        return "under 0.01 %" if share > 0.0 else "0 %"
    return f"{share:.0f} %" if share >= 10.0 else f"{share:.2g} %"


def _rows(view: RoomView) -> Iterator[tuple[str, str | Text]]:
    over = "at once" if view.vents_over_h == 0.0 else f"over {view.vents_over_h:.3g} h"
    yield "it comes out", f"{over}, with {view.air_changes_per_h:g} room volumes of fresh air an hour"
    feels = f": {view.feels}" if view.feels else ""
    yield "well mixed", f"up to {_percent(view.mixed_percent)} CO2{feels}"
    yield "", f"{_percent(view.closed_percent)} with no fresh air; oxygen {view.oxygen_percent:.1f} %"
    low = f": {view.feels_low}" if view.feels_low else ""
    place = f"in the lowest {view.layer_m:g} m of {view.floor_m2:.3g} m2"
    yield "pooled low", f"up to {_percent(view.pooled_percent)} {place}{low}"
    if view.use_percent is not None:
        yield "ordinary use", f"adds {1e4 * view.use_percent:.0f} ppm to the room's air"


def _limit_row(limit: LimitView) -> tuple[str, ...]:
    return limit.name, f"{limit.percent:g} %", limit.over, limit.dated, _here(limit)


def _here(limit: LimitView) -> str:
    if not limit.passed or limit.begins_h is None:
        return f"not passed ({limit.mass_kg:.2g} kg would)"
    since = "at once" if limit.begins_h < 0.01 else f"after {limit.begins_h:.2g} h"
    if limit.ends_h is None or limit.ends_h == float("inf"):
        return f"passed {since}, and stays"
    return f"passed {since}, until {limit.ends_h:.2g} h"
