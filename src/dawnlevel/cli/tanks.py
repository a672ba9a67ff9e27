"""Commands on tanks: describe one, change it, show it, list them all."""

import dataclasses
import shlex
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from typing import Any, TypeVar, cast
from zoneinfo import ZoneInfo

import click

from dawnlevel.cli.output import show
from dawnlevel.cli.session import (
    StoreOptions,
    TankOptions,
    chosen_tanks,
    owner_option,
    store_options,
    store_session,
    tank_options,
    tank_session,
)
from dawnlevel.desk.amounts import write_clock
from dawnlevel.desk.animals.animal_words import with_ceiling
from dawnlevel.desk.given import TANK_FIELDS, surface_cm2, tank_fields, with_surface
from dawnlevel.desk.handover.owners import by_owner
from dawnlevel.desk.moments import day_start, read_since
from dawnlevel.desk.records import change_tank, describe_tank, rename_tank
from dawnlevel.desk.saying import say_moment
from dawnlevel.desk.zone import local_zone_name
from dawnlevel.errors import BadInputError
from dawnlevel.store.codec import moment_to_text, tank_to_dict
from dawnlevel.tank import Tank, TargetKind

Command = TypeVar("Command", bound=Callable[..., Any])
_NEEDED = ("volume", "depth", "lights")


def _description_options(*, needed: tuple[str, ...]) -> Callable[[Command], Command]:
    """Add every option that describes a tank, those in `needed` as required ones, and --since."""

    def add(command: Command) -> Command:
        command = click.option(
            "--since", metavar="TIME", help="From when it is described: a day or a time. Default: today."
        )(command)
        for option, (_, _, explained) in reversed(TANK_FIELDS.items()):
            required = option in needed
            command = click.option(f"--{option}", metavar="...", required=required, help=explained)(command)
        return command

    return add


def _since(text: str | None, now: datetime, zone: ZoneInfo) -> datetime:
    """The moment --since names; without it today's first, so that this morning's readings fit in."""
    return day_start(now.astimezone(zone).date(), zone) if text is None else read_since(text, now, zone)


def _data(tank: Tank, described_at: datetime) -> dict[str, object]:
    return {"described_at": moment_to_text(described_at), "tank": tank_to_dict(tank)}


@click.group()
def tank() -> None:
    """Describe a tank, change it, show it."""


@tank.command()
@click.argument("name")
@_description_options(needed=_NEEDED)
@store_options
def describe(name: str, since: str | None, store: str | None, as_json: bool, **options: str | None) -> None:
    """Describe a new tank, NAME.

    Readings may be recorded from --since on.
    """
    found = {"timezone": local_zone_name(), **with_ceiling(tank_fields(options))}
    found.setdefault(
        "surface_cm2", surface_cm2(cast("float", found["volume_l"]), cast("float", found["depth_cm"]))
    )
    new = Tank(name=name, **found)  # type: ignore[arg-type]
    with store_session(store) as (opened, now):
        zone = ZoneInfo(new.timezone)
        begins = _since(since, now, zone)
        describe_tank(opened, new, now, begins)
        show(
            "tank",
            lambda: _data(new, begins),
            lambda: (
                f"{new.name}: {new.volume_l:.4g} L, {new.depth_cm:.4g} cm deep, described from "
                f"{say_moment(begins, zone)} ({new.timezone}) on. "
                f"To change it: dawnlevel tank change --tank {shlex.quote(new.name)} ..."
            ),
            as_json=as_json,
        )


@tank.command()
@_description_options(needed=())
@tank_options
def change(
    since: str | None, store: str | None, tank: str | None, as_json: bool, **options: str | None
) -> None:
    """Change how a tank is described.

    What is not given stays. --since with an earlier day lets the tank begin earlier.
    """
    changes = tank_fields(options)
    if not changes and since is None:
        raise BadInputError(
            "Nothing to change was given.", where="tank", cure="See: dawnlevel tank change --help"
        )
    with tank_session(TankOptions(store=store, tank=tank, as_json=as_json)) as session:
        given = with_surface(with_ceiling(changes, session.tank), session.tank)
        new = dataclasses.replace(session.tank, **given)  # type: ignore[arg-type]
        begins = session.now if since is None else read_since(since, session.now, session.zone)
        change_tank(session.store, new, session.now, begins)
        described_at = session.store.tank_described_at(new.name)
        show(
            "tank",
            lambda: _data(new, described_at),
            lambda: f"{new.name}: changed.\n{_description(new, described_at)}",
            as_json=as_json,
        )


@tank.command()
@click.argument("old")
@click.argument("new")
@store_options
def rename(old: str, new: str, store: str | None, as_json: bool) -> None:
    """Call the tank OLD by the name NEW.

    Its records stay with it, and its earlier descriptions keep the name they were written down under.
    """
    with store_session(store) as (opened, now):
        rename_tank(opened, old, new, now)
        show(
            "tank",
            lambda: _data(opened.tank(new), opened.tank_described_at(new)),
            lambda: f"{old} is called {new} now.",
            as_json=as_json,
        )


@tank.command("show")
@tank_options
def show_tank(**options: Any) -> None:  # noqa: ANN401 - click's keywords, TankOptions
    """Show how a tank is described."""
    given = cast("TankOptions", options)
    with tank_session(given) as session:
        described_at = session.store.tank_described_at(session.tank.name)
        show(
            "tank",
            lambda: _data(session.tank, described_at),
            lambda: f"{session.tank.name}\n{_description(session.tank, described_at)}",
            as_json=given["as_json"],
        )


def _known(value: float | None, unit: str) -> str:
    return "not known" if value is None else f"{value:.4g} {unit}"


def _animals(tank: Tank) -> str:
    groups = (f"{one.number} {one.kind.value} of {one.grams:.3g} g" for one in tank.animals)
    return ", ".join(groups) or "not described"


def _ceiling(tank: Tank) -> str:
    reason = f", above the guidance: {tank.limit_reason}" if tank.limit_reason else ""
    return f"{tank.co2_limit_mg_l:g} mg/L CO2{reason}"


def _description(tank: Tank, described_at: datetime) -> str:
    """Every field of a tank, a line each."""
    lights = tank.photoperiod
    unit = "pH below the baseline" if tank.target.kind is TargetKind.DROP else "mg/L CO2"
    earliest = "any time" if tank.earliest_start_h is None else write_clock(tank.earliest_start_h)
    lines = [
        ("owner", tank.owner or "not said"),
        ("described from", f"{say_moment(described_at, ZoneInfo(tank.timezone))} ({tank.timezone})"),
        ("water", f"{tank.volume_l:.4g} L, {tank.depth_cm:.4g} cm deep, surface {tank.surface_cm2:.5g} cm2"),
        ("lights", f"{write_clock(lights.lights_on_h)}-{write_clock(lights.lights_off_h)}"),
        ("target", f"{tank.target.low:g} to {tank.target.high:g} {unit}"),
        ("animals", _animals(tank)),
        ("livestock ceiling", _ceiling(tank)),
        ("temperature", f"{tank.temp_c:.4g} °C"),
        ("planting", tank.planting.value),
        ("surface moves", tank.surface.value),
        ("diffuser", tank.diffuser.value),
        ("GH", _known(tank.gh_dgh, "dGH")),
        ("conductivity", _known(tank.conductivity_us_cm, "uS/cm")),
        ("room CO2", _known(tank.room_co2_ppm, "ppm")),
        ("altitude", f"{tank.altitude_m:g} m"),
        ("steps of the kits", f"KH {tank.kh_step_dkh:.4g} dKH, pH {tank.ph_step:g}"),
        ("first rate", f"{tank.first_rate_bps:.4g} bubbles/s"),
        ("readings a ramp", str(tank.reads_per_ramp)),
        ("gas may start", earliest),
        ("timer windows", f"{tank.timer_windows} a day"),
    ]
    return "\n".join(f"  {label + ':':20}{value}" for label, value in lines)


@click.command()
@owner_option
@store_options
def tanks(owner: str | None, **options: Any) -> None:  # noqa: ANN401 - click's keywords, StoreOptions
    """List the tanks.

    Where tanks have owners they are listed by owner.
    """
    given = cast("StoreOptions", options)
    with store_session(given["store"]) as (opened, _):
        found = [opened.tank(name) for name in chosen_tanks(opened, None, owner)]
        show(
            "tanks",
            lambda: {"tanks": [tank_to_dict(one) for one in found]},
            lambda: "\n".join(_listed(found)) or "No tank yet.",
            as_json=given["as_json"],
        )


def _listed(found: Sequence[Tank]) -> Iterator[str]:
    """A line each, under their owners where there are any."""
    groups = by_owner(found)
    indent = "  " if any(group.owner for group in groups) else ""
    for group in groups:
        if indent:
            yield f"{group.owner or 'No owner named'}:"
        yield from (f"{indent}{one.name}: {one.volume_l:.4g} L" for one in group.tanks)
