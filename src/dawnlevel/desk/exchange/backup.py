"""Use cases of keeping copies of the store and putting one back. The store may be in use meanwhile."""

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from dawnlevel.errors import BadInputError, DamagedStoreError, StoreUnreachableError
from dawnlevel.store import open_store
from dawnlevel.store.copying import Content, check_version, content_of, copy_store, file_of, pour
from dawnlevel.store.engine import store_url

_NAMED = re.compile(r"dawnlevel-\d{8}T\d{6}Z(-\d+)?\.sqlite3")


@dataclass(frozen=True, slots=True)
class BackupView:
    """A copy of the store that was made, read again and compared.

    Attributes:
        file: where it is.
        tanks: how many tanks it holds.
        descriptions: how many descriptions of them.
        records: how many entries, those corrected or withdrawn too.
        digest: SHA-256 over every row; the same for stores that hold the same.
        removed: older copies taken away, by name.
    """

    file: str
    tanks: int
    descriptions: int
    records: int
    digest: str
    removed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RestoreView:
    """A copy that was put in the store's place.

    Attributes:
        store: where the store is.
        aside: where what was there before is kept; null where there was nothing.
        tanks: how many tanks it holds now.
        records: how many entries, those corrected or withdrawn too.
    """

    store: str
    aside: str | None
    tanks: int
    records: int


def _view(file: Path, held: Content, removed: tuple[str, ...] = ()) -> BackupView:
    rows = held.rows
    return BackupView(str(file), rows["tanks"], rows["tank_versions"], rows["records"], held.digest, removed)


def _stamp(now: datetime) -> str:
    return f"{now.astimezone(UTC):%Y%m%dT%H%M%SZ}"


def _existing(place: str | None) -> Path:
    source = file_of(store_url(place))
    if not source.exists():
        raise StoreUnreachableError(
            "There is no store yet.", where=str(source), cure="Check --store, or record something first."
        )
    return source


def back_up(place: str | None, target: Path | None, now: datetime) -> BackupView:
    """Copy the store to `target`, by default a new file here named by the moment; verified. StoreError."""
    source = _existing(place)
    file = (target or Path(f"dawnlevel-{_stamp(now)}.sqlite3")).absolute()
    return _view(file, copy_store(source, file))


def back_up_into(place: str | None, folder: Path, keep: int, now: datetime) -> BackupView:
    """Copy the store into a folder of copies, then take away all but the `keep` newest; verified first.

    Only files named as this names them are ever taken away. StoreError, BadInputError.
    """
    source = _existing(place)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        file = _free_name(folder.absolute(), _stamp(now))
        held = copy_store(source, file)
        others = sorted(
            one for one in folder.iterdir() if _NAMED.fullmatch(one.name) and one.name != file.name
        )
        surplus = others[: max(0, len(others) + 1 - keep)]
        for one in surplus:
            one.unlink()
    except OSError as error:
        raise BadInputError(
            f"The folder of copies cannot be used ({error.strerror}).",
            where=str(folder),
            cure="Check its path, your rights and the room on the disk.",
        ) from error
    return _view(file, held, tuple(one.name for one in surplus))


def _free_name(folder: Path, stamp: str) -> Path:
    """A name no file has, the second copy of a second too."""
    names = (f"dawnlevel-{stamp}{'' if number == 1 else f'-{number}'}.sqlite3" for number in range(1, 1000))
    return next(folder / name for name in names if not (folder / name).exists())


def restore(place: str | None, copy: Path, now: datetime, *, replace: bool = False) -> RestoreView:
    """Put a copy in the place of the store; `replace` where the store holds tanks: they are kept aside.

    BadInputError where it holds tanks and `replace` is not given; DamagedStoreError for a copy that is
    damaged; StoreError otherwise. The store is as it was then.
    """
    target = file_of(store_url(place))
    copy = copy.absolute()
    if not copy.is_file():
        raise BadInputError("There is no such file.", where=str(copy), cure="Check its path.")
    if copy == target:
        raise BadInputError("It is the store itself.", where=str(copy), cure="Name a copy of it.")
    held = content_of(copy)
    check_version(held, copy)
    aside = _set_aside(target, now, replace=replace) if target.exists() else None
    if target.exists():
        pour(copy, target)
    else:
        copy_store(copy, target)
    with open_store(str(target)):  # brings an older version up to date
        pass
    return RestoreView(
        str(target), None if aside is None else str(aside), held.rows["tanks"], held.rows["records"]
    )


def _set_aside(target: Path, now: datetime, *, replace: bool) -> Path | None:
    """Keep what the store holds in a file beside it; None where it holds nothing."""
    aside = target.with_name(f"{target.stem}-before-{_stamp(now)}{target.suffix}")
    try:
        rows = content_of(target).rows
    except (DamagedStoreError, StoreUnreachableError):
        _check_replaced(target, replace=replace)
        for ending in ("", "-wal", "-shm"):
            beside = target.with_name(target.name + ending)
            if beside.exists():
                beside.rename(aside.with_name(aside.name + ending))
        return aside
    if not rows["tanks"]:
        return None
    _check_replaced(target, replace=replace)
    copy_store(target, aside)
    return aside


def _check_replaced(target: Path, *, replace: bool) -> None:
    if not replace:
        raise BadInputError(
            "There is a store already; nothing was changed.",
            where=str(target),
            cure="Add --replace to put the copy in its place (what is there is kept beside it), or name "
            "another with --store.",
        )
