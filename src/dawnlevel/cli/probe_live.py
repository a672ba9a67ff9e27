"""Commands that run on while probes log: a folder that is looked at again and again, a broker."""

import asyncio
import os
import sys
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from zoneinfo import ZoneInfo

from dawnlevel.cli.moments import clock
from dawnlevel.cli.output import envelope, print_json
from dawnlevel.cli.render_json import view_to_json
from dawnlevel.cli.session import TankOptions, only_tank, store_session, tell_of_waiting
from dawnlevel.desk.steadiness.following import Folder, FollowedView
from dawnlevel.desk.steadiness.live import HeardView, Inbox, Topic, check_topics
from dawnlevel.desk.steadiness.mqtt import Ears, broker_at, identity, listen
from dawnlevel.errors import StoreLockedError
from dawnlevel.store import Patience, Store, open_store

_IMPATIENT = Patience(wait_s=2.0)
"""While readings go into the store nobody hears the broker; what cannot go in is held and tried again."""


def follow_folder(
    folder: Path, options: TankOptions, named: Mapping[str, str], zone: ZoneInfo | None, every_s: float | None
) -> None:
    """Look at a folder every so many seconds, or once without; tell what came in."""
    with open_store(options["store"], clock=clock, patience=Patience(tell=tell_of_waiting)) as store:
        followed = Folder(store, folder, _tank(store, options["tank"], folder), zone, named)
        try:
            _look(followed, as_json=options["as_json"])
            while every_s is not None:
                time.sleep(every_s)
                _look(followed, as_json=options["as_json"])
        except KeyboardInterrupt:
            sys.stderr.write("Stopped; what came in is stored.\n")


def _tank(store: Store, name: str | None, folder: Path) -> str | None:
    """The tank of the files in the folder itself; none where only folders inside it are meant."""
    names = store.tank_names()
    if name is None and len(names) > 1 and any((folder / one).is_dir() for one in names):
        return None
    return store.tank(name or only_tank(store)).name


def _look(followed: Folder, *, as_json: bool) -> None:
    try:
        for view in followed.look(clock()):
            if as_json:
                print_json(envelope("probe-follow", view_to_json(view)))
            else:
                sys.stdout.write(_said(view) + "\n")
            sys.stdout.flush()
    except StoreLockedError:
        sys.stderr.write("Another program holds the store; the next look takes it in.\n")


def _said(view: FollowedView) -> str:
    if view.problem:
        return f"{view.file}: left alone: {view.problem}"
    told = [f"{view.file} to {view.tank}: {view.new:,} new"]
    if view.changed:
        told.append(f"{view.changed:,} with other values than before (these count now)")
    return ", ".join(told) + "".join(f"\n  {bad}" for bad in view.bad)


def listen_to(broker: str, topic: str, temp: str | None, hold_s: float, options: TankOptions) -> None:
    """Listen to a broker until stopped; tell what came in."""
    found = broker_at(broker, os.environ.get("DAWNLEVEL_MQTT_PASSWORD"))
    with store_session(options["store"]) as (store, _):
        tank = options["tank"] if "{tank}" in topic else options["tank"] or only_tank(store)
        tank = None if tank is None else store.tank(tank).name
        check_topics(topic, temp, tank)
    with open_store(options["store"], clock=clock, patience=_IMPATIENT) as store:
        ph, warmth = Topic(topic), None if temp is None else Topic(temp)
        topics = (ph,) if warmth is None else (ph, warmth)
        ears = Ears(
            topics, Inbox(store, ph, warmth, tank), clock, hold_s, _teller(as_json=options["as_json"])
        )
        try:
            asyncio.run(listen(found, identity(store.place, topics), ears))
        except KeyboardInterrupt:
            sys.stderr.write("Stopped; what came in is stored.\n")


def _teller(*, as_json: bool) -> Callable[[HeardView | str], None]:
    def tell(told: HeardView | str) -> None:
        if isinstance(told, str):
            sys.stderr.write(told + "\n")
            return
        if as_json:
            print_json(envelope("probe-listen", view_to_json(told)))
        else:
            sys.stdout.write("".join(f"{line}\n" for line in _heard(told)))
        sys.stdout.flush()

    return tell


def _heard(view: HeardView) -> list[str]:
    told = [f"left out: {one}" for one in view.refused]
    if view.tank:
        more = f", {view.changed:,} with other values than before" if view.changed else ""
        told.append(f"{view.tank}: {view.new:,} new{more}")
    return told
