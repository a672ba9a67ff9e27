"""The page of `watch`: is it steady, what changed, what to check."""

from zoneinfo import ZoneInfo

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from dawnlevel.cli.render_page import Paper, facts, heading, page, title
from dawnlevel.desk.steadiness.watch import DayView, FindingView, WatchView
from dawnlevel.desk.steadiness.watch_words import CAUTIONS, SAID, between_text, since_text, size_text
from dawnlevel.desk.wording import percent

_LATEST = 7


def watch_page(view: WatchView, paper: Paper, tank: str) -> str:
    """All of it as text; `tank` is the tank's name where there is one."""
    days, zone = view.days, ZoneInfo(view.timezone)
    span = f"{days[0].day} to {days[-1].day}" if days else ""
    blocks: list[RenderableType] = [heading(f"{tank}: is it steady?", span)]
    if not view.is_long_enough:
        few = (
            f"Only {view.comparable_days} whole gas days can be compared; it takes six to tell what is usual."
        )
        blocks.append(Text(few + " Days without gas and nights with gas show all the same."))
    elif not view.findings:
        blocks.append(Text(f"Steady: nothing changed in {len(days)} gas days, as far as this log can tell."))
    for one in view.findings:
        blocks += [title(f"Since {since_text(one, zone)}: {SAID[one.kind]}"), _finding(one, zone)]
    blocks += [title("The last days"), _days(days[-_LATEST:])]
    read = f"{view.readings} readings" + _bracket(list(view.columns), ", ")
    if view.left_out:
        read += f"; {view.left_out} without a pH that a tank shows were left out"
    if view.doubled:
        read += f"; {view.doubled} of a minute that was there already"
    blocks += [title("How the log was read"), Text(read + ".")]
    return page(blocks, paper)


def _finding(one: FindingView, zone: ZoneInfo) -> Table:
    rows: list[tuple[str, str | Text]] = [
        ("How sure", f"{percent(one.probability)}; it began {between_text(one, zone)}")
    ]
    if size := size_text(one):
        rows.append(("How much", size))
    if one.kind in CAUTIONS:
        rows.append(("Mind", CAUTIONS[one.kind]))
    for number, cause in enumerate(one.causes, start=1):
        reasons = [f"for: {reason}" for reason in cause.speaks_for]
        reasons += [f"against: {reason}" for reason in cause.speaks_against]
        rows.append(("Perhaps" if number == 1 else "", f"{number}. {cause.cause}" + _bracket(reasons)))
    rows.append(("Check", one.check))
    return facts(rows, 10)


def _bracket(parts: list[str], between: str = "; ") -> str:
    return f" ({between.join(parts)})" if parts else ""


def _days(days: tuple[DayView, ...]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for name in ("day", "exchange 1/h", "gas mg/L/h", "uptake mg/L/h", "lights-on mg/L", ""):
        table.add_column(name, justify="left" if name in {"day", ""} else "right")
    for day in days:
        table.add_row(
            str(day.day), f"{day.exchange_per_h:.2f}", f"{day.gain_mg_l_h:.1f}", f"{day.uptake_mg_l_h:.1f}",
            f"{day.co2_lights_on_mg_l:.0f}", "" if day.state == "as usual" else day.state,
        )  # fmt: skip
    return table
