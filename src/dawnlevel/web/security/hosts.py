"""By which names this server may be asked for, against pages elsewhere that point their own name at it.

A page of another site can let its own name lead to a home computer (DNS rebinding) and then ask in that
name. A bare address cannot be borrowed that way, so addresses of the home network and this computer's own
names are answered, and nothing else.
"""

import ipaddress
import socket
from contextlib import suppress

LOCAL_NAMES = frozenset({"localhost", "127.0.0.1", "::1"})
_ENDINGS = ("", ".local", ".lan", ".home", ".home.arpa", ".internal")


def name_in(host: str) -> str:
    """The name or address in a Host header, without its port, in small letters; empty where it is none."""
    text = host.strip().lower()
    if text.startswith("["):
        inner, closed, _ = text[1:].partition("]")
        return inner if closed else ""
    return text.partition(":")[0].rstrip(".")


def is_local_name(host: str) -> bool:
    """Whether a Host header names this very computer as itself."""
    return name_in(host) in LOCAL_NAMES


def is_loopback(address: str) -> bool:
    """Whether a peer's address is this computer's own loopback."""
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False


def is_known(host: str, *, is_lan: bool) -> bool:
    """Whether a request with this Host header is for us."""
    name = name_in(host)
    if name in LOCAL_NAMES:
        return True
    if not is_lan:
        return False
    try:
        found = ipaddress.ip_address(name)
    except ValueError:
        own = socket.gethostname().lower().partition(".")[0]
        return name in {own + ending for ending in _ENDINGS}
    return found.is_private


def lan_addresses() -> list[str]:
    """This computer's addresses in the home network, the likeliest first; asks no other host."""
    found: dict[str, None] = {}
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe, suppress(OSError):  # no network now
        probe.connect(("192.0.2.1", 9))  # an address for documentation (RFC 5737): nothing is sent
        found[str(probe.getsockname()[0])] = None
    try:
        told = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
    except OSError:
        told = []
    for entry in told:
        found[str(entry[4][0])] = None
    return [address for address in found if not is_loopback(address)]
