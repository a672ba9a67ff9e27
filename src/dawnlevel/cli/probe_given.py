"""What the commands on a probe's log are given: columns, zones, files."""

import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

import click

from dawnlevel.errors import BadInputError

Command = TypeVar("Command", bound=Callable[..., Any])
_COLUMNS = ("time", "clock", "ph", "temp")


def shape_options(command: Command) -> Command:
    """Add --column and --zone."""
    command = click.option(
        "--zone", metavar="ZONE", help="The zone of the probe's clock, where it is not the tank's."
    )(command)
    return click.option(
        "--column",
        "columns",
        multiple=True,
        metavar="WHAT=NAME",
        help="Which column is what, by name or number: time=, clock= (beside a date), ph=, temp=.",
    )(command)


def named_columns(columns: Sequence[str]) -> dict[str, str]:
    """Which column is what, from WHAT=NAME; BadInputError for anything else."""
    named = dict(one.partition("=")[::2] for one in columns)
    unknown = [one for one in columns if one.partition("=")[0] not in _COLUMNS or not one.partition("=")[2]]
    if unknown:
        raise BadInputError(
            f"{unknown[0]!r} does not say which column is what.",
            where="--column",
            cure=f"Write WHAT=NAME with WHAT one of {', '.join(_COLUMNS)}: --column ph=probe",
        )
    return named


def zone_of(name: str) -> ZoneInfo:
    """The zone of that name; BadInputError where there is none."""
    try:
        return ZoneInfo(name)
    except (OSError, ValueError, KeyError) as error:
        raise BadInputError(
            f"{name!r} is no time zone.",
            where="--zone",
            cure="Give an IANA name such as Europe/Madrid, or UTC.",
        ) from error


def content_of(file: str) -> bytes:
    """What a file, or with - standard input, holds; BadInputError where it cannot be read."""
    try:
        return sys.stdin.buffer.read() if file == "-" else Path(file).read_bytes()
    except OSError as error:
        raise BadInputError(
            f"The file cannot be read ({error.strerror}).", where=file, cure="Check its path and your rights."
        ) from error
