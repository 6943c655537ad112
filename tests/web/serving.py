"""Serving a production to a browser that watches for troubles."""

from __future__ import annotations

import shutil
import socket
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import uvicorn

from rimside.web.app import make_app
from rimside.web.house import House

CHROMIUM = next((path for name in ("chromium", "chromium-browser") if (path := shutil.which(name))), None)
ARGUMENTS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--autoplay-policy=no-user-gesture-required",
]  # fmt: skip


@dataclass(slots=True)
class Served:
    """A running page and how to end it."""

    house: House
    server: uvicorn.Server
    thread: threading.Thread

    @property
    def address(self) -> str:
        """Where it is, without a slash at the end."""
        return f"http://127.0.0.1:{self.house.port}"

    def close(self) -> None:
        """End it as Ctrl-C would."""
        self.server.should_exit = True
        self.thread.join(timeout=10.0)


def serve(folder: Path, port: int = 0, hosts: frozenset[str] = frozenset()) -> Served:
    """Serve a folder from a thread of this process; `port` 0 takes one that is free."""
    taken = socket.socket()
    taken.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    taken.bind(("127.0.0.1", port))
    house = House(root=folder, port=taken.getsockname()[1], hosts=hosts)
    config = uvicorn.Config(make_app(house), log_level="warning", access_log=False, ws="websockets-sansio")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [taken]}, daemon=True)
    thread.start()
    until = time.monotonic() + 10.0
    while not server.started and time.monotonic() < until:
        time.sleep(0.01)
    assert server.started
    return Served(house=house, server=server, thread=thread)


@dataclass(slots=True)
class Watched:
    """What went wrong in the windows of a test."""

    troubles: list[str] = field(default_factory=list)
    allowed: tuple[str, ...] = ()

    def watch(self, page: Any) -> Any:
        """Note every console error, page error and request to another machine."""
        page.on("console", lambda m: self._note(m.text) if m.type in ("error", "warning") else None)
        page.on("pageerror", lambda error: self._note(f"{error}"))
        page.on("request", lambda request: self._asked(request.url))
        return page

    def _note(self, text: str) -> None:
        if not any(words in text for words in self.allowed):
            self.troubles.append(text)

    def _asked(self, url: str) -> None:
        if not url.startswith(("http://127.0.0.1:", "ws://127.0.0.1:", "data:", "blob:", "file:")):
            self.troubles.append(f"asked {url}")
