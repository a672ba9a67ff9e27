"""The command `watch`: a probe's log in, what changed out."""

import sys
from pathlib import Path

import click

from dawnlevel.cli.output import print_json
from dawnlevel.errors import BadInputError

# The science and the pages are imported inside the command, so that its help comes at once.


@click.command()
@click.argument("log", metavar="LOG.csv")
@click.option("--card", required=True, metavar="CARD.json", help="The tank's card: KH, timer, lights, zone.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of text.")
def watch(log: str, card: str, *, as_json: bool) -> None:
    """What changed in a tank that a probe logs, and since when.

    Is it steady? If not: since when, what changed, how sure, what may have caused it, and the check that
    decides. LOG.csv holds a probe's readings: time, pH and perhaps temperature, with or without column names.
    Nothing is stored. CARD.json says what the keeper knows: gas_on_h, gas_off_h, lights_on_h, lights_off_h
    (hours of the day), kh_dkh, timezone, temp_c, rate_bps.
    """
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - help comes at once
    from dawnlevel.cli.render_page import this_terminal  # noqa: PLC0415 - the same
    from dawnlevel.cli.render_watch import watch_page  # noqa: PLC0415 - the same
    from dawnlevel.desk.watch import watch_view  # noqa: PLC0415 - the same

    view = watch_view(_bytes(log), log, _bytes(card), card)
    if as_json:
        data = view_to_json(view)
        print_json({"schema": "dawnlevel/watch/1", **(data if isinstance(data, dict) else {})})
    else:
        sys.stdout.write(watch_page(view, this_terminal()) + "\n")


def _bytes(file: str) -> bytes:
    try:
        return sys.stdin.buffer.read() if file == "-" else Path(file).read_bytes()
    except OSError as error:
        raise BadInputError(
            f"The file cannot be read ({error.strerror}).", where=file, cure="Check its path and your rights."
        ) from error
