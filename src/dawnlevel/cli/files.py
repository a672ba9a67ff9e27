"""Commands that bring record files in and out."""

import json
import sys
from pathlib import Path
from typing import Unpack

import click

from dawnlevel.cli.output import envelope, show
from dawnlevel.cli.session import TankOptions, store_session, tank_options
from dawnlevel.cli.writing import write_whole
from dawnlevel.desk.archive import export_archive, import_archive, read_archive
from dawnlevel.desk.exchange import ImportReport, export_table, import_table
from dawnlevel.errors import BadInputError
from dawnlevel.store import Store

_STDIO = "-"


def _content(file: str) -> bytes:
    if file == _STDIO:
        return sys.stdin.buffer.read()
    try:
        return Path(file).read_bytes()
    except OSError as error:
        raise BadInputError(
            f"The file cannot be read ({error.strerror}).", where=file, cure="Check its path and your rights."
        ) from error


def _said(report: ImportReport) -> str:
    added = ", ".join(f"{count} to {name}" for name, count in report.added.items()) or "nothing new"
    skipped = []
    if report.duplicates:
        skipped.append(f"{report.duplicates} recorded already")
    if report.superseded:
        skipped.append(f"{report.superseded} corrected or withdrawn since")
    return f"Imported: {added}.{' Skipped: ' + ', '.join(skipped) + '.' if skipped else ''}"


@click.command("import")
@click.argument("file")
@tank_options
def import_records(file: str, **options: Unpack[TankOptions]) -> None:
    """Import records from a file.

    FILE is CSV with the columns time, tank, quantity, value, unit, method, note, or an archive written by
    `dawnlevel export --json`; - reads standard input. All of it is imported, or nothing; importing it again
    changes nothing. --tank names the tank of lines that name none.
    """
    content = _content(file)
    with store_session(options["store"]) as (store, now):
        if content.lstrip().startswith(b"{"):
            restored = import_archive(store, read_archive(content, file), file)
            show(
                "restored",
                lambda: {"tanks": restored},
                lambda: f"Restored: {', '.join(restored) or 'nothing new'}.",
                as_json=options["as_json"],
            )
            return
        report = import_table(store, content, file, now, options["tank"])
        show(
            "import",
            lambda: {
                "added": report.added,
                "duplicates": report.duplicates,
                "superseded": report.superseded,
            },
            lambda: _said(report),
            as_json=options["as_json"],
        )


@click.command("export")
@click.argument("file", default=_STDIO)
@tank_options
def export_records(file: str, **options: Unpack[TankOptions]) -> None:
    """Export records to a file.

    FILE becomes CSV with what stands, or with --json an archive of everything, corrections and
    withdrawals too; without FILE it goes to standard output. --tank: only this tank.
    """
    with store_session(options["store"]) as (store, _):
        chosen = options["tank"]
        names = store.tank_names() if chosen is None else [store.tank(chosen).name]
        text = _exported(store, names, as_json=options["as_json"])
    if file == _STDIO:
        sys.stdout.flush()
        sys.stdout.buffer.write(text.encode())
        sys.stdout.buffer.flush()
        return
    write_whole(Path(file), text.encode())
    sys.stderr.write(f"Exported {', '.join(names) or 'no tank'} to {file}.\n")


def _exported(store: Store, names: list[str], *, as_json: bool) -> str:
    if not as_json:
        return export_table(store, names)
    return json.dumps(envelope("archive", export_archive(store, names)), ensure_ascii=False, indent=1) + "\n"
