"""The page on the local network: this machine's addresses, a player's link, and the link as a picture to scan."""

from __future__ import annotations

import io
import ipaddress
import socket

QUIET_MODULES = 4
"""White round the code, in its own dots. Source: ISO/IEC 18004, quiet zone."""


def addresses() -> tuple[str, ...]:
    """The addresses of this machine that others on the local network can reach, the usual way out first.

    These are the Host names that are allowed when the page is shared.
    """
    found = [_way_out(), *_of_this_host()]
    return tuple(dict.fromkeys(one for one in found if one and not ipaddress.ip_address(one).is_loopback))


def _way_out() -> str:
    """The address that packets to elsewhere would leave by; nothing is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # RFC 5737: no such machine; a datagram socket sends nothing by this
        except OSError:
            return ""
        return str(probe.getsockname()[0])


def _of_this_host() -> list[str]:
    try:
        rows = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
    except OSError:
        return []
    return sorted({str(row[4][0]) for row in rows})


def link(host: str, port: int, token: str) -> str:
    """A player's link as it is sent or scanned."""
    return f"http://{host}:{port}/follow/{token}"


def code_svg(text: str) -> bytes:
    """A text as a code to scan, black on white, as SVG."""
    import segno

    drawn = io.BytesIO()
    segno.make(text, error="m", micro=False).save(
        drawn, kind="svg", border=QUIET_MODULES, dark="#000", light="#fff", xmldecl=False, omitsize=True
    )
    return drawn.getvalue()
