"""The command `fleet`: every tank of a store or a folder of Parquet files watched, into one file."""

import sys
from collections.abc import Generator, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from dawnlevel.cli.moments import clock
from dawnlevel.cli.output import show, show_problem
from dawnlevel.errors import BadInputError

if TYPE_CHECKING:
    from dawnlevel.desk.fleet.job import Outcome, Source, TankJob
    from dawnlevel.desk.fleet.run import Progress, Runner

# The science and the pages are imported inside the command, so that its help comes at once.


@click.command()
@click.option("--out", required=True, metavar="FILE", help="Where each tank's line of JSON goes.")
@click.option("--store", metavar="PLACE", help="Read the store at this path or PostgreSQL address.")
@click.option("--parquet", metavar="FOLDER", help="Read this folder of Parquet files and cards instead.")
@click.option("--workers", type=click.IntRange(1, 512), metavar="N", help="Processes; default: one a core.")
@click.option("--scheduler", metavar="ADDRESS", help="Let the workers of this Dask scheduler do it.")
@click.option("--again", is_flag=True, help="Also try the tanks again that could not be judged.")
@click.option("--json", "as_json", is_flag=True, help="Print the overview as JSON instead of text.")
def fleet(
    out: str,
    store: str | None,
    parquet: str | None,
    workers: int | None,
    scheduler: str | None,
    *,
    again: bool,
    as_json: bool,
) -> int:
    """What changed in every tank that a probe logs.

    For hundreds of tanks: each becomes one line of FILE as soon as it is judged, with all that `dawnlevel
    watch --json` says. Ctrl-C, a power cut or a killed worker loses nothing: the same command goes on where
    it stopped. At the end: which tanks changed, most important first, and which could not be judged and why.
    """
    from dawnlevel.cli.render_fleet import fleet_page  # noqa: PLC0415 - help comes at once
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - the same
    from dawnlevel.cli.render_page import this_terminal  # noqa: PLC0415 - the same
    from dawnlevel.desk.fleet.run import watch_fleet  # noqa: PLC0415 - the same

    if parquet is not None and store is not None:
        raise BadInputError("--store and --parquet are both given.", where="fleet", cure="Give one of them.")
    if scheduler is not None and workers is not None:
        raise BadInputError(
            "--workers and --scheduler are both given.", where="fleet", cure="Start more workers with Dask."
        )
    run = _runner(workers, scheduler)
    try:
        with _shown() as progress:
            view = watch_fleet(_source(store, parquet), Path(out), run, clock(), progress, again=again)
    except KeyboardInterrupt:
        cure = "The same command goes on from there."
        show_problem("stopped", f"Stopped; what is done stands in {out}.", "", cure, as_json=as_json)
        return 130
    show("fleet", lambda: view_to_json(view), lambda: fleet_page(view, this_terminal()), as_json=as_json)
    return 0


def _source(store: str | None, parquet: str | None) -> "Source":
    if parquet is not None:
        from dawnlevel.desk.fleet.parquet import ParquetSource  # noqa: PLC0415 - only where it is asked for

        return ParquetSource(str(Path(parquet).absolute()))
    from dawnlevel.desk.fleet.stored import StoreSource  # noqa: PLC0415 - the same

    return StoreSource.at(store)


def _runner(workers: int | None, scheduler: str | None) -> "Runner":
    from dawnlevel.desk.fleet.processes import by_processes, usual_workers  # noqa: PLC0415 - the same

    if scheduler is None:
        return lambda job, names: by_processes(job, names, workers or usual_workers())

    def by_dask(job: "TankJob", names: Sequence[str]) -> "Generator[Outcome]":
        from dawnlevel.desk.fleet.cluster import by_cluster  # noqa: PLC0415 - the same

        return by_cluster(job, names, scheduler)

    return by_dask


@contextmanager
def _shown() -> Iterator["Progress"]:
    """Progress on standard error, where somebody looks at it."""
    from rich.console import Console  # noqa: PLC0415 - help comes at once
    from rich.progress import (  # noqa: PLC0415 - the same
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeElapsedColumn,
        TimeRemainingColumn,
    )

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
        TextColumn("left:"),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=Console(file=sys.stderr), disable=not sys.stderr.isatty()) as bar:
        task = bar.add_task("Tanks", total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)
