"""The page of papers: every sheet as it will be printed, downloads, and the book written to the disc."""

from __future__ import annotations

import re

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from rimside.files import building, job, measure_tape, project
from rimside.paper.marker_sheet import marker_sheet
from rimside.paper.plan import make_plan_svg
from rimside.web import papers
from rimside.web.house import Asked, asked_of
from rimside.web.pages import page
from rimside.web.papers import Choice, Contents, Page


def _contents(asked: Asked) -> Contents:
    return asked.desk.once("contents", asked.production, asked.name, papers.contents)


def _choice(asked: Asked, request: Request) -> Choice:
    there = _contents(asked)
    return papers.choice(
        there, request.query_params.get("sheet", there.sheets[0]), request.query_params.get("player", "")
    )


def _pictures(asked: Asked, chosen: Choice) -> tuple[bytes, ...]:
    player = chosen.player.id if chosen.player else None
    key = ("pictures", chosen.sheet, player)
    return asked.desk.once(key, asked.production, asked.name, lambda book: papers.pictures(book, chosen.sheet, player))


def _pages(asked: Asked, chosen: Choice) -> tuple[Page, ...]:
    drawn = _pictures(asked, chosen)
    return asked.desk.once(
        ("pages", chosen), asked.production, asked.name, lambda book: papers.pages(book, chosen, drawn)
    )


async def show(request: Request) -> Response:
    """The page of papers with one sheet on it."""
    asked = await asked_of(request)
    return await run_in_threadpool(_show, request, asked)


def _show(request: Request, asked: Asked) -> Response:
    there, chosen = _contents(asked), _choice(asked, request)
    heads = there.with_cards if chosen.sheet == "cards" else there.everybody
    casting = asked.desk.casting(asked.production, asked.name)
    return page(
        request, "papers.html", title=asked.production.facts.title, name=asked.name, variant=asked.variant,
        chosen=chosen, sheets=[(sheet, papers.WORDS[sheet]) for sheet in there.sheets], heads=heads,
        sheaf=_pages(asked, chosen), disc=papers.on_disc(asked.production, asked.name),
        out_of_date=project.out_of_date(asked.production, casting, asked.name),
    )  # fmt: skip


async def picture(request: Request) -> Response:
    """One page as it will be printed."""
    asked = await asked_of(request)
    chosen = await run_in_threadpool(_choice, asked, request)
    drawn = await run_in_threadpool(_pictures, asked, chosen)
    number = request.path_params["number"]
    if not 1 <= number <= len(drawn):
        raise HTTPException(404)
    return Response(drawn[number - 1], media_type="image/png")


async def sheet(request: Request) -> Response:
    """One sheet as PDF."""
    asked = await asked_of(request)
    chosen = await run_in_threadpool(_choice, asked, request)
    book = await run_in_threadpool(asked.desk.material, asked.production, asked.name)
    return _file(await run_in_threadpool(papers.pdf, book, chosen), f"{chosen.words} {asked.name}.pdf")


async def whole(request: Request) -> Response:
    """The whole book as PDF."""
    asked = await asked_of(request)
    made = await run_in_threadpool(
        asked.desk.once, "book", asked.production, asked.name, lambda book: papers.pdf(book, None)
    )
    return _file(made, f"book {asked.name}.pdf")


async def plan(request: Request) -> Response:
    """The plan alone as SVG."""
    asked = await asked_of(request)
    book = await run_in_threadpool(asked.desk.material, asked.production, asked.name)

    def drawn() -> str:
        return make_plan_svg(
            book.piano, casting=book.casting, players=book.players, scheme=book.scheme,
            pitch_colours=book.pitch_colours,
        )  # fmt: skip

    return _file((await run_in_threadpool(drawn)).encode(), f"plan {asked.name}.svg", "image/svg+xml")


async def build(request: Request) -> Response:
    """What is to be made for this casting, for one show, as PDF."""
    asked = await asked_of(request)
    shop = await run_in_threadpool(building.workshop, [str(asked.desk.folder)], asked.name, 1)
    return _file(await run_in_threadpool(building.sheet, shop), f"build sheet {asked.name}.pdf")


async def markers(request: Request) -> Response:
    """The markers that are laid into a piano before it is photographed, as PDF."""
    return _file(await run_in_threadpool(marker_sheet), "markers.pdf")


async def form(request: Request) -> Response:
    """The form for a survey with a tape, as PDF."""
    return _file(await run_in_threadpool(measure_tape.form), "tape form.pdf")


async def write(request: Request) -> Response:
    """Write the book to the disc, as `rimside book` does."""
    asked = await asked_of(request)
    made = await run_in_threadpool(job.books, str(asked.desk.folder), asked.name, False, lambda stage, share: None)
    return JSONResponse({"written": f"{project.BOOK}/{made[0].path.name}", "warning": made[0].warning})


def _file(data: bytes, name: str, kind: str = "application/pdf") -> Response:
    plain = re.sub(r"[^A-Za-z0-9._-]+", "-", name).strip("-")
    return Response(data, media_type=kind, headers={"content-disposition": f'attachment; filename="{plain}"'})
