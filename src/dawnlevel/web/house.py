"""What the routes work with: the store, the clock, opened cases, pictures, live pages, and who is let in."""

from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Protocol
from zoneinfo import ZoneInfo

from fastapi import Depends, Request

from dawnlevel.errors import DawnlevelError
from dawnlevel.store import Store, open_store
from dawnlevel.store.store import utc_now
from dawnlevel.tank import Tank
from dawnlevel.web.addresses import name_of, tank_path
from dawnlevel.web.cases import Cases
from dawnlevel.web.kept import Kept
from dawnlevel.web.live import Live
from dawnlevel.web.once import Entries
from dawnlevel.web.pictures import Pictures
from dawnlevel.web.security.devices import Devices
from dawnlevel.web.security.pairing import Pairing
from dawnlevel.web.security.sessions import LASTS, Sessions
from dawnlevel.web.settings import Clock, Settings
from dawnlevel.web.uploads import Uploads
from dawnlevel.web.watched import Watchings


class Aside(Protocol):
    """What sets a house, such as practice, apart from the keeper's own."""

    @property
    def base(self) -> str:
        """What its addresses begin with: `/practice`."""
        ...

    def changed(self) -> None:
        """Something was written down in it."""
        ...

    def told(self) -> object:
        """What stands above each of its pages."""
        ...


@dataclass(frozen=True, slots=True)
class House:
    """Everything one running server shares among its requests.

    `clock` is the tanks' time, which a demonstration may set; sessions and codes run on the real one.
    `aside` is None in the keeper's own house.
    """

    settings: Settings
    clock: Clock
    store: Store
    kept: Kept
    cases: Cases
    pictures: Pictures
    watchings: Watchings
    live: Live
    entries: Entries
    uploads: Uploads
    devices: Devices
    sessions: Sessions
    pairing: Pairing
    aside: Aside | None = None

    @property
    def base(self) -> str:
        """What the addresses of its pages begin with."""
        return self.aside.base if self.aside is not None else ""

    def changed(self, tank: str) -> None:
        """Tell open pages that something of `tank` was written down."""
        if self.aside is not None:
            self.aside.changed()
        self.live.tell(tank)

    def close(self) -> None:
        """End the streams and close the files."""
        self.live.close()
        self.store.close()
        self.kept.close()


def open_house(settings: Settings, clock: Clock, wall: Clock = utc_now) -> House:
    """Open the store and the web's own files. StoreError where one cannot be used."""
    store = open_store(settings.store, clock=clock)
    try:
        kept = Kept(settings.keep)
    except BaseException:
        store.close()
        raise
    devices = Devices(kept, wall)
    devices.forget_unseen(wall() - LASTS)
    return House(
        settings=settings,
        clock=clock,
        store=store,
        kept=kept,
        cases=Cases(store, clock),
        pictures=Pictures(),
        watchings=Watchings(store, clock),
        live=Live(store),
        entries=Entries(store, kept, wall),
        uploads=Uploads(kept, wall),
        devices=devices,
        sessions=Sessions(kept.key, devices, wall, settings.port),
        pairing=Pairing(wall),
    )


def warm(house: House) -> None:
    """Load what the first page would wait for: the science and the drawing, with the first tank's day."""
    for name in house.store.tank_names()[:1]:
        with suppress(DawnlevelError):  # the page itself will say what is missing
            view = house.cases.today(name)
            house.pictures.drawn(f"today {name}", view.picture, name, view.lights_on)
    for _ in house.pictures.preparing():
        if house.live.is_closed:  # the server is stopping already
            return


def house_of(request: Request) -> House:
    """The house of this request: the one it was led to, else its application's."""
    house: House = request.scope.get("state", {}).get("house") or request.app.state.house
    return house


TheHouse = Annotated[House, Depends(house_of)]


@dataclass(frozen=True, slots=True)
class AtTank:
    """The tank a page is about, and the moment at which it is asked for."""

    tank: Tank
    now: datetime
    base: str = ""

    @property
    def name(self) -> str:
        """The tank's name."""
        return self.tank.name

    @property
    def zone(self) -> ZoneInfo:
        """The tank's time zone."""
        return ZoneInfo(self.tank.timezone)

    def path(self, rest: str = "") -> str:
        """The address of one of its pages; `rest` is what follows the tank, for example `/record`."""
        return self.base + tank_path(self.name, rest)


def at_tank(house: TheHouse, key: str) -> AtTank:
    """The tank that the path names; NoSuchTankError, which is answered with 404."""
    return AtTank(house.store.tank(name_of(key)), house.clock(), house.base)


TheTank = Annotated[AtTank, Depends(at_tank)]
