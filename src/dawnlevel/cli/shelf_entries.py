"""Commands that record what stands on the shelf: the cylinder, its weight and gauge, buffers, solutions."""

from typing import Unpack

import click

from dawnlevel.cli.entries import FIGURES, enter
from dawnlevel.cli.session import EntryOptions, entry_options
from dawnlevel.tank import BufferCheck, CylinderExchange, CylinderWeighing, GaugeReading, SolutionPrepared


@click.command(context_settings=FIGURES)
@click.argument("value", metavar="GAS")
@click.option("--tare", metavar="MASS", help="Empty weight, stamped on the shoulder: 3.1kg.")
@click.option("--capacity", metavar="VOLUME", help="Water capacity, stamped too: 2.9L.")
@click.option("--standard", help="Rule it was made to: 3al, 3aa, foreign (in the US), adr or unknown.")
@click.option("--tested", metavar="YYYY-MM", help="Month of the last test, stamped: 2024-05.")
@click.option("--price", help="What this charge cost, in your own currency: 24.50.")
@entry_options
def exchange(
    value: str,
    tare: str | None,
    capacity: str | None,
    standard: str | None,
    tested: str | None,
    price: str | None,
    **options: Unpack[EntryOptions],
) -> None:
    """Record a gas cylinder connected.

    GAS is its charge as filled: 2kg or 5lb.
    """
    extras = {"tare": tare, "capacity": capacity, "standard": standard, "tested": tested, "price": price}
    enter(CylinderExchange, value, options, extras)


@click.command(context_settings=FIGURES)
@click.argument("value", metavar="WEIGHT")
@click.option("--scale", metavar="MASS", help="How far the scale may be off either way. Default: 10g.")
@click.option("--stood", help="What stood on it: bare, or regulator (the default: cylinder and regulator).")
@entry_options
def weigh(value: str, scale: str | None, stood: str | None, **options: Unpack[EntryOptions]) -> None:
    """Record the gas cylinder's weight.

    WEIGHT is what the scale shows: 5.32kg or 11.7lb. Weigh it with the same things on it every time.
    """
    enter(CylinderWeighing, value, options, {"scale": scale, "stood": stood})


@click.command(context_settings=FIGURES)
@click.argument("value", metavar="PRESSURE")
@click.option("--temp", metavar="TEMP", help="Temperature beside the cylinder: 22C or 72F.")
@entry_options
def gauge(value: str, temp: str | None, **options: Unpack[EntryOptions]) -> None:
    """Record the cylinder's pressure gauge.

    PRESSURE is what the gauge on the cylinder's side shows: 58bar or 840psi.
    """
    enter(GaugeReading, value, options, {"temp": temp})


@click.command(context_settings=FIGURES)
@click.argument("low_ph", metavar="LOW")
@click.argument("high_ph", metavar="HIGH")
@click.option("--low", metavar="BUFFER", help="The lower buffer: phthalate (pH 4, the default) or another.")
@click.option(
    "--high",
    metavar="BUFFER",
    help="The higher buffer: phosphate (6.86, the default), technical_7 (7.00) or borax (9.18).",
)
@click.option("--temp", metavar="TEMP", help="Temperature of both: 22C or 72F. Default: 25C.")
@click.option(
    "--adjusted", metavar="YES/NO", help="Whether the meter was adjusted to them after. Default: yes."
)
@entry_options
def buffers(
    low_ph: str,
    high_ph: str,
    low: str | None,
    high: str | None,
    temp: str | None,
    adjusted: str | None,
    **options: Unpack[EntryOptions],
) -> None:
    """Record the pH meter in two buffers.

    LOW and HIGH are what it shows before it is adjusted: 4.06 6.91.
    """
    extras = {"low": low, "high": high, "temp": temp, "adjusted": adjusted}
    enter(BufferCheck, f"{low_ph};{high_ph}", options, extras)


@click.command(context_settings=FIGURES)
@click.argument("value", metavar="KH")
@click.option("--error", metavar="PERCENT", help="How far its KH may be off, one standard deviation: 3%.")
@entry_options
def prepared(value: str, error: str | None, **options: Unpack[EntryOptions]) -> None:
    """Record a fresh solution in the cell.

    KH is that of the reference solution now in the indicator cell: 4dKH.
    """
    enter(SolutionPrepared, value, options, {"error": error})
