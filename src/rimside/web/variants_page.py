"""Variants side by side: make one, open it, take it over, put it aside."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from rimside.casting.result import bare_level
from rimside.files import project, variants
from rimside.files.variants import Variant
from rimside.web import levels
from rimside.web.bodies import Body, clock, sent
from rimside.web.house import House, house_of
from rimside.web.pages import page


class Named(Body):
    """A variant by its name, and the one that it is made from."""

    name: str
    source: str = ""


async def show(request: Request) -> Response:
    """The page."""
    house, casting = house_of(request), request.query_params.get("casting")
    rows = await run_in_threadpool(variants.compared, house.root, casting)
    title = (await run_in_threadpool(project.load, house.root)).facts.title
    return page(
        request, "variants.html", title=title, rows=rows, levels=_levels(rows), name=casting or "",
        values={row.name: dict(_values(row)) for row in rows},
    )  # fmt: skip


def _levels(rows: tuple[Variant, ...]) -> list[tuple[str, str]]:
    """The levels that any of them has: bare name and words, the weightiest first."""
    found = {bare_level(level) for row in rows for level, _, _ in row.levels}
    return [(level, words) for level, words in levels.WORDS.items() if level in found]


def _values(row: Variant) -> Iterator[tuple[str, str]]:
    for level, value, bound in row.levels:
        shown = levels.shown(level, value)
        yield bare_level(level), f"{shown}, proved best" if value == bound else shown


async def make(request: Request) -> Response:
    """Make one from the production or another variant."""
    return await _done(request, lambda house, body: variants.make(house.root, body.name, body.source))


async def remove(request: Request) -> Response:
    """Put one aside."""

    def put_aside(house: House, body: Named) -> object:
        house.forget(body.name)
        return variants.remove(house.root, body.name)

    return await _done(request, put_aside)


async def take_over(request: Request) -> Response:
    """Make one the main plan, as one step."""

    def taken(house: House, body: Named) -> object:
        return variants.take_over(house.root, body.name, house.desk().history(), at=clock())

    return await _done(request, taken)


async def _done(request: Request, work: Callable[[House, Named], object]) -> Response:
    body = await sent(request, Named)
    await run_in_threadpool(work, house_of(request), body)
    return JSONResponse({"name": body.name})
