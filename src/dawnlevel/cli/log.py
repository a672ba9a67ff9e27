"""Commands on what is recorded: list it, correct it, withdraw it."""

import dataclasses
import sys
from datetime import datetime
from typing import Unpack
from zoneinfo import ZoneInfo

import click

from dawnlevel.cli.output import show
from dawnlevel.cli.session import (
    StoreOptions,
    TankOptions,
    store_options,
    store_session,
    tank_options,
    tank_session,
)
from dawnlevel.cli.wording import stored_to_dict
from dawnlevel.desk.given import record_fields
from dawnlevel.desk.moments import read_at, read_since
from dawnlevel.desk.records import correct_record, find_record, list_records, withdraw_record
from dawnlevel.desk.saying import say, say_moment
from dawnlevel.store import HistoryEntry, StoredRecord
from dawnlevel.store.codec import moment_to_text, record_to_dict

_WIDE = 200  # columns of a listing that goes to a file or another program


def _until(text: str | None, now: datetime, zone: ZoneInfo) -> datetime | None:
    return None if text is None else read_at(text, now, zone)


def _entry_to_dict(entry: HistoryEntry) -> dict[str, object]:
    return {
        "id": entry.id,
        "recorded_at": moment_to_text(entry.recorded_at),
        "supersedes": entry.supersedes,
        "superseded_by": entry.superseded_by,
        "record": None if entry.record is None else record_to_dict(entry.record),
    }


def _fate(entry: HistoryEntry) -> str:
    if entry.record is None:
        return f"withdraws {entry.supersedes}"
    if entry.superseded_by is not None:
        return f"superseded by {entry.superseded_by}"
    return f"corrects {entry.supersedes}" if entry.supersedes else ""


def _listing(title: str, rows: list[tuple[str, str, str, str]]) -> str:
    """A table of id, time, what, remark; empty: one line that says so."""
    from rich.console import Console  # noqa: PLC0415 - only a listing needs it
    from rich.table import Table  # noqa: PLC0415
    from rich.text import Text  # noqa: PLC0415 - shows notes as they are, markup and all

    if not rows:
        return f"{title}: nothing recorded."
    table = Table(title=title, title_justify="left", box=None, pad_edge=False)
    table.add_column("id", justify="right")
    for heading in ("time", "recorded", "note"):
        table.add_column(heading)
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    console = Console(width=None if sys.stdout.isatty() else _WIDE)
    with console.capture() as captured:
        console.print(table)
    return "\n".join(line.rstrip() for line in captured.get().splitlines())


@click.command()
@click.option("--since", metavar="TIME", help="From this day or time on: 2026-05-04, yesterday, 09:30.")
@click.option("--until", metavar="TIME", help="Up to this time.")
@click.option("--last", type=click.IntRange(min=1), metavar="N", help="Only the last N.")
@click.option("--all", "everything", is_flag=True, help="What was corrected or withdrawn too.")
@tank_options
def log(
    since: str | None, until: str | None, last: int | None, everything: bool, **options: Unpack[TankOptions]
) -> None:
    """List what is recorded, with its numbers."""
    with tank_session(options) as session:
        begin = None if since is None else read_since(since, session.now, session.zone)
        end = _until(until, session.now, session.zone)
        name, zone = session.tank.name, session.zone
        if everything:
            entries = [entry for entry in session.store.history(name) if _within(entry, begin, end)][
                -(last or 0) :
            ]
            show(
                "log",
                lambda: {"tank": name, "records": [_entry_to_dict(entry) for entry in entries]},
                lambda: _listing(name, [_history_row(entry, zone) for entry in entries]),
                as_json=options["as_json"],
            )
            return
        found = list_records(session.store, name, begin, end)[-(last or 0) :]
        show(
            "log",
            lambda: {"tank": name, "records": [stored_to_dict(stored) for stored in found]},
            lambda: _listing(name, [_row(stored, zone) for stored in found]),
            as_json=options["as_json"],
        )


def _within(entry: HistoryEntry, begin: datetime | None, end: datetime | None) -> bool:
    at = entry.recorded_at if entry.record is None else entry.record.at
    return (begin is None or at >= begin) and (end is None or at <= end)


def _row(stored: StoredRecord, zone: ZoneInfo) -> tuple[str, str, str, str]:
    record = stored.record
    return str(stored.id), say_moment(record.at, zone), say(record), record.note


def _history_row(entry: HistoryEntry, zone: ZoneInfo) -> tuple[str, str, str, str]:
    fate = _fate(entry)
    if entry.record is None:
        return str(entry.id), say_moment(entry.recorded_at, zone), fate, ""
    said = f"{say(entry.record)} ({fate})" if fate else say(entry.record)
    return str(entry.id), say_moment(entry.record.at, zone), said, entry.record.note


@click.command(context_settings={"ignore_unknown_options": True})
@click.argument("record_id", metavar="ID", type=int)
@click.argument("value", nargs=-1)
@click.option("--at", metavar="TIME", help="The right time, written as when recording.")
@click.option("--note", help="The right remark; '' takes it away.")
@click.option("--temp", metavar="TEMP", help="The right temperature of a reading.")
@click.option("--step", metavar="KH", help="The right step of a KH titration.")
@click.option("--hours", metavar="TIME", help="The right hours of a baseline cup.")
@click.option("--method", help="The right preparation of a baseline cup.")
@click.option("--room-co2", metavar="PPM", help="The right room CO2 of a baseline cup.")
@click.option("--tare", metavar="MASS", help="The right empty weight of a cylinder.")
@click.option("--capacity", metavar="VOLUME", help="The right water capacity of a cylinder.")
@click.option("--standard", help="The right standard of a cylinder.")
@click.option("--tested", metavar="YYYY-MM", help="The right month of a cylinder's last test.")
@click.option("--price", help="The right price of a cylinder's charge.")
@click.option("--scale", metavar="MASS", help="The right error of the scale.")
@click.option("--stood", help="What really stood on the scale: bare or regulator.")
@click.option("--low", metavar="BUFFER", help="The right lower buffer.")
@click.option("--high", metavar="BUFFER", help="The right higher buffer.")
@click.option("--adjusted", metavar="YES/NO", help="Whether the meter really was adjusted.")
@click.option("--error", metavar="PERCENT", help="The right error of a solution.")
@click.option("--pressure", metavar="PRESSURE", help="The right air pressure of an oxygen reading.")
@click.option("--within", metavar="OXYGEN", help="The right error of an oxygen reading.")
@click.option("--place", help="The right place of a survey's reading.")
@click.option("--x", metavar="CM", help="The right distance from the left pane.")
@click.option("--y", metavar="CM", help="The right distance from the front pane.")
@click.option("--z", metavar="CM", help="The right height over the substrate.")
@store_options
def correct(
    record_id: int,
    value: tuple[str, ...],
    at: str | None,
    note: str | None,
    store: str | None,
    as_json: bool,
    **extras: str | None,
) -> None:
    """Put a right record in the place of a wrong one.

    ID is its number in `dawnlevel log`; VALUE is written as when recording. What is not given stays.
    """
    with store_session(store) as (opened, now):
        name, old = find_record(opened, record_id)
        tank = opened.tank(name)
        zone = ZoneInfo(tank.timezone)
        changes = record_fields(type(old.record), ";".join(value) or None, extras, tank)
        if at is not None:
            changes["at"] = read_at(at, now, zone)
        if note is not None:
            changes["note"] = note
        new = dataclasses.replace(old.record, **changes)  # type: ignore[arg-type]
        stored = correct_record(opened, record_id, new, now)
        show(
            "record",
            lambda: {"tank": name, **stored_to_dict(stored)},
            lambda: (
                f"{name}: {say(stored.record)}, {say_moment(stored.record.at, zone)}, stored as record "
                f"{stored.id} in the place of {record_id}."
            ),
            as_json=as_json,
        )


@click.command()
@click.argument("record_id", metavar="ID", type=int)
@store_options
def void(record_id: int, **options: Unpack[StoreOptions]) -> None:
    """Withdraw a record.

    ID is its number in `dawnlevel log`. It no longer counts; `dawnlevel log --all` still shows it.
    """
    with store_session(options["store"]) as (opened, _):
        name, old = withdraw_record(opened, record_id)
        zone = ZoneInfo(opened.tank(name).timezone)
        show(
            "withdrawal",
            lambda: {"tank": name, **stored_to_dict(old)},
            lambda: (
                f"{name}: {say(old.record)}, {say_moment(old.record.at, zone)}, record {old.id}, withdrawn."
            ),
            as_json=options["as_json"],
        )
