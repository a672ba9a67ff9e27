"""This computer's clock."""

import os
from datetime import UTC, datetime

from dawnlevel.desk.exchange.longtable import read_moment


def clock() -> datetime:
    """Now (aware, UTC): the system's clock, or DAWNLEVEL_NOW (RFC 3339), which demonstrations set."""
    frozen = os.environ.get("DAWNLEVEL_NOW")
    return read_moment(frozen) if frozen else datetime.now(UTC)
