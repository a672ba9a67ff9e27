"""An application over a small store, as tests of the web ask it."""

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from re import search

from advice_world import NOW, make_store
from fastapi import FastAPI
from fastapi.testclient import TestClient

from dawnlevel.store import open_store
from dawnlevel.tank import Record
from dawnlevel.web.app import create_app
from dawnlevel.web.house import House
from dawnlevel.web.settings import Settings

HERE = "http://127.0.0.1:8420"
BROOK = "/tanks/Brook"


@dataclass
class Hands:
    """A clock that tests move."""

    now: datetime

    def __call__(self) -> datetime:
        return self.now

    def pass_by(self, length: timedelta) -> None:
        self.now += length


@dataclass
class World:
    """The application, its clocks, and every pairing code it announced."""

    app: FastAPI
    store: str
    clock: Hands
    wall: Hands
    codes: list[str] = field(default_factory=list)

    @property
    def house(self) -> House:
        house: House = self.app.state.house
        return house

    def local(self) -> TestClient:
        """A browser on the computer itself."""
        return TestClient(self.app, base_url=HERE, client=("127.0.0.1", 50000), follow_redirects=False)

    def far(self, address: str = "192.168.7.20") -> TestClient:
        """A device of the home network that asks this computer by its address."""
        return TestClient(
            self.app, base_url="http://192.168.7.2:8420", client=(address, 50000), follow_redirects=False
        )

    def records(self) -> list[Record]:
        """What stands for Brook."""
        with open_store(self.store) as store:
            return [stored.record for stored in store.records("Brook")]


def make_world(
    folder: Path, *more: Record, is_lan: bool = False, records: list[Record] | None = None
) -> World:
    """A world over Brook's morning, or over `records`."""
    store = make_store(folder / "records.sqlite3", *more, records=records)
    clock, wall = Hands(NOW), Hands(datetime(2026, 5, 6, 10, 10, tzinfo=UTC))
    codes: list[str] = []
    announce: Callable[[str, datetime], None] = lambda code, _: codes.append(code)  # noqa: E731 - short
    settings = Settings(store=store, keep=folder / "records.web", is_lan=is_lan, announce=announce)
    return World(create_app(settings, clock, wall), store, clock, wall, codes)


def fields(page: str) -> dict[str, str]:
    """What a browser would send back of the page's conversation: every field as it stands."""
    (form,) = re.findall(r'<form[^>]*class="conversation[^"]*">(.*?)</form>', page, re.DOTALL)
    found = {}
    for tag in re.findall(r"<input[^>]*>", form):
        name = re.search(r'name="([^"]*)"', tag)
        value = re.search(r'value="([^"]*)"', tag)
        if name and value and ('type="radio"' not in tag or " checked" in tag):
            found[name[1]] = value[1]
    for name, options in re.findall(r'<select name="([^"]*)".*?>(.*?)</select>', form, re.DOTALL):
        chosen = re.search(r"<option selected>(.*?)<", options) or re.search(r"<option>(.*?)<", options)
        assert chosen
        found[name] = chosen[1]
    return found


def tokens(page: str) -> dict[str, str]:
    """The form token and one entry token of a page, as its forms carry them."""
    found = {}
    for name in ("form_token", "entry"):
        match = search(rf'name="{name}" value="([^"]+)"', page)
        assert match, name
        found[name] = match[1]
    return found
