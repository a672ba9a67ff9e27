"""Tanks of a store, as a worker reads them: opened for one tank and closed again."""

from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from dawnlevel.desk.steadiness.watch import WatchView
from dawnlevel.desk.steadiness.watching import tank_watch
from dawnlevel.errors import BadInputError, StoreUnreachableError
from dawnlevel.store import open_store
from dawnlevel.store.engine import place_of, store_url


@dataclass(frozen=True, slots=True)
class StoreSource:
    """The tanks of the store at `address`: an absolute path, or the address of a PostgreSQL database.

    Every worker must reach it there. The address may hold a password and is shown nowhere; `place` is shown.
    """

    address: str = field(repr=False)
    place: str

    @classmethod
    def at(cls, url_or_path: str | None) -> "StoreSource":
        """The store that a command means; BadInputError for one in memory, which no other process sees."""
        url = store_url(url_or_path)
        if url.get_backend_name() != "sqlite":
            return cls(url.render_as_string(hide_password=False), place_of(url))
        if not url.database or url.database == ":memory:":
            raise BadInputError(
                "A store in memory is seen by one process alone.", where="store", cure="Name a file."
            )
        path = str(Path(url.database).absolute())
        return cls(path, path)

    def names(self) -> list[str]:
        """Every tank of the store; BadInputError where it holds none."""
        with open_store(self.address) as store:
            names = store.tank_names()
        if not names:
            raise BadInputError(
                "The store holds no tanks.", where=self.place, cure="Name the store with --store PLACE."
            )
        return names

    def watch(self, name: str, as_of: datetime) -> WatchView:
        """What one tank's log up to `as_of` (aware) says; see `Source`."""
        if "://" not in self.address and not Path(self.address).exists():
            raise StoreUnreachableError(
                "A worker does not see the store's file.",
                where=self.place,
                cure="Put it in a folder that all workers share, or use a PostgreSQL store.",
            )
        with open_store(self.address) as store:
            return tank_watch(store, name, as_of)
