"""Use cases of keeping records: the clock is passed in, the store too; errors say place, reason, cure."""

import dataclasses
import shlex
import unicodedata
from collections.abc import Sequence
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from dawnlevel.errors import BadInputError
from dawnlevel.store import Store, StoredRecord
from dawnlevel.store.codec import kind_of
from dawnlevel.store.merging import record_key
from dawnlevel.tank import Record, Tank

# A clock that runs a little ahead is no reason to refuse a reading (common practice, no source).
FUTURE_TOLERANCE = timedelta(minutes=2)
NOTE_LIMIT = 2000  # characters; a note, not a diary (common practice, no source)
NAME_LIMIT = 60  # characters; a name fits a heading (common practice, no source)


def _plain(moment: datetime, zone: ZoneInfo) -> str:
    return f"{moment.astimezone(zone):%Y-%m-%d %H:%M:%S} ({zone.key})"


def check_not_future(moment: datetime, now: datetime, zone: ZoneInfo, where: str) -> None:
    """Raise BadInputError where `moment` lies more than two minutes after `now` (both aware).

    The message tells times on the wall clock of `zone`.
    """
    if moment > now + FUTURE_TOLERANCE:
        raise BadInputError(
            f"The time {_plain(moment, zone)} is still to come (it is {_plain(now, zone)}).",
            where=where,
            cure="Give the time at which it was seen or done; check the date, the offset and the clock.",
        )


def _is_unprintable(text: str) -> bool:
    return any(unicodedata.category(letter) in {"Cc", "Cs"} for letter in text)


def check_record(record: Record, tank: Tank, described_at: datetime, now: datetime) -> None:
    """Raise BadInputError for a record from the future, from before the tank, or with an unfit note."""
    where = f"{kind_of(record)} record"
    zone = ZoneInfo(tank.timezone)
    check_not_future(record.at, now, zone, where)
    if record.at < described_at:
        since = record.at.replace(microsecond=0).astimezone(zone)
        raise BadInputError(
            f"The time {_plain(record.at, zone)} is before the tank {tank.name!r} existed: it is described "
            f"from {_plain(described_at, zone)}.",
            where=where,
            cure="Check the date, or let the tank begin earlier: "
            f"dawnlevel tank change --tank {shlex.quote(tank.name)} --since {since.isoformat()}",
        )
    _check_words(record.note, "note", where)


def _check_words(text: str, name: str, where: str) -> None:
    if len(text) > NOTE_LIMIT:
        raise BadInputError(
            f"The {name} has {len(text)} characters, more than {NOTE_LIMIT}.",
            where=where,
            cure="Shorten it.",
        )
    if _is_unprintable(text.replace("\n", "").replace("\t", "")):
        raise BadInputError(
            f"The {name} holds control characters.", where=where, cure="Type it in plain text."
        )


def describe_tank(store: Store, tank: Tank, now: datetime, since: datetime | None = None) -> None:
    """A new tank, described from `since` on (default `now`; both aware).

    TankExistsError where the name is taken; BadInputError where `since` is still to come, or where the name
    could not be shown.
    """
    _check_name(tank.name)
    check_not_future(since or now, now, ZoneInfo(tank.timezone), f"tank {tank.name}")
    store.add_tank(tank, since or now)


def _check_name(name: str) -> None:
    if _is_unprintable(name) or len(name) > NAME_LIMIT or name != name.strip() or not name:
        raise BadInputError(
            "The tank's name is longer than a line, or holds characters that cannot be shown.",
            where="tank",
            cure="Give it a short name of plain letters.",
        )


def rename_tank(store: Store, name: str, new_name: str, now: datetime) -> None:
    """Call a tank by another name from `now` (aware) on; its records stay with it.

    NoSuchTankError for an unknown name; TankExistsError where the new one is taken; BadInputError where it
    could not be shown, or is the old one.
    """
    _check_name(new_name)
    if new_name == name:
        raise BadInputError(
            f"The tank is called {name!r} already.", where="tank", cure="Give the name it should have."
        )
    store.rename_tank(name, new_name, now)


def change_tank(store: Store, tank: Tank, now: datetime, since: datetime | None = None) -> None:
    """A new description of the tank called `tank.name`, valid from `since` on (default `now`; aware).

    An earlier `since` than any before lets the tank begin earlier. NoSuchTankError for an unknown name;
    BadInputError where `since` is still to come.
    """
    check_not_future(since or now, now, ZoneInfo(tank.timezone), f"tank {tank.name}")
    store.update_tank(tank, since or now)


def _near_duplicate(store: Store, tank_name: str, record: Record) -> StoredRecord | None:
    """A standing record of the same kind and value in the same second."""
    second = record.at.replace(microsecond=0)
    ends = second + timedelta(seconds=1, microseconds=-1)
    wanted = record_key(dataclasses.replace(record, at=second))
    for stored in store.records(tank_name, second, ends):
        if record_key(dataclasses.replace(stored.record, at=second)) == wanted:
            return stored
    return None


def record(store: Store, tank_name: str, new: Record, now: datetime, *, force: bool = False) -> StoredRecord:
    """Store what was seen or done; the record as it stands, with its id. Errors as for `record_all`."""
    return record_all(store, tank_name, [new], now, force=force)[0]


def record_all(
    store: Store, tank_name: str, new: Sequence[Record], now: datetime, *, force: bool = False
) -> list[StoredRecord]:
    """Store several records in one transaction, all or none; the records as they stand, with their ids.

    BadInputError for a moment still to come or before the tank, and, unless `force`, for the same value
    of the same kind in the same second as a record that stands. NoSuchTankError for an unknown name.
    """
    tank = store.tank(tank_name)
    described_at = store.tank_described_at(tank_name)
    for one in new:
        check_record(one, tank, described_at, now)
        twin = None if force else _near_duplicate(store, tank_name, one)
        if twin is not None:
            raise BadInputError(
                f"The same is recorded already at {_plain(twin.record.at, ZoneInfo(tank.timezone))} as "
                f"record {twin.id}.",
                where=f"{kind_of(one)} record",
                cure="Nothing needs doing; if it really happened twice, add --force.",
            )
    return [store.standing(record_id)[1] for record_id in store.add_records(tank_name, new)]


def find_record(store: Store, record_id: int) -> tuple[str, StoredRecord]:
    """The tank's name and a record that stands; BadInputError where it does not stand."""
    return store.standing(record_id)


def correct_record(store: Store, record_id: int, new: Record, now: datetime) -> StoredRecord:
    """Put `new` in the place of `record_id`; the record as it now stands, with its own id.

    BadInputError where the old one does not stand, where `new` could not have been recorded in the first
    place, or where it changes nothing.
    """
    tank_name, old = store.standing(record_id)
    check_record(new, store.tank(tank_name), store.tank_described_at(tank_name), now)
    if new == old.record:
        raise BadInputError(
            f"Record {record_id} says exactly that already.",
            where=f"{kind_of(new)} record",
            cure="Give the value, time or note that should stand instead.",
        )
    return store.standing(store.correct(record_id, new))[1]


def withdraw_record(store: Store, record_id: int, reason: str = "") -> tuple[str, StoredRecord]:
    """Withdraw `record_id` for `reason`; the tank's name and what was withdrawn.

    BadInputError where it does not stand, or where the reason is unfit.
    """
    _check_words(reason, "reason", "withdrawal")
    tank_name, old = store.standing(record_id)
    store.withdraw(record_id, reason)
    return tank_name, old


def list_records(
    store: Store, tank_name: str, since: datetime | None = None, until: datetime | None = None
) -> list[StoredRecord]:
    """What stands for the tank with since <= at <= until (aware; None: open), sorted by time."""
    return store.records(tank_name, since, until)
