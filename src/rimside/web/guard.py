"""Who may ask for what: checked before any page sees a request."""

from __future__ import annotations

from collections.abc import Mapping

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from rimside.web.house import House

LOCAL = ("127.0.0.1", "localhost", "[::1]")
LOOPBACK = ("127.0.0.1", "::1")
OPEN_TO_ALL = ("/follow/", "/static/", "/type/")
"""What the local network may see when the page is shared; everything else is for this machine alone."""
BODY_BYTES, UPLOAD_BYTES = 2_000_000, 80_000_000
UPLOADS = ("/files/upload",)

POLICY = "; ".join(
    (
        "default-src 'self'",
        "img-src 'self' data: blob:",
        "object-src 'none'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    )
)
HEADERS: Mapping[str, str] = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}
SAFE = ("GET", "HEAD")


class Guard:
    """Refuses a wrong Host (a page elsewhere whose name leads here), a wrong Origin, strangers and bodies too large."""

    def __init__(self, app: ASGIApp, house: House) -> None:
        self.app, self.house = app, house

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or say why not."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        refusal = refused(scope, self.house)
        if refusal is None:
            most = UPLOAD_BYTES if scope["path"] in UPLOADS else BODY_BYTES
            await self.app(scope, _counted(receive, most), _dressed(send))
        elif scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 4403, "reason": refusal[1]})
        else:
            await PlainTextResponse(refusal[1], refusal[0], HEADERS)(scope, receive, send)


def refused(scope: Scope, house: House) -> tuple[int, str] | None:
    """Status and words for a request that is refused, None for one that is welcome."""
    headers = Headers(scope=scope)
    names = {f"{name}:{house.port}" for name in (*LOCAL, *house.hosts)}
    host, origin = headers.get("host", ""), headers.get("origin")
    if host not in names:
        return 421, "this is not the address of the page"
    if _changes(scope) and (origin is None or origin.partition("//")[2] != host):
        return 403, "a change is accepted from the page itself only"
    if not _open(scope["path"]) and not (_from_here(scope) and host in {f"{name}:{house.port}" for name in LOCAL}):
        return 403, "this page is for the director's machine only; ask for your own link"
    most = UPLOAD_BYTES if scope["path"] in UPLOADS else BODY_BYTES
    if (length := headers.get("content-length", "0")).isdecimal() and int(length) > most:
        return 413, f"too large: at most {most // 1_000_000} MB"
    return None


def _changes(scope: Scope) -> bool:
    return scope["type"] == "websocket" or scope["method"] not in SAFE


def _open(path: str) -> bool:
    return path.startswith(OPEN_TO_ALL)


def _from_here(scope: Scope) -> bool:
    client = scope.get("client")
    return client is not None and client[0] in LOOPBACK


def _counted(receive: Receive, most: int) -> Receive:
    """What comes in, cut off when it is more than was told."""
    seen = 0

    async def counted() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body") or b"")
        return message if seen <= most else {"type": "http.disconnect"}

    return counted


def _dressed(send: Send) -> Send:
    """Answers with the headers that every page has."""

    async def dressed(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            headers.setdefault("cache-control", "no-cache")
        await send(message)

    return dressed
