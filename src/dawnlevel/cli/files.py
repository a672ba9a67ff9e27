"""Commands that bring record files in and out."""

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Unpack

import click

from dawnlevel.cli.output import envelope, show
from dawnlevel.cli.session import TankOptions, chosen_tanks, owner_option, store_session, tank_options
from dawnlevel.cli.writing import write_folder, write_whole
from dawnlevel.desk.exchange.archive import export_archive, import_archive, read_archive
from dawnlevel.desk.exchange.exchange import ImportReport, export_table, import_table
from dawnlevel.desk.exchange.package import DESCRIPTOR, write_package
from dawnlevel.desk.exchange.package_read import import_package
from dawnlevel.errors import BadInputError
from dawnlevel.store import Merged, Store

_STDIO = "-"


def _content(file: str) -> bytes:
    if file == _STDIO:
        return sys.stdin.buffer.read()
    with _readable(file):
        return Path(file).read_bytes()


@contextmanager
def _readable(file: str) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise BadInputError(
            f"The file cannot be read ({error.strerror}).", where=file, cure="Check its path and your rights."
        ) from error


def _package_files(file: str) -> dict[str, bytes] | None:
    """The files of a package where `file` is its folder or its descriptor; None where it is neither."""
    path = Path(file)
    folder = path.parent if path.name == DESCRIPTOR else path
    if not folder.is_dir() or (folder is path.parent and not path.exists()):
        return None
    with _readable(file):
        return {one.name: one.read_bytes() for one in sorted(folder.iterdir()) if one.is_file()}


def _said(report: ImportReport) -> str:
    added = ", ".join(f"{count} to {name}" for name, count in report.added.items()) or "nothing new"
    skipped = []
    if report.duplicates:
        skipped.append(f"{report.duplicates} recorded already")
    if report.superseded:
        skipped.append(f"{report.superseded} corrected or withdrawn since")
    return f"Imported: {added}.{' Skipped: ' + ', '.join(skipped) + '.' if skipped else ''}"


def _said_merged(merged: Merged) -> str:
    said = list(merged.tanks)
    for name in merged.touched:
        count = merged.entries.get(name, 0)
        if count and name not in merged.tanks:
            said.append(f"{count} {'record' if count == 1 else 'records'} to {name}")
        if name in merged.descriptions and name not in merged.tanks:
            said.append(f"the description of {name}")
    return f"Restored: {', '.join(said) or 'nothing new'}."


@click.command("import")
@click.argument("file")
@tank_options
def import_records(file: str, **options: Unpack[TankOptions]) -> None:
    """Import records from a file.

    FILE is CSV with the columns time, tank, quantity, value, unit, method, note, an archive written by
    `dawnlevel export --archive`, or the folder of `dawnlevel export --package`; - reads standard input. All
    of it is imported, or nothing, and what is there already stays as it is: importing it again changes
    nothing. --tank names the tank of lines that name none.
    """
    files = _package_files(file)
    content = b"" if files is not None else _content(file)
    as_json = options["as_json"]
    with store_session(options["store"]) as (store, now):
        if files is not None:
            _show_merged(import_package(store, files, file), as_json=as_json)
            return
        if content.lstrip().startswith(b"{"):
            _show_merged(import_archive(store, read_archive(content, file), file), as_json=as_json)
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
            as_json=as_json,
        )


def _show_merged(merged: Merged, *, as_json: bool) -> None:
    show(
        "restored",
        lambda: {
            "tanks": list(merged.tanks),
            "added": merged.entries,
            "descriptions": merged.descriptions,
            "duplicates": merged.present,
        },
        lambda: _said_merged(merged),
        as_json=as_json,
    )


@click.command("export")
@click.argument("file", default=_STDIO)
@click.option(
    "--package", metavar="FOLDER", help="Write everything as tables with a datapackage.json beside them."
)
@click.option("--archive", metavar="FILE", help="Write everything as one JSON archive.")
@owner_option
@tank_options
def export_records(
    file: str,
    package: str | None,
    archive: str | None,
    owner: str | None,
    **options: Unpack[TankOptions],
) -> None:
    """Export records to a file.

    FILE becomes CSV with what stands; without FILE it goes to standard output, with --json as an archive.
    A package or an archive holds everything, corrections and withdrawals too, and `dawnlevel import` takes
    it back without loss. --tank: only this tank; --owner: only this owner's, naming no other owner.
    """
    if file != _STDIO and (package or archive):
        raise BadInputError(
            "FILE and --package or --archive were given.", where="export", cure="Give one of them at a time."
        )
    with store_session(options["store"]) as (store, _):
        names = chosen_tanks(store, options["tank"], owner)
        if package is not None:
            write_folder(Path(package), write_package(store, names, owner), DESCRIPTOR)
        if archive is not None:
            write_whole(Path(archive), _archive(store, names, owner).encode())
        text = ""
        if not (package or archive):
            text = _archive(store, names, owner) if options["as_json"] else export_table(store, names)
    for place in filter(None, (package, archive)):
        _tell(names, place)
    if package or archive:
        return
    if file == _STDIO:
        sys.stdout.flush()
        sys.stdout.buffer.write(text.encode())
        sys.stdout.buffer.flush()
        return
    write_whole(Path(file), text.encode())
    _tell(names, file)


def _tell(names: list[str], place: str) -> None:
    sys.stderr.write(f"Exported {', '.join(names) or 'no tank'} to {place}.\n")


def _archive(store: Store, names: list[str], owner: str | None) -> str:
    data = envelope("archive", export_archive(store, names, owner))
    return json.dumps(data, ensure_ascii=False, indent=1) + "\n"
