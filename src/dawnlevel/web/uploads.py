"""Files that were sent and wait for a yes: kept in the web's own file, so that nothing must be sent twice."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from dawnlevel.web.kept import Kept
from dawnlevel.web.once import new_token
from dawnlevel.web.settings import Clock

KEPT_FOR = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class Upload:
    """A file of a tank; `taken` how many readings it brought, None while it waits (its content is kept)."""

    token: str
    tank: str
    name: str
    content: bytes
    taken: int | None


class Uploads:
    """Keeps the latest file of each device for a day."""

    def __init__(self, kept: Kept, clock: Clock) -> None:
        self._kept = kept
        self._clock = clock

    def keep(self, device: str, tank: str, name: str, content: bytes) -> str:
        """Keep a file in place of the device's last one; its token."""
        now, token = self._clock(), new_token()
        row = (token, device, tank, name, content, now.isoformat())
        with self._kept.changing() as connection:
            oldest = (now - KEPT_FOR).isoformat()
            connection.execute("DELETE FROM uploads WHERE device = ? OR sent_at < ?", (device, oldest))
            connection.execute(
                "INSERT INTO uploads (token, device, tank, name, content, sent_at) VALUES (?, ?, ?, ?, ?, ?)",
                row,
            )
        return token

    def waiting(self, device: str, tank: str, token: str) -> Upload | None:
        """The device's file of that token for that tank; None where there is none, or it is too old."""
        query = (
            "SELECT name, content, taken, sent_at FROM uploads WHERE token = ? AND device = ? AND tank = ?"
        )
        with self._kept.changing() as connection:
            found = connection.execute(query, (token, device, tank)).fetchone()
        if found is None or self._clock() - datetime.fromisoformat(found[3]) > KEPT_FOR:
            return None
        return Upload(token, tank, found[0], found[1] or b"", found[2])

    def took(self, token: str, readings: int) -> None:
        """Note what a file brought; the file itself is let go."""
        with self._kept.changing() as connection:
            connection.execute(
                "UPDATE uploads SET taken = ?, content = NULL WHERE token = ?", (readings, token)
            )

    def let_go(self, token: str) -> None:
        """Throw a file away."""
        with self._kept.changing() as connection:
            connection.execute("DELETE FROM uploads WHERE token = ?", (token,))
