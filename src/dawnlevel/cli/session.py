"""What every command begins with: its common options, the clock, the store and the tank that is meant."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypedDict, TypeVar
from zoneinfo import ZoneInfo

import click

from dawnlevel.cli.moments import clock
from dawnlevel.desk.handover.owners import tanks_of
from dawnlevel.desk.moments import read_at
from dawnlevel.errors import BadInputError
from dawnlevel.store import Patience, Store, open_store
from dawnlevel.tank import Tank

Command = TypeVar("Command", bound=Callable[..., Any])


class StoreOptions(TypedDict):
    """Options of every command."""

    store: str | None
    as_json: bool


class TankOptions(StoreOptions):
    """Options of every command about one tank."""

    tank: str | None


class EntryOptions(TankOptions):
    """Options of every command that records something."""

    at: str | None
    note: str
    force: bool


def store_options(command: Command) -> Command:
    """Add --store and --json."""
    command = click.option("--json", "as_json", is_flag=True, help="Print JSON instead of text.")(command)
    return click.option(
        "--store", metavar="PLACE", help="Use the records at this path, or at this PostgreSQL address."
    )(command)


def tank_options(command: Command) -> Command:
    """Add --tank, --store and --json."""
    return click.option(
        "--tank", envvar="DAWNLEVEL_TANK", metavar="NAME", help="The tank meant, where there are several."
    )(store_options(command))


def owner_option(command: Command) -> Command:
    """Add --owner."""
    return click.option("--owner", metavar="NAME", help="Only the tanks of this owner.")(command)


def chosen_tanks(store: Store, tank: str | None, owner: str | None) -> list[str]:
    """The tanks that --tank and --owner name, all without them.

    NoSuchTankError, NoSuchOwnerError; BadInputError for a tank that is not this owner's.
    """
    names = store.tank_names() if owner is None else [one.name for one in tanks_of(store, owner)]
    if tank is None:
        return names
    if store.tank(tank).name not in names:
        raise BadInputError(
            f"The tank {tank!r} is not one of {owner!r}.",
            where="owner",
            cure="Leave out --tank (or DAWNLEVEL_TANK) for all of the owner's tanks.",
        )
    return [tank]


def entry_options(command: Command) -> Command:
    """Add --at, --note, --force, --tank, --store and --json."""
    command = tank_options(command)
    command = click.option("--force", is_flag=True, help="Record it although the same is recorded already.")(
        command
    )
    command = click.option("--note", default="", help="A remark, kept with the record.")(command)
    return click.option(
        "--at",
        metavar="TIME",
        help="When it was seen or done: 09:30, 'yesterday 21:30', '2026-05-04 09:30' or RFC 3339. "
        "Default: now.",
    )(command)


@dataclass(frozen=True, slots=True)
class TankSession:
    """An open store, the tank that is meant, and the moment at which the command runs."""

    store: Store
    tank: Tank
    now: datetime

    @property
    def zone(self) -> ZoneInfo:
        """The tank's time zone."""
        return ZoneInfo(self.tank.timezone)

    def moment(self, at: str | None) -> datetime:
        """The moment that --at names; now without it."""
        return self.now if at is None else read_at(at, self.now, self.zone)


def tell_of_waiting() -> None:
    """Say that another program holds the store, where nothing else moves on the screen."""
    click.echo("Another program holds the store; waiting for it. Ctrl-C stops.", err=True)


@contextmanager
def store_session(place: str | None) -> Iterator[tuple[Store, datetime]]:
    """The open store and the moment at which the command runs."""
    now = clock()
    with open_store(place, clock=lambda: now, patience=Patience(tell=tell_of_waiting)) as store:
        yield store, now


@contextmanager
def tank_session(options: TankOptions | EntryOptions) -> Iterator[TankSession]:
    """The open store with the tank that is meant: the one named, else the only one."""
    with store_session(options["store"]) as (store, now):
        yield TankSession(store, store.tank(options["tank"] or only_tank(store)), now)


def only_tank(store: Store) -> str:
    """The name of the only tank; BadInputError where there are none or several."""
    names = store.tank_names()
    if len(names) == 1:
        return names[0]
    if not names:
        raise BadInputError(
            "There is no tank yet.",
            where=store.place,
            cure="Describe yours: dawnlevel tank describe NAME --volume 180L --depth 45cm "
            "--lights 13:00-21:00",
        )
    raise BadInputError(
        f"There are several tanks ({', '.join(names)}).",
        where=store.place,
        cure="Say which with --tank NAME, or set DAWNLEVEL_TANK.",
    )
