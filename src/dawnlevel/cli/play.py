"""`play`: a practice tank to tune by hand, line by line; what was done is kept and can be taken up again."""

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from dawnlevel.cli.demo import demo_folder
from dawnlevel.errors import BadInputError, DawnlevelError, StoreUnreachableError

if TYPE_CHECKING:
    from dawnlevel.cli.bench import Bench

KEPT_FILE = "practice.json"
LEVELS = ("easy", "middle", "hard")


@click.command()
@click.option(
    "--level", type=click.Choice(LEVELS), default="easy", show_default=True, help="How awkward it is."
)
@click.option(
    "--seed", type=click.IntRange(0), default=9, show_default=True, help="Which tank of that level."
)
@click.option("--fresh", is_flag=True, help="Begin anew, in place of the game that is kept.")
def play(*, level: str, seed: int, fresh: bool) -> None:
    """Tune a practice tank yourself.

    A simulated tank, not a real one: let time pass, read the meter, the cell and the fish, set needle and
    timer, ask for advice, and see after lights-off what was true. Lines come from the keyboard or from
    standard input; `help` lists them. The game is kept in a file of its own and taken up where it was left.
    """
    from dawnlevel.cli.bench import Bench  # noqa: PLC0415 - help comes at once
    from dawnlevel.cli.render_page import page, this_terminal  # noqa: PLC0415 - the same
    from dawnlevel.practice import easy, hard, middle  # noqa: PLC0415 - the same
    from dawnlevel.store import open_store  # noqa: PLC0415 - the same

    kept = Kept(demo_folder() / KEPT_FILE, level, seed, fresh=fresh)
    tank = {"easy": easy, "middle": middle, "hard": hard}[kept.level](kept.seed)
    paper = this_terminal()
    with open_store("sqlite://") as store:
        bench = Bench(tank, store, paper, kept.keep)
        for line in kept.lines:
            bench.run(line)
        kept.is_replayed = True
        taken_up = f"Taken up after {len(kept.lines)} lines; --fresh begins anew. " if kept.lines else ""
        welcome = (
            f"A practice tank ({kept.level}, number {kept.seed}): simulated, nothing here is a real "
            f"aquarium. {taken_up}Type help for the words, quit to leave. Kept in {kept.path}."
        )
        click.echo(page([welcome], paper))
        click.echo(bench.run("card"))
        _sit(bench)


def _sit(bench: "Bench") -> None:
    """Take lines until they end; what goes wrong is said, and the game goes on."""
    for line in _lines(bench):
        if line.lower() in {"quit", "exit"}:
            break
        try:
            click.echo(bench.run(line))
        except DawnlevelError as error:
            click.echo(f"Not done: {error}")


def _lines(bench: "Bench") -> Iterator[str]:
    """Lines typed at a prompt, or read from standard input and shown; empty ones are passed over."""
    at_keyboard = sys.stdin.isatty()
    while True:
        click.echo(f"\n{bench.prompt}> ", nl=False)
        text = sys.stdin.readline()
        if not text:
            click.echo()
            return
        line = text.strip()
        if not at_keyboard:
            click.echo(line)
        if line:
            yield line


class Kept:
    """The game on disk: which tank, and every line that changed something."""

    def __init__(self, path: Path, level: str, seed: int, *, fresh: bool) -> None:
        self.path, self.level, self.seed = path, level, seed
        self.lines: list[str] = []
        self.is_replayed = False
        if path.exists() and not fresh:
            self._load()

    def _load(self) -> None:
        try:
            found = json.loads(self.path.read_text(encoding="utf-8"))
            level, seed, lines = (
                str(found["level"]),
                int(found["seed"]),
                [str(line) for line in found["lines"]],
            )
        except (OSError, ValueError, KeyError, TypeError) as error:
            raise BadInputError(
                "The kept game cannot be read.",
                where=str(self.path),
                cure="Begin anew: dawnlevel play --fresh",
            ) from error
        if level not in LEVELS:
            raise BadInputError(
                f"There is no level {level!r}.",
                where=str(self.path),
                cure="Begin anew: dawnlevel play --fresh",
            )
        self.level, self.seed, self.lines = level, seed, lines

    def keep(self, line: str) -> None:
        """Keep a line that changed something; lines that are replayed are kept already."""
        if not self.is_replayed:
            return
        self.lines.append(line)
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            part = self.path.with_suffix(".part")
            part.write_text(
                json.dumps({"level": self.level, "seed": self.seed, "lines": self.lines}, indent=1),
                encoding="utf-8",
            )
            part.replace(self.path)
        except OSError as error:
            raise StoreUnreachableError(
                f"The game cannot be kept ({error.strerror}).",
                where=str(self.path),
                cure="Set DAWNLEVEL_DATA to a folder you may write to.",
            ) from error
