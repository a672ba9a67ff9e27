"""`today` as a page: where the level stands, how long to lights-on, the one next action."""

from collections.abc import Iterator
from datetime import timedelta

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from dawnlevel.cli.render_page import Paper, facts, figure, heading, listed, numbered, page, title
from dawnlevel.cli.render_picture import draw_picture
from dawnlevel.desk.phrases import (
    PHASES,
    band_text,
    bound_text,
    chance,
    clock,
    day_text,
    quantity_text,
    say_picture,
    span_text,
    spread,
    time_left,
    until_text,
)
from dawnlevel.desk.views import BandView, DayView, TodayView


def today_page(view: TodayView, paper: Paper) -> str:
    """The page for a tank now."""
    return page(_blocks(view, paper), paper)


def _blocks(view: TodayView, paper: Paper) -> Iterator[RenderableType]:
    now = view.now.at
    yield heading(f"{view.tank}, {day_text(now)}, {clock(now)}", PHASES[view.phase])
    if view.action.steps:
        yield from _action(view)
    yield Padding(facts(_standing(view)), (1, 0, 0, 0))
    if not view.action.steps:
        yield from _action(view)
    if view.notes:
        yield title("Note")
        yield listed(view.notes)
    yield Padding(draw_picture(view.picture, paper), (1, 0, 0, 0))
    yield Text(say_picture(view.picture, view.lights_on))
    if view.days:
        yield title("Days so far, at lights-on")
        yield facts(_day_row(day, view.band) for day in view.days[-7:])


def level_rows(view: TodayView) -> list[tuple[str, str | Text]]:
    """CO2 and drop now, with their intervals in words."""
    level, drop = view.now.co2_mg_l, view.now.drop_ph
    rows: list[tuple[str, str | Text]] = [
        ("CO2 now", figure(level.median, 1) + Text(f" mg/L ({spread(level, 1)})"))
    ]
    if drop is not None:
        rows.append(("pH drop", figure(drop.median, 2) + Text(f"      ({spread(drop, 2)})")))
    return rows


def _standing(view: TodayView) -> list[tuple[str, str | Text]]:
    rows = level_rows(view)
    rows.append(("target", band_text(view.band)))
    now = view.now.at
    if now < view.lights_on:
        left = span_text(time_left(now, view.lights_on))
        rows.append(("lights-on", Text(f"in {left}", style="bold") + Text(f", at {clock(view.lights_on)}")))
    else:
        rows.append(("lights", f"on since {clock(view.lights_on)}, off at {clock(view.lights_off)}"))
    if view.forecast is not None:
        digits = 2 if view.band.unit == "pH drop" else 1
        told = view.forecast.quantity
        forecast = (
            f"{quantity_text(told.median, view.band)} at lights-on if nothing is touched (9 in 10: "
            f"{told.low_90:.{digits}f} to {told.high_90:.{digits}f}); "
            f"chance of the band {chance(view.forecast.chance_in_band)}"
        )
        rows.append(("forecast", forecast))
    return rows


def _action(view: TodayView) -> Iterator[RenderableType]:
    action = view.action
    yield title("Now, step by step" if action.steps else "Next")
    yield Text(action.text, style="bold")
    yield Text(action.reason)
    if action.steps:
        yield numbered(action.steps)
    rows: list[tuple[str, str | Text]] = []
    if action.chance_if_done is not None:
        until = until_text(action.breach_until)
        chances = (
            f"hit and hold the band {chance(action.chance_if_done)} (untouched "
            f"{chance(action.chance_if_left)}); pass {bound_text(view.band)} "
            f"{chance(action.breach_if_done)} (untouched {chance(action.breach_if_left)}) {until}".rstrip()
        )
        rows.append(("chances", chances))
    if action.gas_closes is not None:
        rows.append(("gas closes", clock(action.gas_closes)))
    if view.next_reading is not None:
        wait = time_left(view.now.at, view.next_reading.at)
        when = (
            "now" if wait < timedelta(minutes=2) else f"{clock(view.next_reading.at)}, in {span_text(wait)}"
        )
        rows.append(("read next", Text(when, style="bold") + Text(f" ({view.next_reading.reason})")))
    if view.probe is not None and not view.probe.is_recorded:
        shown = (
            f"shows {view.probe.ph:.2f} at {clock(view.probe.at)}. If the cup was read with it too, record "
        )
        rows.append(("probe", f"{shown}it: dawnlevel ph {view.probe.ph:.2f}"))
    if rows:
        yield facts(rows)


def _day_row(day: DayView, band: BandView) -> tuple[str, str]:
    readings = "reading" if day.readings == 1 else "readings"
    text = (
        f"{quantity_text(day.quantity.median, band)}, about {day.co2_mg_l.median:.0f} mg/L; "
        f"hit and held: {chance(day.dialled_in)}; {day.readings} {readings}"
    )
    return f"{day.day:%a} {day.day.day} {day.day:%b}", text
