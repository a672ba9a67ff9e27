"""The command `dawnlevel`: its subcommands, loaded when asked for, and the one place that shows errors."""

import importlib
import os
import sys
from collections.abc import Sequence
from dataclasses import dataclass

import click

from dawnlevel.cli.output import show_error, show_problem
from dawnlevel.errors import DawnlevelError


@dataclass(frozen=True, slots=True)
class Subcommand:
    """Where a subcommand is defined, and its line in the list of commands."""

    module: str
    attribute: str
    summary: str


SECTIONS: dict[str, dict[str, Subcommand]] = {
    "Advice": {
        "today": Subcommand("advice", "today", "Where CO2 stands, the forecast, the next action."),
        "plan": Subcommand("advice", "plan", "The next gas day: start, count, stop; --accept records it."),
        "explain": Subcommand("advice", "explain", "Why: three routes, what is not told yet, sources."),
        "degassed": Subcommand("baseline", "degassed", "How to take a baseline cup; whether one is ready."),
        "spread": Subcommand("spread", "spread", "How even CO2 is across the tank: map, dead zones."),
        "why": Subcommand(
            "complaint", "why", "Why it isn't working: causes, what to measure, what to change."
        ),
        "steady": Subcommand(
            "steady", "steady", "Steady by your own readings? If not: since when, what changed."
        ),
        "mixing": Subcommand("mixing", "mixing", "How long water stays at a second probe, from two logs."),
        "layout": Subcommand(
            "layout", "layout", "Inflow, outflow, diffuser, hardscape by the trade's rules."
        ),
        "chart": Subcommand("advice", "chart", "Draw the day to a PNG or SVG file."),
        "watch": Subcommand("watch", "watch", "What changed in a tank that a probe logs, and since when."),
        "fleet": Subcommand("fleet", "fleet", "What changed in every tank that a probe logs."),
        "serve": Subcommand("serve", "serve", "The same as pages, for this computer or the home network."),
    },
    "Gas, people, solutions, meters": {
        "cylinder": Subcommand("shelf", "cylinder", "What is left, when it runs out, what a bubble holds."),
        "room": Subcommand("shelf", "room", "CO2 in a room if the cylinder vents into it."),
        "solution": Subcommand(
            "shelf", "solution", "A reference solution for the cell, its colours, standards."
        ),
        "meter": Subcommand("shelf", "meter", "Meters and kits: slope, due dates, which limits CO2 most."),
    },
    "Animals": {
        "animals": Subcommand("care", "animals", "The ceiling your animals ask for, and their oxygen."),
        "whatif": Subcommand("care", "whatif", "What a fault would do to CO2 and oxygen, and what helps."),
        "oxygen": Subcommand("care", "oxygen", "Oxygen by day and night, and what surface movement does."),
    },
    "On paper, in the calendar": {
        "handover": Subcommand("paper", "handover", "The plan for the tank's owner: a PDF or HTML file."),
        "calendar": Subcommand("paper", "calendar", "Gas, lights, readings, due dates as a calendar file."),
    },
    "Tanks": {
        "tank": Subcommand("tanks", "tank", "Describe a tank, change it, show it."),
        "tanks": Subcommand("tanks", "tanks", "List the tanks."),
    },
    "What you read": {
        "ph": Subcommand("entries", "ph", "Record the meter in the tank."),
        "survey": Subcommand("spread", "survey", "Record the meter held at a place: how even is it?"),
        "kh": Subcommand("entries", "kh", "Record the KH drop kit."),
        "cup": Subcommand("entries", "cup", "Record the degassed baseline cup."),
        "cell": Subcommand("entries", "cell", "Record the indicator cell's colour."),
        "dissolved": Subcommand("entries", "dissolved", "Record dissolved oxygen in the tank."),
        "weigh": Subcommand("shelf_entries", "weigh", "Record the gas cylinder's weight."),
        "gauge": Subcommand("shelf_entries", "gauge", "Record the cylinder's pressure gauge."),
        "buffers": Subcommand("shelf_entries", "buffers", "Record the pH meter in two buffers."),
        "fish": Subcommand("entries", "fish", "Record how the livestock behaves."),
    },
    "What you do": {
        "rate": Subcommand("entries", "rate", "Record the needle valve's bubble rate."),
        "timer": Subcommand("entries", "timer", "Record the gas timer's daily windows."),
        "gas": Subcommand("entries", "gas", "Record the gas opened or closed by hand."),
        "change": Subcommand("entries", "change", "Record a water change."),
        "exchange": Subcommand("shelf_entries", "exchange", "Record a gas cylinder connected."),
        "prepared": Subcommand("shelf_entries", "prepared", "Record a fresh solution in the cell."),
    },
    "What is recorded": {
        "log": Subcommand("log", "log", "List what is recorded, with its numbers."),
        "correct": Subcommand("log", "correct", "Put a right record in the place of a wrong one."),
        "void": Subcommand("log", "void", "Withdraw a record."),
        "probe": Subcommand("probe", "probe", "Keep a pH probe's log: bring it in, list it, take it back."),
        "import": Subcommand("files", "import_records", "Import records from a file."),
        "export": Subcommand("files", "export_records", "Export records to a file."),
    },
    "Care for the store": {
        "backup": Subcommand("upkeep", "backup", "Copy the store, while it is in use."),
        "restore": Subcommand("upkeep", "restore_copy", "Put a copy of the store back."),
        "doctor": Subcommand(
            "upkeep",
            "doctor",
            "Look whether all is well with the store: version, damage, clock, disk, rights.",
        ),
    },
    "Try it": {
        "demo": Subcommand("demo", "demo", "Play an invented keeper's tank through three tuning days."),
        "play": Subcommand("play", "play", "Tune a practice tank yourself."),
    },
}


class LazyGroup(click.Group):
    """A group whose subcommands are imported only when they are run or their own help is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The names of all subcommands, in the order of their sections."""
        del ctx
        return [name for commands in SECTIONS.values() for name in commands]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The subcommand of that name; None where there is none."""
        del ctx
        for commands in SECTIONS.values():
            if cmd_name in commands:
                wanted = commands[cmd_name]
                module = importlib.import_module(f"dawnlevel.cli.{wanted.module}")
                command: click.Command = getattr(module, wanted.attribute)
                return command
        return None

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list of subcommands by section, from their summaries alone."""
        del ctx
        for title, commands in SECTIONS.items():
            with formatter.section(title):
                formatter.write_dl([(name, found.summary) for name, found in commands.items()])


@click.group(
    cls=LazyGroup,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Records are kept in a file of your own: DAWNLEVEL_DATA names its folder, DAWNLEVEL_STORE or "
    "--store another file or a PostgreSQL address, DAWNLEVEL_TANK the tank meant where there are several.",
)
@click.version_option(package_name="dawnlevel", prog_name="dawnlevel")
def cli() -> None:
    """Puts dissolved CO2 where it belongs at lights-on, from a keeper's few readings, and says why."""


def run(arguments: Sequence[str]) -> int:
    """Run one command; its exit code. Errors are shown here and nowhere else, never as a traceback."""
    try:
        outcome = cli.main(list(arguments), prog_name="dawnlevel", standalone_mode=False)
        sys.stdout.flush()
    except (DawnlevelError, click.ClickException, click.Abort, OSError) as error:
        return _tell(error, as_json="--json" in arguments)
    return outcome if isinstance(outcome, int) else 0


def _tell(error: Exception, *, as_json: bool) -> int:
    """Show an error; the exit code it leaves with."""
    match error:
        case DawnlevelError():
            show_error(error, as_json=as_json)
            return error.exit_code
        case click.ClickException():
            return _show_usage(error, as_json=as_json)
        case BrokenPipeError():
            _drop_output()
            return 141
        case OSError():  # our own output failed, so this cannot go there too
            _drop_output()
            cure = "Check the disk it goes to. Records are stored all the same."
            show_problem(
                "output", f"The output cannot be written ({error.strerror}).", "", cure, as_json=False
            )
            return 1
        case _:
            show_problem("stopped", "Stopped; nothing more was done.", "", "Run it again.", as_json=as_json)
            return 130


def _show_usage(error: click.ClickException, *, as_json: bool) -> int:
    """A command line that cannot be understood: said by click, shown our way."""
    context = getattr(error, "ctx", None)
    if isinstance(error, click.exceptions.NoArgsIsHelpError):
        click.echo(error.format_message(), err=True)
        return error.exit_code
    path = context.command_path if context is not None else "dawnlevel"
    show_problem("usage", error.format_message(), path, f"See: {path} --help", as_json=as_json)
    return error.exit_code


def _drop_output() -> None:
    """Nobody takes our output any more: what is left of it must not fail at the interpreter's end."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
