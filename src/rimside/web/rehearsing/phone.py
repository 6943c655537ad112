"""A player's phone: one page, and the line that brings it the clock."""

from __future__ import annotations

import json

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.websockets import WebSocket, WebSocketDisconnect

from rimside.errors import BadInput
from rimside.web.pages import environment
from rimside.web.rehearsing.messages import Flagged, Hello, Ping, from_phone
from rimside.web.rehearsing.rehearsal import CLOSED, MOST_FLAGS, Line, Rehearsal, rehearsal_of, server_ms

SLIPS = 20
"""Messages that make no sense before a line is closed. Our own choice."""


async def show(request: Request) -> Response:
    """The page of the player whose link this is; a plain one for any other link."""
    player = await rehearsal_of(request).player_of(request.path_params["token"])
    template = "follow.html" if player is not None else "follow_closed.html"
    text = environment().get_template(template).render()
    return HTMLResponse(text, 200 if player is not None else 404, headers={"cache-control": "no-store"})


async def line(socket: WebSocket) -> None:
    """The line of a phone, until it hangs up or its link is revoked."""
    rehearsal = rehearsal_of(socket)
    await socket.accept()
    player = await rehearsal.player_of(socket.path_params["token"])
    if player is None:
        await socket.close(CLOSED)
        return
    opened = Line(socket=socket, player=player)
    try:
        await _listen(rehearsal, opened)
    except (WebSocketDisconnect, RuntimeError):
        await opened.close(1001)
    finally:
        await rehearsal.leave(opened)


async def _listen(rehearsal: Rehearsal, opened: Line) -> None:
    slips = 0
    while slips < SLIPS:
        text = await opened.socket.receive_text()
        arrived_ms = server_ms()
        try:
            said = from_phone(text)
        except BadInput as slip:
            slips += 1
            await opened.say(_refused(_id_of(text), str(slip)))
            continue
        try:
            await _answer(rehearsal, opened, said, arrived_ms)
        except BadInput as slip:
            await opened.say(json.dumps({"kind": "slip", "what": str(slip)}))
    await opened.close(1008)


async def _answer(rehearsal: Rehearsal, opened: Line, said: Hello | Ping | Flagged, arrived_ms: float) -> None:
    if isinstance(said, Ping):
        times = {"sent_ms": said.sent_ms, "arrived_ms": arrived_ms, "answered_ms": server_ms()}
        await opened.say(json.dumps({"kind": "pong", **times}))
        rehearsal.heard(opened, said.offset_ms, said.round_trip_ms)
    elif isinstance(said, Hello):
        opened.mark = said.part
        await rehearsal.enter(opened)
        if await rehearsal.player_of(opened.socket.path_params["token"]) != opened.player:
            await opened.close(CLOSED)
    elif opened not in rehearsal.lines:
        raise BadInput("a phone says hello first")
    elif await rehearsal.flag(opened.player, said):
        await opened.say(json.dumps({"kind": "kept", "id": said.id}))
    else:
        await opened.say(_refused(said.id, f"That is more than is kept for one player: {MOST_FLAGS} flags."))


def _refused(flag: str, why: str) -> str:
    """A flag that would not be kept if it came again either; after any other trouble the phone sends it again."""
    return json.dumps({"kind": "refused", "id": flag, "why": why})


def _id_of(text: str) -> str:
    """The id of a flag that makes no sense; "" when there is none."""
    try:
        found = json.loads(text)
    except (ValueError, RecursionError):
        return ""
    return str(found.get("id", "")) if isinstance(found, dict) else ""
