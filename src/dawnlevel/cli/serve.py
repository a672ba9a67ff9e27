"""`serve`: the pages, for this computer's browser or for the devices of the home network."""

import errno
import os
import socket
import time
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import click

from dawnlevel.cli.moments import clock
from dawnlevel.errors import BadInputError

if TYPE_CHECKING:
    import uvicorn

    from dawnlevel.web.house import House
    from dawnlevel.web.settings import Clock, Settings

# The server and the pages are imported inside the functions, so that the help comes at once.

BEFORE_LIGHTS = timedelta(minutes=80)
"""How long before the lights the demonstration's clock starts: the ramp is under way, and can be steered."""
_STOPS_WITHIN_S = 2
_KEPT = 14  # copies kept where nothing else is said (own choice: two weeks of daily ones)


@click.command()
@click.option(
    "--port", type=click.IntRange(0, 65535), default=8420, show_default=True, help="0: any free one."
)
@click.option("--lan", is_flag=True, help="Open it to the home network; devices are paired with a code.")
@click.option("--demo", is_flag=True, help="Serve the demonstration's tank, on the morning after its story.")
@click.option("--store", metavar="PLACE", help="Use the records at this path, or at this PostgreSQL address.")
@click.option("--backup-every", metavar="TIME", help="Copy the store every so often while it is served: 24h.")
@click.option("--backup-to", metavar="FOLDER", help="Where the copies go; each is read again and compared.")
@click.option(
    "--backup-keep",
    type=click.IntRange(1),
    default=_KEPT,
    show_default=True,
    help="Keep so many copies; older ones are taken away once a new one is sound.",
)
def serve(
    *,
    port: int,
    lan: bool,
    demo: bool,
    store: str | None,
    backup_every: str | None,
    backup_to: str | None,
    backup_keep: int,
) -> None:
    """The same as pages, for this computer or the home network.

    Only this computer is let in, at 127.0.0.1, unless --lan opens it to the home network; a device is then
    paired with the code, or the picture of it, that is shown here. Ctrl-C ends it.
    """
    from dawnlevel.cli.serve_backups import copies_kept, schedule_of  # noqa: PLC0415 - see above
    from dawnlevel.web.kept import keep_for  # noqa: PLC0415 - see above
    from dawnlevel.web.settings import Settings  # noqa: PLC0415 - see above

    place, now = (str(_demo_store()), _running_from(_demo_start())) if demo else (store, _own_clock())
    copies = schedule_of(place, backup_every, backup_to, backup_keep)
    with _listening("0.0.0.0" if lan else "127.0.0.1", port) as listener:  # noqa: S104 - what --lan asks for
        settings = Settings(
            store=place or "",
            keep=keep_for(place),
            port=listener.getsockname()[1],
            is_lan=lan,
            announce=lambda code, until: _tell_code(settings.port, code, until),
        )
        with copies_kept(copies, _own_clock()):
            _run(settings, now, listener)


def _listening(host: str, port: int) -> socket.socket:
    """A socket bound to the port; BadInputError where it is taken or not allowed."""
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
        listener.listen()  # who comes before the server is ready waits instead of being refused
    except OSError as error:
        listener.close()
        why = (
            "is taken by another program"
            if error.errno == errno.EADDRINUSE
            else f"cannot be used ({error.strerror})"
        )
        raise BadInputError(
            f"Port {port} {why}.", where="serve", cure=f"Choose another: dawnlevel serve --port {port + 1}"
        ) from error
    return listener


def _run(settings: "Settings", now: "Clock", listener: socket.socket) -> None:
    """Serve until Ctrl-C."""
    import uvicorn  # noqa: PLC0415 - see above

    from dawnlevel.web.app import create_app  # noqa: PLC0415 - see above
    from dawnlevel.web.routes.entrance import show_code  # noqa: PLC0415 - see above

    app = create_app(settings, now)
    house: House = app.state.house
    click.echo(f"Dawnlevel serves {house.store.place}")
    click.echo(f"  on this computer: http://127.0.0.1:{settings.port}/")
    if settings.is_lan:
        show_code(house)
    click.echo("Ctrl-C ends it.")
    config = uvicorn.Config(
        app,
        log_level="error",
        access_log=False,
        proxy_headers=False,  # who asks is who is connected, whatever a header says
        server_header=False,
        timeout_graceful_shutdown=_STOPS_WITHIN_S,
    )
    with suppress(KeyboardInterrupt):  # raised again by the server once it has ended
        _server(config, house).run(sockets=[listener])
    click.echo("\nStopped.")


def _server(config: "uvicorn.Config", house: "House") -> "uvicorn.Server":
    """A server that ends the open pages' streams first, for they never end by themselves."""
    import uvicorn  # noqa: PLC0415 - see above

    class Server(uvicorn.Server):
        def handle_exit(self, sig: int, frame: object) -> None:
            house.live.close()
            super().handle_exit(sig, frame)  # type: ignore[arg-type]  # a frame, as the signal gives it

    return Server(config)


def _tell_code(port: int, code: str, until: datetime) -> None:
    """Show the pairing code and its picture."""
    from dawnlevel.web.security.codes import (  # noqa: PLC0415 - see above
        pairing_address,
        qr_text,
        server_address,
    )

    click.echo(f"  in the home network: {server_address(port)}")
    click.echo(qr_text(pairing_address(port, code)))
    click.echo(f"  pairing code: {code}   (one device, until {until.astimezone():%H:%M})")


def _own_clock() -> "Clock":
    """The system's clock; DAWNLEVEL_NOW, where it is set, as a clock that runs on from there."""
    return _running_from(clock()) if os.environ.get("DAWNLEVEL_NOW") else clock


def _running_from(start: datetime) -> "Clock":
    began = time.monotonic()
    return lambda: start + timedelta(seconds=time.monotonic() - began)


def _demo_store() -> Path:
    from dawnlevel.cli.demo import STORE_FILE, demo_folder  # noqa: PLC0415 - see above

    store = demo_folder() / STORE_FILE
    if not store.exists():
        raise BadInputError(
            "The demonstration has not been played yet.",
            where=str(store),
            cure="Play it first: dawnlevel demo",
        )
    return store


def _demo_start() -> datetime:
    """The morning after the story, before the lights."""
    from dawnlevel.cli.story import end_of_story  # noqa: PLC0415 - see above
    from dawnlevel.practice.scenario import keepers_tank  # noqa: PLC0415 - see above
    from dawnlevel.tank.clock import next_lights_on  # noqa: PLC0415 - see above

    tank = keepers_tank()
    lights_on = next_lights_on(tank.photoperiod, ZoneInfo(tank.timezone), end_of_story())
    return lights_on - BEFORE_LIGHTS
