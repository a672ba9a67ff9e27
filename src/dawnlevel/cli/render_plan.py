"""`plan` as a page: when the gas opens, at what count, when it closes, and why."""

from collections.abc import Iterator

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from dawnlevel.cli.render_page import Paper, facts, heading, listed, page, title
from dawnlevel.cli.render_picture import draw_picture
from dawnlevel.desk.phrases import (
    band_text,
    bound_text,
    chance,
    clock,
    day_text,
    gas_runs,
    quantity_text,
    say_picture,
    until_text,
)
from dawnlevel.desk.views import PlanView
from dawnlevel.desk.wording import rate_text


def plan_page(view: PlanView, paper: Paper) -> str:
    """The page for the next gas day."""
    return page(_blocks(view, paper), paper)


def _blocks(view: PlanView, paper: Paper) -> Iterator[RenderableType]:
    yield heading(
        f"{view.tank}, plan for {day_text(view.lights_on)}",
        f"lights {clock(view.lights_on)} to {clock(view.lights_off)}",
    )
    yield Padding(facts(_settings(view)), (1, 0, 0, 0))
    yield Padding(facts(_expected(view)), (1, 0, 0, 0))
    if view.gas_until is not None:
        yield Padding(Text(gas_runs(view.gas_until)), (1, 0, 0, 0))
    if view.out_of_reach:
        yield title("Not likely to work as it is")
        yield Text(view.out_of_reach)
        yield listed(view.would_help)
    yield title("Why")
    yield listed(view.reasons)
    picture = view.picture
    yield Padding(draw_picture(picture, paper), (1, 0, 0, 0))
    yield Text(say_picture(picture, view.lights_on))


def _settings(view: PlanView) -> list[tuple[str, str | Text]]:
    windows = ", ".join(f"{clock(span.opens)}-{clock(span.closes)}" for span in view.windows)
    needle = rate_text(view.rate_bps)
    change = f" (now {rate_text(view.present_rate_bps)})" if view.needle_changes else " (leave it)"
    times = ", ".join(clock(moment) for moment in view.readings) or "none needed"
    return [
        ("gas timer", Text(windows, style="bold")),
        ("needle", Text(needle, style="bold") + Text(change)),
        ("read pH at", times),
    ]


def _expected(view: PlanView) -> list[tuple[str, str | Text]]:
    digits = 2 if view.band.unit == "pH drop" else 1
    told, end, dark = view.forecast.quantity, view.end_of_gas_mg_l, view.at_lights_off_mg_l
    on = (
        f"{quantity_text(told.median, view.band)} (9 in 10 {told.low_90:.{digits}f} to "
        f"{told.high_90:.{digits}f}), about {view.forecast.co2_mg_l.median:.0f} mg/L"
    )
    later = (
        f"{end.median:.0f} mg/L ({end.low_90:.0f} to {end.high_90:.0f}) as the gas closes, "
        f"{dark.median:.0f} ({dark.low_90:.0f} to {dark.high_90:.0f}) at lights-off"
    )
    chances = (
        f"hit the band {chance(view.chance_hit)}, hit and hold it {chance(view.chance_held)}, "
        f"pass {bound_text(view.band)} {chance(view.chance_breach)} (bound {chance(view.breach_bound)}) "
        f"{until_text(view.breach_until)}".rstrip()
    )
    return [("target", band_text(view.band)), ("lights-on", on), ("later", later), ("chances", chances)]
