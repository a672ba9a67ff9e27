"""Commands that record one thing seen or done."""

from collections.abc import Mapping
from typing import Unpack

import click

from dawnlevel.cli.output import show
from dawnlevel.cli.session import EntryOptions, entry_options, tank_session
from dawnlevel.cli.wording import stored_to_dict
from dawnlevel.desk.given import record_fields
from dawnlevel.desk.records import record
from dawnlevel.desk.saying import say, say_moment
from dawnlevel.tank import (
    BaselineCup,
    CellSighting,
    FishSighting,
    GasSwitch,
    KhTitration,
    OxygenReading,
    PhReading,
    RateSetting,
    Record,
    TimerSetting,
    WaterChange,
)

# So that -1 is read as a figure, and refused as one, not as an option.
FIGURES = {"ignore_unknown_options": True}


def enter(
    kind: type[Record], value: str, options: EntryOptions, extras: Mapping[str, str | None] | None = None
) -> None:
    """Record one value of `kind` and say what was stored, under which number, and how to correct it."""
    with tank_session(options) as session:
        found = record_fields(kind, value, extras or {}, session.tank)
        new = kind(at=session.moment(options["at"]), note=options["note"], **found)
        stored = record(session.store, session.tank.name, new, session.now, force=options["force"])
        show(
            "record",
            lambda: {"tank": session.tank.name, **stored_to_dict(stored)},
            lambda: (
                f"{session.tank.name}: {say(stored.record)}, {say_moment(stored.record.at, session.zone)}, "
                f"stored as record {stored.id}. To correct it: dawnlevel correct {stored.id} VALUE"
            ),
            as_json=options["as_json"],
        )


@click.command(context_settings=FIGURES)
@click.argument("value", metavar="PH")
@click.option("--temp", metavar="TEMP", help="Water temperature read with it: 25C or 77F.")
@entry_options
def ph(value: str, temp: str | None, **options: Unpack[EntryOptions]) -> None:
    """Record the meter in the tank.

    PH is what the meter shows, for example 6.85.
    """
    enter(PhReading, value, options, {"temp": temp})


@click.command(context_settings=FIGURES)
@click.argument("value", metavar="KH")
@click.option("--step", metavar="KH", help="What one drop stood for, where it was not the usual: 0.5dKH.")
@entry_options
def kh(value: str, step: str | None, **options: Unpack[EntryOptions]) -> None:
    """Record the KH drop kit.

    KH is drops times what one drop stands for: 4, 4dKH, 71mg/L (as CaCO3) or 1.4meq/L.
    """
    enter(KhTitration, value, options, {"step": step})


@click.command(context_settings=FIGURES)
@click.argument("value", metavar="PH")
@click.option("--hours", required=True, metavar="TIME", help="How long the water stood or was aerated: 24h.")
@click.option("--method", default="still_cup", show_default=True, help="still_cup, stirred_cup or aerated.")
@click.option("--room-co2", metavar="PPM", help="CO2 of the room's air, where it is known: 600ppm.")
@entry_options
def cup(value: str, hours: str, method: str, room_co2: str | None, **options: Unpack[EntryOptions]) -> None:
    """Record the degassed baseline cup.

    PH is what the meter shows in tank water that was left to lose its CO2.
    """
    enter(BaselineCup, value, options, {"hours": hours, "method": method, "room_co2": room_co2})


@click.command()
@click.argument("value", metavar="COLOUR")
@entry_options
def cell(value: str, **options: Unpack[EntryOptions]) -> None:
    """Record the indicator cell's colour.

    COLOUR is blue, green, lime or yellow.
    """
    enter(CellSighting, value, options)


@click.command()
@click.argument("value", metavar="STATE")
@entry_options
def fish(value: str, **options: Unpack[EntryOptions]) -> None:
    """Record how the livestock behaves.

    STATE is calm, uneasy or distress.
    """
    enter(FishSighting, value, options)


@click.command(context_settings=FIGURES)
@click.argument("value", metavar="RATE")
@entry_options
def rate(value: str, **options: Unpack[EntryOptions]) -> None:
    """Record the needle valve's bubble rate.

    RATE is 1.5/s or 90/min; a bare figure is bubbles per second.
    """
    enter(RateSetting, value, options)


@click.command()
@click.argument("windows", metavar="WINDOW...", nargs=-1, required=True)
@entry_options
def timer(windows: tuple[str, ...], **options: Unpack[EntryOptions]) -> None:
    """Record the gas timer's daily windows.

    WINDOW is 10:30-19:00; several may follow one another, or the word never.
    """
    enter(TimerSetting, ";".join(windows), options)


@click.command()
@click.argument("value", metavar="STATE")
@entry_options
def gas(value: str, **options: Unpack[EntryOptions]) -> None:
    """Record the gas opened or closed by hand.

    STATE is open or closed.
    """
    enter(GasSwitch, value, options)


@click.command(context_settings=FIGURES)
@click.argument("value", metavar="SHARE")
@entry_options
def change(value: str, **options: Unpack[EntryOptions]) -> None:
    """Record a water change.

    SHARE is 30%, or the water changed: 40L or 10gal.
    """
    enter(WaterChange, value, options)


@click.command(context_settings=FIGURES)
@click.argument("value", metavar="OXYGEN")
@click.option("--temp", metavar="TEMP", help="Water temperature read with it: 25C or 77F.")
@click.option(
    "--pressure", metavar="PRESSURE", help="Air pressure there: 960hPa. Default: by the tank's altitude."
)
@click.option("--within", metavar="OXYGEN", help="How far it may be off, one standard deviation: 0.3mg/L.")
@entry_options
def dissolved(
    value: str, temp: str | None, pressure: str | None, within: str | None, **options: Unpack[EntryOptions]
) -> None:
    """Record dissolved oxygen in the tank.

    OXYGEN is what meter or drop kit shows: 6.5mg/L, or 82% of saturation. Before the lights come on it tells
    most.
    """
    enter(OxygenReading, value, options, {"temp": temp, "pressure": pressure, "within": within})
