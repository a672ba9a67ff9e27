"""Command `mixing`: two probes' logs, and how long water at the place that follows stays."""

from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import click

from dawnlevel.cli.output import show
from dawnlevel.errors import BadInputError


@click.command()
@click.argument("first")
@click.argument("second")
@click.option("--timezone", metavar="NAME", help="Zone of times without offset. Default: this computer's.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of text.")
def mixing(first: str, second: str, timezone: str | None, *, as_json: bool) -> None:
    """How long water stays at a second probe, from two logs.

    FIRST and SECOND are CSV files of times and pH that two probes in one tank logged at the same time,
    through a ramp of the gas: the place that is exchanged slowly follows the other late. Nothing is stored.
    """
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - help comes at once
    from dawnlevel.desk.evenness.mixing import MixingView, mixing_view  # noqa: PLC0415 - the same
    from dawnlevel.desk.zone import local_zone_name  # noqa: PLC0415 - the same

    name = timezone or local_zone_name()
    try:
        zone = ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise BadInputError(
            f"{name!r} is no time zone.", where="mixing", cure="Give an IANA name such as Europe/Madrid."
        ) from error
    view = mixing_view(_content(first), Path(first).name, _content(second), Path(second).name, zone)

    def told(view: MixingView = view) -> str:
        offset = view.offset_ph
        shows = f"{view.second} shows {offset.median:+.2f} pH against {view.first}"
        nine = f"9 in 10: {offset.low_90:+.2f} to {offset.high_90:+.2f}"
        span = f"{view.begin:%Y-%m-%d %H:%M} to {view.end:%Y-%m-%d %H:%M}, pH moved by {view.moved_ph:.2f}"
        return "\n".join(
            [
                view.verdict,
                f"Both logged {span}.",
                f"{shows} ({nine}).",
                *view.notes,
            ]
        )

    show("mixing", lambda: view_to_json(view), told, as_json=as_json)


def _content(file: str) -> bytes:
    try:
        return Path(file).read_bytes()
    except OSError as error:
        raise BadInputError(
            f"The file cannot be read ({error.strerror}).", where=file, cure="Check its path and your rights."
        ) from error
