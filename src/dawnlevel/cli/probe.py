"""Commands on a probe's log: bring a file in, list what is stored, take a part back."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Unpack
from zoneinfo import ZoneInfo

import click

from dawnlevel.cli.output import show
from dawnlevel.cli.probe_given import content_of, named_columns, shape_options, zone_of
from dawnlevel.cli.session import TankOptions, tank_options, tank_session
from dawnlevel.desk.saying import say_moment
from dawnlevel.errors import BadInputError

if TYPE_CHECKING:
    from dawnlevel.desk.steadiness.probing import ProbeFileView, ProbeImportView, ProbeListView
    from dawnlevel.desk.steadiness.thinning import ThinningView

# The science is imported inside the commands, so that their help comes at once.


@click.group()
def probe() -> None:
    """Keep a pH probe's log: bring it in, list it, take it back."""


@probe.command("import")
@click.argument("file")
@shape_options
@click.option("--yes", is_flag=True, help="Do not ask whether the columns are right.")
@tank_options
def import_log(
    file: str, columns: tuple[str, ...], zone: str | None, *, yes: bool, **options: Unpack[TankOptions]
) -> None:
    """Bring a probe's log into the store.

    FILE is CSV of any sensible shape: time, pH and perhaps temperature; - reads standard input. Which column
    was taken as what is shown first, and on a terminal it asks. All of it comes in, or nothing: every line
    that cannot be taken is told. Bringing in the same file again, or one that overlaps, adds only what is
    new; of a minute with other values what came in last counts.
    """
    from dawnlevel.desk.steadiness.probing import file_view, import_probe_log, read_probe_file  # noqa: PLC0415 - see above

    named = named_columns(columns)
    content = content_of(file)
    with tank_session(options) as session:
        of_clock = session.zone if zone is None else zone_of(zone)
        with _progress(as_json=options["as_json"]) as progress:
            log = read_probe_file(content, file, of_clock, session.now, named, progress)
        if not options["as_json"]:
            sys.stdout.write(_read(file_view(log, file, of_clock), session.tank.name) + "\n")
            if not (yes or _is_right(file)):
                sys.stdout.write("Nothing was brought in. Say which column is what with --column ph=NAME.\n")
                return
        view = import_probe_log(session.store, session.tank.name, log, file, of_clock)
    _show("probe-import", view, lambda: _brought(view), as_json=options["as_json"])


@probe.command("list")
@tank_options
def list_parts(**options: Unpack[TankOptions]) -> None:
    """List what is stored of a tank's probe."""
    from dawnlevel.desk.steadiness.probing import list_probe  # noqa: PLC0415 - help comes at once

    with tank_session(options) as session:
        view = list_probe(session.store, session.tank.name)
    _show("probe-list", view, lambda: _listing(view), as_json=options["as_json"])


@probe.command("withdraw")
@click.argument("part", metavar="ID", type=int)
@tank_options
def withdraw(part: int, **options: Unpack[TankOptions]) -> None:
    """Take back readings that were brought in together.

    ID is their number in `dawnlevel probe list`. They no longer count; what they had hidden counts again.
    """
    from dawnlevel.desk.steadiness.probing import withdraw_probe  # noqa: PLC0415 - help comes at once

    with tank_session(options) as session:
        name = session.tank.name
        count = withdraw_probe(session.store, name, part)
    show(
        "probe-withdrawal",
        lambda: {"tank": name, "id": part, "readings": count},
        lambda: f"{name}: {count:,} readings of part {part} withdrawn.",
        as_json=options["as_json"],
    )


@probe.command("thin")
@click.option("--older-than", required=True, metavar="AGE", help="Thin what is older: 365d, 52w.")
@click.option(
    "--to", "step", required=True, metavar="MINUTES", help="One reading for so many minutes: 10min."
)
@click.option("--yes", is_flag=True, help="Do not ask.")
@tank_options
def thin(older_than: str, step: str, *, yes: bool, **options: Unpack[TankOptions]) -> None:
    """Thin old minute data, by your choice alone.

    Whole days (UTC) that are older keep one reading for so many minutes: the mean without spikes. Half-hour
    means, which `dawnlevel watch` reads, stay as they are; the single minutes, and readings that no longer
    count, go for good. It says what goes and asks first; what was done is written down. A copy first does no
    harm: dawnlevel backup
    """
    from dawnlevel.desk.steadiness.thinning import plan_thinning, read_age, read_step  # noqa: PLC0415 - see above
    from dawnlevel.desk.steadiness.thinning import thin as thin_log  # noqa: PLC0415 - see above

    age, step_min = read_age(older_than), read_step(step)
    with tank_session(options) as session:
        plan = plan_thinning(session.store, session.tank.name, age, step_min, session.now)
        if not yes:
            if options["as_json"] or not (sys.stdin.isatty() and sys.stdout.isatty()):
                raise BadInputError(
                    "Nothing was thinned: nobody was asked.",
                    where=plan.tank,
                    cure="Add --yes if it is to be.",
                )
            if not click.confirm(f"{_to_go(plan)}\nThin it?", default=False):
                sys.stdout.write("Nothing was thinned.\n")
                return
        view = thin_log(session.store, plan)
    _show("probe-thin", view, lambda: _thinned(view), as_json=options["as_json"])


@probe.command("follow")
@click.argument("folder")
@click.option(
    "--every",
    type=click.FloatRange(0.1),
    default=10.0,
    show_default=True,
    metavar="SECONDS",
    help="How often to look.",
)
@click.option("--once", is_flag=True, help="Look once and end.")
@shape_options
@tank_options
def follow(
    folder: str,
    every: float,
    columns: tuple[str, ...],
    zone: str | None,
    *,
    once: bool,
    **options: Unpack[TankOptions],
) -> None:
    """Take in the logs that probes write into a folder, as they grow.

    Files in FOLDER are logs of the tank meant; those in a folder inside it that bears a tank's name are of
    that one. A last line that is still being written waits until it is whole. A line that cannot be taken
    is told once, the others come in. Stop it with Ctrl-C and start it again at any time: nothing is lost,
    nothing is stored twice.
    """
    from dawnlevel.cli.probe_live import follow_folder  # noqa: PLC0415 - help comes at once

    of_clock = None if zone is None else zone_of(zone)
    follow_folder(Path(folder), options, named_columns(columns), of_clock, None if once else every)


@probe.command("listen")
@click.argument("broker")
@click.option(
    "--topic", required=True, help="Where readings come: aquarium/ph, or rack/{tank}/ph for several."
)
@click.option("--temp", help="Where temperatures come, if by themselves.")
@click.option(
    "--hold",
    type=click.FloatRange(0.0),
    default=300.0,
    show_default=True,
    metavar="SECONDS",
    help="How long readings are held to be stored together.",
)
@tank_options
def listen(broker: str, topic: str, temp: str | None, hold: float, **options: Unpack[TankOptions]) -> None:
    """Take in the readings of live probes from an MQTT broker.

    BROKER is mqtt://host, mqtt://user@host:port, or mqtts:// for an encrypted one; the password stands in
    DAWNLEVEL_MQTT_PASSWORD. A message is a number (the pH) or JSON with ph, temp_c and time, an RFC 3339
    time with its offset or seconds since 1970. The broker hears that a reading came in only when it is
    stored, and keeps what is sent while nobody listens: nothing is lost, nothing is stored twice. A number
    says no time: what the broker had kept of such is left out.
    """
    from dawnlevel.cli.probe_live import listen_to  # noqa: PLC0415 - help comes at once

    listen_to(broker, topic, temp, hold, options)


def _show(name: str, view: object, text: Callable[[], str], *, as_json: bool) -> None:
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - help comes at once

    show(name, lambda: view_to_json(view), text, as_json=as_json)


@contextmanager
def _progress(*, as_json: bool) -> Iterator[Callable[[int, int], None] | None]:
    """A bar on a terminal's standard error while lines are read; nothing elsewhere."""
    if as_json or not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=1, label="Reading", file=sys.stderr) as bar:

        def tell(done: int, total: int) -> None:
            bar.length = total
            bar.update(done - bar.pos)

        yield tell


def _is_right(file: str) -> bool:
    """Ask a person at a terminal; anybody else is taken at their word."""
    if file == "-" or not (sys.stdin.isatty() and sys.stdout.isatty()):
        return True
    return click.confirm("Is that right?", default=True)


def _read(view: "ProbeFileView", tank: str) -> str:
    zone = ZoneInfo(view.timezone)
    temp = (
        "no temperature"
        if view.temp_low_c is None or view.temp_high_c is None
        else f"{view.temp_low_c:.1f} to {view.temp_high_c:.1f} °C"
    )
    lines = [
        f"{view.file} for {tank}, local times as in {view.timezone}:",
        f"  columns   {', '.join(view.columns)}",
        f"  readings  {view.readings:,} from {say_moment(view.first, zone)} to {say_moment(view.last, zone)}",
        f"  pH        {view.ph_low:.2f} to {view.ph_high:.2f}, half of them below {view.ph_median:.2f}",
        f"  warmth    {temp}",
    ]
    if view.doubled:
        lines.append(f"  doubled   {view.doubled:,} of a minute that was there already: the last one counts")
    if view.left_out:
        lines.append(f"  left out  {view.left_out:,} without a pH, or with one that no tank shows")
    return "\n".join(lines)


def _brought(view: "ProbeImportView") -> str:
    told = [f"{view.new:,} new"]
    if view.changed:
        told.append(f"{view.changed:,} with other values than before (these count now)")
    if view.same:
        told.append(f"{view.same:,} there already")
    if view.covered:
        told.append(f"{view.covered:,} of a time that was thinned")
    return f"{view.tank}: {', '.join(told)}. Judge them with: dawnlevel watch"


def _to_go(view: "ThinningView") -> str:
    told = (
        f"{view.tank}: of {view.readings:,} readings before {view.before:%Y-%m-%d} (UTC) {view.left:,} are "
        f"left, one for {view.step_min} min: the mean without spikes.\nThe single minutes go for good. "
        "Half-hour means stay as they are, and so does what watching tells from them."
    )
    if view.hidden:
        told += f"\n{view.hidden:,} readings that no longer count (corrected or withdrawn) go too."
    return told


def _thinned(view: "ThinningView") -> str:
    return (
        f"{view.tank}: {view.readings:,} readings before {view.before:%Y-%m-%d} (UTC) became {view.left:,}. "
        "It is written down: dawnlevel probe list"
    )


def _listing(view: "ProbeListView") -> str:
    zone = ZoneInfo(view.timezone)
    if not view.parts:
        return f"{view.tank}: nothing of a probe is stored. Bring a log in: dawnlevel probe import FILE"
    lines = [f"{view.tank}: {view.readings:,} minutes with a reading"]
    for part in view.parts:
        thinned = "" if part.step_min == 1 else f", one for {part.step_min} min"
        lines.append(
            f"  {part.id:>5}  {say_moment(part.first, zone)} to {say_moment(part.last, zone)}  "
            f"{part.readings:,}{thinned}  from {part.source}"
        )
    lines += [
        f"  thinned on {say_moment(one.recorded_at, zone)}: before {say_moment(one.before, zone)} to one for "
        f"{one.step_min} min, {one.readings_before:,} became {one.readings_after:,}"
        for one in view.thinnings
    ]
    return "\n".join(lines)
