"""What the server is told when it starts."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

Clock = Callable[[], datetime]
Announce = Callable[[str, datetime], None]

DEFAULT_PORT = 8420


def say_nothing(code: str, until: datetime) -> None:
    """Announce to nobody."""
    del code, until


@dataclass(frozen=True, slots=True)
class Settings:
    """Where the records are, where the web keeps its own files, and who is let in.

    Attributes:
        store: path or address of the records, as `open_store` takes it.
        keep: folder and first letters of the web's own files; `keep.key` and `keep.sqlite3` are made.
        port: the port served on; it is part of the session cookie's name, which hosts share.
        is_lan: whether other devices of the home network are let in after pairing.
        announce: shows a new pairing code, and until when it holds, where only the keeper sees it.
    """

    store: str
    keep: Path
    port: int = DEFAULT_PORT
    is_lan: bool = False
    announce: Announce = say_nothing
