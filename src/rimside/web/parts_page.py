"""The pages of parts: everybody's side by side, and one player's whole part."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from rimside.paper.material import BookInput
from rimside.web import parts
from rimside.web.house import Asked, asked_of
from rimside.web.pages import page


async def _material(asked: Asked) -> BookInput:
    return await run_in_threadpool(asked.desk.material, asked.production, asked.name)


async def everybody(request: Request) -> Response:
    """Everybody's part side by side."""
    asked = await asked_of(request)
    book = await _material(asked)
    loads = await run_in_threadpool(asked.desk.once, "loads", asked.production, asked.name, parts.loads)
    return page(request, "parts.html", title=book.title, name=asked.name, variant=asked.variant, loads=loads)


async def part(request: Request) -> Response:
    """One player's whole part."""
    asked = await asked_of(request)
    book = await _material(asked)
    player = request.path_params["player"]

    def found() -> parts.Strip:
        return asked.desk.once(("strip", player), asked.production, asked.name, lambda book: parts.strip(book, player))

    strip = await run_in_threadpool(found)
    heads = parts.heads(book)
    return page(
        request, "part.html", title=book.title, name=asked.name, variant=asked.variant, strip=strip, heads=heads,
        piano=book.piano.title,
    )  # fmt: skip
