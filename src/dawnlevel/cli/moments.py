"""This computer's clock and time zone."""

import os
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from dawnlevel.desk.longtable import read_moment


def clock() -> datetime:
    """Now (aware, UTC): the system's clock, or DAWNLEVEL_NOW (RFC 3339), which demonstrations set."""
    frozen = os.environ.get("DAWNLEVEL_NOW")
    return read_moment(frozen) if frozen else datetime.now(UTC)


def local_zone_name() -> str:
    """The IANA name of this computer's time zone; UTC where it does not say."""
    chosen = os.environ.get("TZ", "").lstrip(":") or _linked_zone()
    try:
        return ZoneInfo(chosen).key
    except (OSError, ValueError, KeyError):  # no zone of that name is a KeyError
        return "UTC"


def _linked_zone() -> str:
    target = os.path.realpath("/etc/localtime")
    _, found, name = target.partition("zoneinfo/")
    if found:
        return name
    named = Path("/etc/timezone")
    return named.read_text(encoding="utf-8").strip() if named.is_file() else "UTC"
