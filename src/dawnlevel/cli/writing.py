"""Files that commands write: as a whole, or not at all."""

import os
from contextlib import suppress
from pathlib import Path

from dawnlevel.errors import BadInputError


def write_whole(path: Path, content: bytes) -> None:
    """Write a file as a whole or leave what was there: a full disk must not cost the last one.

    Raises BadInputError where it cannot be written.
    """
    part = path.with_name(path.name + ".part")
    try:
        with part.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except OSError as error:
        with suppress(OSError):
            part.unlink()
        raise BadInputError(
            f"The file cannot be written ({error.strerror}).",
            where=str(path),
            cure="Check its path, your rights and the room on the disk.",
        ) from error
