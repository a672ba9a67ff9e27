"""A stored record as data."""

from dawnlevel.store import StoredRecord
from dawnlevel.store.codec import moment_to_text, record_to_dict


def stored_to_dict(stored: StoredRecord) -> dict[str, object]:
    """A record that stands, for `--json`: id, when written down, what it corrects, and its own fields."""
    return {
        "id": stored.id,
        "recorded_at": moment_to_text(stored.recorded_at),
        "supersedes": stored.supersedes,
        "record": record_to_dict(stored.record),
    }
