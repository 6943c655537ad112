"""The page on which marks are set on a survey picture: shown, saved as a trace, made into a piano."""

from __future__ import annotations

from collections.abc import Mapping

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response

from rimside.files import tracing
from rimside.files.project import SURVEY
from rimside.web import trace
from rimside.web.bodies import Body, clock, sent
from rimside.web.desk import Desk
from rimside.web.house import house_of
from rimside.web.pages import page

Plain = float | int | bool | str | list[float]


class Marks(Body):
    """All marks of a picture, and what else the page writes into the trace; `sha` is of the file that was shown."""

    picture: str
    sha: str | None
    mark: list[dict[str, Plain]]
    damper: list[dict[str, Plain]]
    strike: list[dict[str, Plain]]
    strut: list[dict[str, Plain]]
    spot: list[dict[str, Plain]]
    floor: list[dict[str, Plain]]
    outline: list[list[float]]
    facts: dict[str, str | dict[str, int | float | list[int]]]


class Which(Body):
    """A picture by the name of its report."""

    picture: str


def _desk(request: Request) -> Desk:
    return house_of(request).desk(request.query_params.get("variant", ""))


async def show(request: Request) -> Response:
    """The page: a choice of pictures, and one of them to mark."""
    desk = await run_in_threadpool(_desk, request)
    there = await run_in_threadpool(tracing.pictures, desk.folder)
    good = [one.report for one in there if not one.slip]
    wanted = request.query_params.get("picture", good[0] if good else "")
    return page(request, "trace.html", there=there, chosen=wanted if wanted in good else "", name="")


async def image(request: Request) -> Response:
    """The picture itself."""
    desk = await run_in_threadpool(_desk, request)
    path = await run_in_threadpool(tracing.image_file, desk.folder, request.query_params.get("picture", ""))
    return FileResponse(path)


async def marks(request: Request) -> Response:
    """The marks so far."""
    desk = await run_in_threadpool(_desk, request)
    report = request.query_params.get("picture", "")
    return JSONResponse(await run_in_threadpool(_sheet, desk, report))


def _sheet(desk: Desk, report: str) -> Mapping[str, object]:
    return trace.sheet(desk.folder, tracing.picture(desk.folder, report))


async def save(request: Request) -> Response:
    """Write the trace as one step, unless it has changed since it was shown; its first slip is told."""
    desk = await run_in_threadpool(_desk, request)
    wanted = await sent(request, Marks)
    return JSONResponse(await run_in_threadpool(_save, desk, wanted))


def _save(desk: Desk, wanted: Marks) -> Mapping[str, object]:
    found = tracing.picture(desk.folder, wanted.picture)
    lists = {name: getattr(wanted, name) for name in tracing.MARKS}
    name = f"{SURVEY}/{found.trace}"
    before = trace.trace_bytes(desk.folder, found)
    data = tracing.with_marks(before, found.report, lists, wanted.facts, name)
    desk.history().change(f"marks on {found.report}", {name: data}, at=clock(), based_on={name: wanted.sha})
    return {"sha": trace.sha(data), "slip": tracing.slip_of(desk.folder, found.trace, data), "file": name}


async def piano(request: Request) -> Response:
    """Make the piano of the saved trace, write its file, and tell what became of the marks."""
    desk = await run_in_threadpool(_desk, request)
    which = await sent(request, Which)
    return JSONResponse(await run_in_threadpool(_piano, desk, which.picture))


def _piano(desk: Desk, report: str) -> Mapping[str, object]:
    found = tracing.picture(desk.folder, report)
    name, data, done = tracing.make_piano(desk.folder, found.trace)
    tracing.keep_piano(desk.history(), desk.folder, found.trace, name, data, at=clock())
    listed = name in desk.production().facts.pianos
    return {"name": name, "listed": listed, **trace.report(done)}
