"""Serving the page until somebody stops it: on this machine, or shared with the local network."""

from __future__ import annotations

import socket
from collections.abc import Callable
from pathlib import Path

from rimside.errors import BadInput
from rimside.files import project
from rimside.web.app import make_app
from rimside.web.house import House
from rimside.web.rehearsing.share import addresses

HERE, EVERYWHERE = "127.0.0.1", "0.0.0.0"
PORT = 8471
NEXT_PORTS = 20
"""How many ports after the asked one are tried when that one is taken."""


def serve(folder: str, *, port: int | None, share: bool, told: Callable[[House], None]) -> None:
    """Serve a production folder until Ctrl-C.

    Parameters
    ----------
    port : None for the usual one, or the next that is free.
    share : let the local network see the players' pages.
    told : called with the house when it can be reached.

    Raises
    ------
    BadInput : no production there, or the port is taken.
    """
    root = Path(folder)
    production = project.load(root)
    taken = _socket(EVERYWHERE if share else HERE, port)
    house = House(root=root, port=taken.getsockname()[1], hosts=frozenset(addresses()) if share else frozenset())
    if project.casting_names(root):
        desk = house.desk()
        desk.material(production, desk.name(production, None))
    run(house, taken, told)


def run(house: House, taken: socket.socket, told: Callable[[House], None]) -> None:
    """Serve on a socket that is bound already."""
    import uvicorn

    config = uvicorn.Config(
        make_app(house), log_level="warning", access_log=False, server_header=False, ws="websockets-sansio",
        proxy_headers=False, ws_max_size=65536, timeout_graceful_shutdown=2,
    )  # fmt: skip
    taken.listen(128)  # whoever asks before the loop runs waits, and is not turned away
    told(house)
    uvicorn.Server(config).run(sockets=[taken])


def _socket(address: str, port: int | None) -> socket.socket:
    ports = [PORT + number for number in range(NEXT_PORTS)] if port is None else [port]
    for number in ports:
        made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            made.bind((address, number))
        except OSError:
            made.close()
            continue
        return made
    raise BadInput("the port is taken", where="--port", value=ports[0], hint="is the page open already? try another")
