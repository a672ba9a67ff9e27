"""The page of `fleet`: which tanks changed, most important first, and which could not be judged."""

from collections.abc import Iterator, Sequence

from rich.console import RenderableType
from rich.text import Text

from dawnlevel.cli.render_page import Paper, columns, heading, listed, page, title
from dawnlevel.desk.fleet.views import ChangedTank, FleetView, TroubledTank

_MOST = 40  # lines of a kind before the rest is left to the file (judgement)
_FEW = 12  # names of tanks in a row


def fleet_page(view: FleetView, paper: Paper) -> str:
    """All of it as text."""
    return page(_blocks(view), paper)


def _blocks(view: FleetView) -> Iterator[RenderableType]:
    yield heading("Fleet", view.place)
    yield Text(_counts(view))
    if view.before:
        yield Text(f"{_tanks(view.before)} of these had a line in the file before this run.")
    recent = [one for one in view.changed if one.is_recent]
    animals_first = [one for one in recent if one.raises_co2]
    yield from _changes("More CO2 than before, begun in the last 14 days", animals_first)
    if animals_first:
        yield Text(
            "Look at the animals there first: where they are uneasy, lower the gas and aerate. An ailing "
            "animal is a veterinarian's to judge, a cylinder or regulator your gas supplier's."
        )
    yield from _changes("Changed in the last 14 days", [one for one in recent if not one.raises_co2])
    yield from _changes("Changed before that", [one for one in view.changed if not one.is_recent])
    yield from _troubles("Could not be judged", view.troubled)
    yield from _troubles("Not done: their workers died", view.lost)
    yield title("Where the rest stands")
    yield Text(f"Every tank's findings, causes and days: {view.file}, one line of JSON a tank.")
    if view.troubled:
        yield Text("When these are mended, the same command with --again tries them once more.")


def _counts(view: FleetView) -> str:
    parts = [f"{len(view.changed)} changed", f"{view.steady} steady"]
    if view.too_short:
        parts.append(f"{view.too_short} with too few days to tell")
    if view.troubled:
        parts.append(f"{len(view.troubled)} that could not be judged")
    if view.lost:
        parts.append(f"{len(view.lost)} not done")
    return f"{_tanks(view.tanks)}: {', '.join(parts)}."


def _tanks(count: int) -> str:
    return f"{count:,} tank{'' if count == 1 else 's'}"


def _changes(head: str, changed: Sequence[ChangedTank]) -> Iterator[RenderableType]:
    if not changed:
        return
    yield title(f"{head}: {_tanks(len(changed))}")
    rows = [
        (one.tank, f"{one.since:%Y-%m-%d}", _said(one), f"{100.0 * one.probability:.0f} %")
        for one in changed[:_MOST]
    ]
    yield columns(("tank", "since", "what", "sure"), rows, {3})
    if len(changed) > _MOST:
        yield Text(f"and {len(changed) - _MOST} more, in the file.")


def _said(one: ChangedTank) -> str:
    more = f" (and {one.further} more)" if one.further else ""
    return f"{one.said}{more}. Perhaps: {one.cause}" if one.cause else f"{one.said}{more}"


def _troubles(head: str, troubled: Sequence[TroubledTank]) -> Iterator[RenderableType]:
    """Tanks by what is wrong with them, each reason once."""
    if not troubled:
        return
    yield title(f"{head}: {_tanks(len(troubled))}")
    reasons: dict[tuple[str, str], list[str]] = {}
    for one in troubled:
        reasons.setdefault((one.message, one.cure), []).append(one.tank)
    yield listed(f"{_names(names)}: {what} {cure}" for (what, cure), names in reasons.items())


def _names(names: Sequence[str]) -> str:
    more = f" and {len(names) - _FEW} more" if len(names) > _FEW else ""
    return f"{', '.join(names[:_FEW])}{more}"
