"""This computer's time zone, for a tank whose keeper has not said in which it stands."""

import os
from pathlib import Path
from zoneinfo import ZoneInfo


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
