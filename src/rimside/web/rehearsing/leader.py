"""The leader's page at rehearsal: the clock, the players' links, and what they flagged. This machine only."""

from __future__ import annotations

import json

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.websockets import WebSocket, WebSocketDisconnect

from rimside.files import project
from rimside.web.house import house_of
from rimside.web.pages import page
from rimside.web.rehearsing import share
from rimside.web.rehearsing.messages import Answer, Choice, Deed, OfFlag, OfPlayer, Ping, from_phone, read
from rimside.web.rehearsing.rehearsal import Line, rehearsal_of, server_ms


async def show(request: Request) -> Response:
    """The leader's page."""
    rehearsal, house = rehearsal_of(request), house_of(request)
    piece = await rehearsal.piece()
    return page(
        request, "rehearse.html", title=piece.title, rehearsed=piece.casting, shared=bool(house.hosts),
        choices=project.casting_names(house.desk(piece.variant).folder),
    )  # fmt: skip


async def line(socket: WebSocket) -> None:
    """The line of the leader's page: pings, the clock, who is there, the flags."""
    rehearsal = rehearsal_of(socket)
    await socket.accept()
    opened = Line(socket=socket)
    try:
        await rehearsal.enter(opened)
        while True:
            text = await socket.receive_text()
            arrived_ms, said = server_ms(), from_phone(text)
            if isinstance(said, Ping):
                times = {"sent_ms": said.sent_ms, "arrived_ms": arrived_ms, "answered_ms": server_ms()}
                await opened.say(json.dumps({"kind": "pong", **times}))
                rehearsal.heard(opened, said.offset_ms, said.round_trip_ms)
    except (WebSocketDisconnect, RuntimeError):
        await opened.close(1001)
    finally:
        await rehearsal.leave(opened)


async def do(request: Request) -> Response:
    """Something done to the clock."""
    clock = await rehearsal_of(request).do(read(Deed, await request.body()))
    return JSONResponse({"epoch": clock.epoch})


async def choose(request: Request) -> Response:
    """Another casting to rehearse."""
    asked = read(Choice, await request.body())
    await rehearsal_of(request).choose(asked.variant, asked.casting)
    return JSONResponse({})


async def make_link(request: Request) -> Response:
    """A new link for a player."""
    await rehearsal_of(request).make_link(read(OfPlayer, await request.body()).player)
    return JSONResponse({})


async def revoke(request: Request) -> Response:
    """A player's link closed for good."""
    await rehearsal_of(request).revoke(read(OfPlayer, await request.body()).player)
    return JSONResponse({})


async def answer(request: Request) -> Response:
    """A flag marked done, or open again."""
    asked = read(Answer, await request.body())
    await rehearsal_of(request).answer(asked.flag, asked.done, asked.answer)
    return JSONResponse({})


async def measure(request: Request) -> Response:
    """What a flag measured, written into kit.toml."""
    return JSONResponse({"kept": await rehearsal_of(request).measure(read(OfFlag, await request.body()).flag)})


async def code(request: Request) -> Response:
    """A player's link as a picture to scan; only for a link that was made since the server started."""
    link = _link(request, request.path_params["player"])
    if not link:
        raise HTTPException(404, "this link was made before the page was opened; make it anew to see it")
    return Response(share.code_svg(link), media_type="image/svg+xml", headers={"cache-control": "no-store"})


async def links(request: Request) -> Response:
    """Every player's link and its picture, to print and cut."""
    rehearsal = rehearsal_of(request)
    players = (await rehearsal.piece()).players
    rows = [{"player": player, "link": _link(request, player.id)} for player in players]
    return page(request, "links.html", title="Links", rows=rows, shared=bool(house_of(request).hosts))


async def link(request: Request) -> Response:
    """A player's link as text."""
    found = _link(request, request.path_params["player"])
    if not found:
        raise HTTPException(404, "this link was made before the page was opened; make it anew to see it")
    return JSONResponse({"link": found}, headers={"cache-control": "no-store"})


def _link(request: Request, player: str) -> str:
    """A player's link by the address that phones can reach; "" when its token is not known here."""
    house, token = house_of(request), rehearsal_of(request).tokens.get(player)
    host = next((one for one in share.addresses() if one in house.hosts), next(iter(sorted(house.hosts)), "127.0.0.1"))
    return share.link(host, house.port, token) if token is not None else ""
