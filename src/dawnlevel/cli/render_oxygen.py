"""`oxygen` as a page: the night's minimum against published levels, and what more movement does."""

from collections.abc import Iterator

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from dawnlevel.cli.render_page import Paper, columns, facts, figure, heading, listed, page, title
from dawnlevel.cli.render_shelf import sources_block
from dawnlevel.desk.animals.oxygen_views import MovementView, OxygenReadingView, OxygenView
from dawnlevel.desk.phrases import chance, clock, day_text, spread

_WIDE = 72


def oxygen_page(view: OxygenView, paper: Paper) -> str:
    """The page for a tank's oxygen."""
    return page(_blocks(view, paper), paper)


def _blocks(view: OxygenView, paper: Paper) -> Iterator[RenderableType]:
    yield heading(f"{view.tank}, {day_text(view.at)}, {clock(view.at)}", "oxygen")
    yield Padding(facts(_rows(view), 16), (1, 0, 0, 0))
    yield Padding(Text(view.verdict), (1, 0, 0, 0))
    yield title("What was measured")
    if view.readings:
        yield listed(_reading(one) for one in view.readings)
    yield Text(view.told)
    yield title("Published levels for warm-water fish")
    limits = ((f"{one.oxygen_mg_l:g} mg/L", one.means, chance(one.chance_below)) for one in view.limits)
    yield columns(("oxygen", "said of it", "chance below"), limits, right={2})
    yield title("What more movement of the surface does")
    heads = ("movement", "lowest oxygen", "below 5", "CO2 lights-on", "gas to keep it")
    yield columns(_cut(heads, paper), (_cut(_movement(one), paper) for one in view.movements), right={2})
    yield Text("Figures in the middle, nine in ten in brackets; the gas timer as it stands.")
    yield title("Mind")
    yield listed(view.cautions)
    yield from sources_block(view.sources)


def _cut(row: tuple[str, ...], paper: Paper) -> tuple[str, ...]:
    return row if paper.width >= _WIDE else (row[0], row[1], row[4])


def _rows(view: OxygenView) -> Iterator[tuple[str, str | Text]]:
    low = view.minimum_mg_l
    yield "lowest", figure(low.median, 1) + Text(f" mg/L about {clock(view.minimum_at)} ({spread(low, 1)})")
    high = view.maximum_mg_l
    yield "highest", f"{high.median:.1f} mg/L ({spread(high, 1)}); the air gives {view.saturation_mg_l:.1f}"
    taken, dark, made = view.animals_mg_l_h, view.plants_dark_mg_l_h, view.plants_light_mg_l_h
    known = "" if view.from_animals else " (no animals described: from the CO2 they make)"
    yield "animals, filter", f"take {taken.median:.2f} mg/L an hour{known}"
    yield "plants", f"take {dark.median:.2f} in the dark, make {made.median:.2f} in full light"
    kla = view.exchange_per_h
    yield "exchange", f"{kla.median:.2f} an hour with the air ({spread(kla, 2)})"


def _reading(one: OxygenReadingView) -> str:
    return (
        f"{day_text(one.at)}, {clock(one.at)}: {one.oxygen_mg_l:.1f} mg/L, {one.saturation_percent:.0f} % of "
        f"what the air gives (within {one.sd_mg_l:.1f}, one standard deviation)"
    )


def _movement(one: MovementView) -> tuple[str, ...]:
    low, level = one.minimum_mg_l, one.lights_on_mg_l
    gas = "-" if one.gas_factor is None else f"x {one.gas_factor:.2f}"
    return (
        one.label,
        f"{low.median:.1f} ({low.low_90:.1f}-{low.high_90:.1f})",
        chance(one.chance_below_5),
        f"{level.median:.0f} ({level.low_90:.0f}-{level.high_90:.0f})",
        gas,
    )
