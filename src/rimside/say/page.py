"""What `open` says: where the page is, until Ctrl-C; or which file was written."""

from __future__ import annotations

import argparse
import threading
import webbrowser
from urllib.parse import quote

from rimside.say import terminal
from rimside.web import serve
from rimside.web.house import House

DONE = 0
NETWORK = (
    "Anybody on this network can read what passes between here and the phones. Each link is for one player; "
    "make it void after the rehearsal."
)


def opened(options: argparse.Namespace) -> int:
    """Serve the page; the exit status when somebody has stopped it."""

    def told(house: House) -> None:
        address = f"http://127.0.0.1:{house.port}/" + (f"?casting={quote(options.casting)}" if options.casting else "")
        terminal.show(options, lambda: text(address, house), lambda: {"address": address, "port": house.port})
        if not options.no_browser:
            threading.Timer(0.3, webbrowser.open, [address]).start()

    serve.serve(options.folder, port=options.port, share=options.share, told=told)
    return DONE


def text(address: str, house: House) -> str:
    """Where the page is, and what to know when it is shared."""
    lines = [f"The page is at {address}", "Ctrl-C ends it; every change is on the disc already."]
    if house.hosts:
        lines += [f"Shared: the players' links are on the page Rehearse. {NETWORK}"]
    return "\n".join(lines)


def exported(options: argparse.Namespace) -> int:
    """Write one file that plays from disc."""
    from rimside.web import export

    path = export.write(options.folder, options.casting, options.export)
    size_kb = path.stat().st_size / 1000.0
    terminal.show(
        options,
        lambda: f"Written to {path} ({size_kb:.0f} kB): it plays from disc and can be mailed.",
        lambda: {"file": str(path), "kb": round(size_kb, 1)},
    )
    return DONE
