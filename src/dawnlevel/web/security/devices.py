"""The devices that may enter, each until it is sent away."""

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from dawnlevel.web.kept import Kept
from dawnlevel.web.settings import Clock

_SEEN_EVERY = timedelta(minutes=5)  # how finely "last seen" is told; spares a write with every page
NAME_LIMIT = 40


@dataclass(frozen=True, slots=True)
class Device:
    """A device that may enter: its number, its name, whether it is this computer, since when, last seen."""

    id: str
    name: str
    is_local: bool
    paired_at: datetime
    seen_at: datetime


class Devices:
    """The list of devices."""

    def __init__(self, kept: Kept, clock: Clock) -> None:
        self._kept = kept
        self._clock = clock

    def admit(self, name: str, *, is_local: bool) -> Device:
        """A new device, let in from now on."""
        now = self._clock()
        shown = "".join(letter for letter in name if letter.isprintable()).strip()[:NAME_LIMIT]
        device = Device(secrets.token_urlsafe(12), shown or "A device", is_local, now, now)
        row = (device.id, device.name, int(is_local), now.isoformat(), now.isoformat())
        with self._kept.changing() as connection:
            connection.execute("INSERT INTO devices VALUES (?, ?, ?, ?, ?)", row)
        return device

    def find(self, device_id: str) -> Device | None:
        """The device of that number, if it may enter; notes that it was seen."""
        with self._kept.changing() as connection:
            row = connection.execute("SELECT * FROM devices WHERE id = ?", (device_id,)).fetchone()
            if row is None:
                return None
            found, now = _device(row), self._clock()
            if now - found.seen_at > _SEEN_EVERY:
                connection.execute(
                    "UPDATE devices SET seen_at = ? WHERE id = ?", (now.isoformat(), device_id)
                )
        return found

    def every(self) -> list[Device]:
        """All devices, the latest seen first."""
        with self._kept.changing() as connection:
            rows = connection.execute("SELECT * FROM devices ORDER BY seen_at DESC, id").fetchall()
        return [_device(row) for row in rows]

    def send_away(self, device_id: str) -> bool:
        """Take back that a device may enter; whether there was one."""
        with self._kept.changing() as connection:
            return connection.execute("DELETE FROM devices WHERE id = ?", (device_id,)).rowcount > 0

    def forget_unseen(self, since: datetime) -> None:
        """Take out devices not seen since `since`: their sessions have run out."""
        with self._kept.changing() as connection:
            connection.execute("DELETE FROM devices WHERE seen_at < ?", (since.isoformat(),))


def _device(row: tuple[str, str, int, str, str]) -> Device:
    return Device(
        row[0], row[1], bool(row[2]), datetime.fromisoformat(row[3]), datetime.fromisoformat(row[4])
    )
