"""Files and folders written as a whole, or left as they were."""

import os
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from dawnlevel.errors import BadInputError


@contextmanager
def _told(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise BadInputError(
            f"The file cannot be written ({error.strerror}).",
            where=str(path),
            cure="Check its path, your rights and the room on the disk.",
        ) from error


def _write(path: Path, content: bytes) -> None:
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def write_whole(path: Path, content: bytes) -> None:
    """Write a file as a whole or leave what was there: a full disk must not cost the last export."""
    part = path.with_name(path.name + ".part")
    with _told(path):
        try:
            _write(part, content)
            part.replace(path)
        except OSError:
            with suppress(OSError):
                part.unlink()
            raise


def write_folder(folder: Path, files: Mapping[str, bytes], mark: str) -> None:
    """Write a folder of files as a whole, in place of one that was written before: it holds the file `mark`.

    BadInputError where the folder holds something else, or cannot be written; it is left as it was then.
    """
    folder = Path(os.path.abspath(folder))  # noqa: PTH100 - Path.resolve would follow a link
    if folder.exists() and not (folder / mark).exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise BadInputError(
            f"It is there already and was not written by this command: it has no {mark}.",
            where=str(folder),
            cure="Name a new folder, or an empty one.",
        )
    part, old = (folder.with_name(folder.name + ending) for ending in (".part", ".old"))
    with _told(folder):
        shutil.rmtree(part, ignore_errors=True)
        shutil.rmtree(old, ignore_errors=True)
        try:
            part.mkdir()
            for name, content in files.items():
                _write(part / name, content)
            if folder.exists():
                folder.rename(old)
            part.rename(folder)
        except OSError:
            shutil.rmtree(part, ignore_errors=True)
            if old.exists() and not folder.exists():
                old.rename(folder)
            raise
        shutil.rmtree(old, ignore_errors=True)
