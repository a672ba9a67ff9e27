"""The pairing code as an address and as a picture a phone reads."""

from io import StringIO

import segno

from dawnlevel.web.security.hosts import lan_addresses


def server_address(port: int) -> str:
    """Where devices of the home network find this server."""
    found = lan_addresses()
    return f"http://{found[0] if found else 'localhost'}:{port}/"


def pairing_address(port: int, code: str) -> str:
    """The pairing page with the code filled in; worth nothing once the code is used or ten minutes old."""
    return f"{server_address(port)}pair?code={code}"


def qr_svg(address: str) -> str:
    """The address as a QR code, dark on light whatever the page's scheme, to stand in a page."""
    made: str = segno.make(address, error="m").svg_inline(
        scale=6, border=4, dark="#000", light="#fff", omitsize=True
    )
    return made


def qr_text(address: str) -> str:
    """The address as a QR code in block letters, for a terminal."""
    out = StringIO()
    segno.make(address, error="l").terminal(out=out, compact=True)
    return out.getvalue()
