"""Commands that care for the store: copies, putting one back, and a look at its health."""

import dataclasses
from pathlib import Path

import click

from dawnlevel.cli.moments import clock
from dawnlevel.cli.output import show
from dawnlevel.cli.session import store_options
from dawnlevel.desk.exchange.backup import BackupView, back_up, back_up_into, restore
from dawnlevel.desk.exchange.doctor import DoctorView, Health, examine
from dawnlevel.errors import BadInputError, StoreError

_MARKS = {Health.WELL: "well ", Health.WATCH: "watch", Health.ILL: "ILL  "}


@click.command("backup")
@click.argument("file", required=False)
@click.option("--into", metavar="FOLDER", help="Put the copy into this folder, named by the moment.")
@click.option(
    "--keep", type=click.IntRange(1), help="With --into: keep so many copies, take older ones away."
)
@store_options
def backup(file: str | None, into: str | None, keep: int | None, *, store: str | None, as_json: bool) -> None:
    """Copy the store, while it is in use.

    The copy is read again and compared with the store before it gets its name: FILE, or a new name here. For
    a copy every night, let cron or a systemd timer run: dawnlevel backup --into FOLDER --keep 14
    """
    if (file is not None and into is not None) or (keep is not None and into is None):
        raise BadInputError(
            "FILE goes without --into, and --keep goes with it.",
            where="backup",
            cure="See: dawnlevel backup --help",
        )
    now = clock()
    view = (
        back_up(store, None if file is None else Path(file), now)
        if into is None
        else back_up_into(store, Path(into), keep or 10_000, now)
    )
    show("backup", lambda: dataclasses.asdict(view), lambda: _said(view), as_json=as_json)


def _said(view: BackupView) -> str:
    removed = f" Taken away: {', '.join(view.removed)}." if view.removed else ""
    return (
        f"Copied to {view.file}: {_count(view.tanks, 'tank')}, {_count(view.records, 'entry')}; "
        f"read again and compared.{removed}\nPut it back with: dawnlevel restore {view.file}"
    )


def _count(number: int, noun: str) -> str:
    plural = f"{noun[:-1]}ies" if noun.endswith("y") else f"{noun}s"
    return f"{number} {noun if number == 1 else plural}"


@click.command("restore")
@click.argument("file")
@click.option(
    "--replace", is_flag=True, help="Put it in the place of a store that is there; that is kept aside."
)
@store_options
def restore_copy(file: str, *, replace: bool, store: str | None, as_json: bool) -> None:
    """Put a copy of the store back.

    FILE is one that `dawnlevel backup` wrote; it is checked first. A store that holds tanks already is left
    alone without --replace; with it, what it holds is kept in a file beside it.
    """
    view = restore(store, Path(file), clock(), replace=replace)
    show(
        "restore",
        lambda: dataclasses.asdict(view),
        lambda: (
            f"{view.store} holds {_count(view.tanks, 'tank')} and {_count(view.records, 'entry')} now."
            + (f"\nWhat was there before is kept in {view.aside}" if view.aside else "")
        ),
        as_json=as_json,
    )


@click.command()
@store_options
def doctor(*, store: str | None, as_json: bool) -> int:
    """Look whether all is well with the store: version, damage, clock, disk, rights.

    Nothing is changed. The exit code is 0 where all is well or only to be watched, 4 where something is ill.
    """
    view = examine(store, clock())
    show("doctor", lambda: dataclasses.asdict(view), lambda: _told(view), as_json=as_json)
    return StoreError.exit_code if view.health is Health.ILL else 0


def _told(view: DoctorView) -> str:
    lines = [view.store]
    for one in view.findings:
        lines.append(f"  {_MARKS[one.health]}  {one.name + ':':10}{one.found}")
        if one.cure:
            lines.append(f"{'':19}{one.cure}")
    lines.append(
        {Health.WELL: "All is well.", Health.WATCH: "Nothing is ill.", Health.ILL: "Not well."}[view.health]
    )
    return "\n".join(lines)
