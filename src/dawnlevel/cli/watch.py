"""The command `watch`: a probe's log in, what changed out."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Unpack

import click

from dawnlevel.cli.advice import AdviceOptions, advice_options
from dawnlevel.cli.output import print_json
from dawnlevel.cli.probe_given import zone_of
from dawnlevel.cli.session import tank_session
from dawnlevel.errors import BadInputError

if TYPE_CHECKING:
    from dawnlevel.desk.steadiness.watch import WatchView

# The science and the pages are imported inside the command, so that its help comes at once.


@click.command()
@click.argument("log", metavar="[LOG.csv]", required=False)
@click.option("--card", metavar="CARD.json", help="For a file: the tank's card with KH, timer, lights, zone.")
@click.option("--zone", metavar="ZONE", help="For a file: the zone of the probe's clock, if not the card's.")
@advice_options
def watch(log: str | None, card: str | None, zone: str | None, **options: Unpack[AdviceOptions]) -> None:
    """What changed in a tank that a probe logs, and since when.

    Is it steady? If not: since when, what changed, how sure, what may have caused it, and the check that
    decides. It judges the log that `dawnlevel probe` keeps, by the tank's description, KH and timer.

    With LOG.csv it judges that file alone and nothing is stored. The file holds a probe's readings: time, pH
    and perhaps temperature, with or without column names. CARD.json says what the keeper knows: gas_on_h,
    gas_off_h, lights_on_h, lights_off_h (hours of the day), kh_dkh, timezone, temp_c, rate_bps.
    """
    from dawnlevel.cli.render_json import view_to_json  # noqa: PLC0415 - help comes at once
    from dawnlevel.cli.render_page import this_terminal  # noqa: PLC0415 - the same
    from dawnlevel.cli.render_watch import watch_page  # noqa: PLC0415 - the same

    if log is None and (card or zone):
        raise BadInputError(
            "A card or a zone belongs to a file, and none is named.",
            where="watch",
            cure="Name the log: dawnlevel watch LOG.csv --card CARD.json",
        )
    view, name = _stored(options) if log is None else (_of_file(log, card, zone), "Probe's log")
    if options["as_json"]:
        data = view_to_json(view)
        print_json({"schema": "dawnlevel/watch/1", **(data if isinstance(data, dict) else {})})
    else:
        sys.stdout.write(watch_page(view, this_terminal(), name) + "\n")


def _stored(options: AdviceOptions) -> "tuple[WatchView, str]":
    from dawnlevel.desk.steadiness.watching import tank_watch  # noqa: PLC0415 - help comes at once

    with tank_session(options) as session:
        name = session.tank.name
        return tank_watch(session.store, name, session.moment(options["at"])), name


def _of_file(log: str, card: str | None, zone: str | None) -> "WatchView":
    from dawnlevel.desk.steadiness.watch import watch_view  # noqa: PLC0415 - help comes at once

    if card is None:
        raise BadInputError(
            "A file needs a card beside it.",
            where="watch",
            cure="Add --card CARD.json, or leave LOG.csv out to judge the tank's stored log.",
        )
    of_clock = None if zone is None else zone_of(zone)
    return watch_view(_bytes(log), log, _bytes(card), card, of_clock)


def _bytes(file: str) -> bytes:
    try:
        return sys.stdin.buffer.read() if file == "-" else Path(file).read_bytes()
    except OSError as error:
        raise BadInputError(
            f"The file cannot be read ({error.strerror}).", where=file, cure="Check its path and your rights."
        ) from error
