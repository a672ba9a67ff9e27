"""Where a tank's pages are: its name as one piece of a path, whatever letters it holds.

A slash would split the path and dots alone would climb it, so both are written as `~s` and `~d`, and the
tilde itself as `~t`. Everything else is left to percent-encoding.
"""

from urllib.parse import quote

_WRITTEN = {"~": "~t", "/": "~s"}
_READ = {"~t": "~", "~s": "/", "~d": "."}


def key_of(tank_name: str) -> str:
    """The tank's name as it stands in a path, before percent-encoding."""
    written = "".join(_WRITTEN.get(letter, letter) for letter in tank_name)
    return written if written.strip(".") else "~d" * len(written)


def name_of(key: str) -> str:
    """The tank's name that `key_of` wrote; other keys name no tank."""
    letters, place = [], 0
    while place < len(key):
        pair = key[place : place + 2]
        letters.append(_READ.get(pair, key[place]))
        place += 2 if pair in _READ else 1
    return "".join(letters)


def owner_path(owner: str, rest: str) -> str:
    """The address of something made for an owner; `rest` is what follows, for example `/handover`."""
    return f"/owners/{quote(key_of(owner), safe='')}{rest}"


def tank_path(tank_name: str, rest: str = "") -> str:
    """The address of a tank's page; `rest` is what follows, for example `/record`."""
    return f"/tanks/{quote(key_of(tank_name), safe='')}{rest}"
