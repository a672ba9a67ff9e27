"""`animals` as a page: the ceiling for each kind with its evidence, oxygen, signs to watch for."""

from collections.abc import Iterator

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from dawnlevel.cli.render_page import Paper, facts, heading, listed, page, title
from dawnlevel.cli.render_shelf import sources_block
from dawnlevel.desk.animals.animals import AnimalsView, GroupView
from dawnlevel.desk.phrases import spread


def animals_page(view: AnimalsView, paper: Paper) -> str:
    """The page for a tank's animals."""
    return page(_blocks(view), paper)


def _blocks(view: AnimalsView) -> Iterator[RenderableType]:
    yield heading(view.tank, "animals")
    yield Padding(facts(_rows(view), 16), (1, 0, 0, 0))
    for one in view.groups:
        yield title(f"{one.number} {one.kind} of {one.grams:.3g} g")
        yield facts(_group_rows(one), 16)
    if not view.groups:
        yield title("No animals are described")
        yield Text('Describe them: dawnlevel tank change --animals "fish:12:1.5g,shrimp:20:0.2g"')
    yield title("When oxygen is low")
    yield Text(view.low_oxygen)
    yield title("Watch for, in this order")
    yield Text(", ".join(view.signs) + ".")
    yield title("Mind")
    yield listed(view.cautions)
    yield from sources_block(view.sources)


def _rows(view: AnimalsView) -> Iterator[tuple[str, str | Text]]:
    whose = f", for {view.strictest}" if view.strictest else ", where no animals are described"
    yield "guidance", f"up to {view.guided_mg_l:g} mg/L CO2{whose}"
    yield "ceiling", f"plans stay below {view.ceiling_mg_l:g} mg/L"
    if view.limit_reason:
        yield "", f"above the guidance, because: {view.limit_reason}"
    if view.groups:
        taken, each = view.oxygen_mg_h, view.oxygen_mg_l_h
        yield "oxygen taken", f"{taken.median:.3g} mg an hour at {view.temp_c:.3g} °C ({spread(taken, 1)})"
        yield "", f"{each.median:.2g} mg/L an hour of this water; they give {view.co2_mg_l_h:.2g} mg/L CO2"


def _group_rows(one: GroupView) -> Iterator[tuple[str, str | Text]]:
    yield "ceiling", f"{one.guided_mg_l:g} mg/L{'' if one.published else ' (a precaution)'}"
    yield "evidence", f"{one.evidence}. {one.says}"
    yield "oxygen at rest", f"{one.resting_oxygen_mg_h:.3g} mg an hour, all of them"
