"""The page of what stands in the way, and what is done from it: a mend tried and kept, a caution read."""

from __future__ import annotations

from collections.abc import Mapping

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from rimside.cautions import CAUTIONS
from rimside.errors import BadInput
from rimside.files import mending, project
from rimside.files.checkup import Checkup
from rimside.files.edits import Edit, checked, edited
from rimside.files.mending import Tried
from rimside.web import why as whys
from rimside.web.bodies import Body, clock, sent
from rimside.web.house import Asked, asked_of, house_of
from rimside.web.pages import page
from rimside.web.why import Why


class Wish(Body):
    """One mend of an uncast figure, by its number in the casting, and the casting that the person looked at."""

    figure: str
    number: int
    text: str


class Read(Body):
    """A caution that was read with everybody."""

    caution: str


async def show(request: Request) -> Response:
    """The page of reasons; when a file has a slip, that alone."""
    house = house_of(request)
    desk = house.desk(request.query_params.get("variant", ""))
    found = await run_in_threadpool(lambda: desk.checkup(desk.production()))
    if any(row.slip for row in found.inputs) or not found.castings:
        return page(request, "why.html", slips=whys.slips(found), why=None, title="", name="")
    asked = await asked_of(request)
    told = await run_in_threadpool(_why, asked, found)
    return page(
        request, "why.html", title=asked.production.facts.title, name=asked.name, why=told, slips=told.slips,
        variant=asked.variant,
    )  # fmt: skip


def _why(asked: Asked, found: Checkup) -> Why:
    return asked.desk.once(
        ("why", hash(found)), asked.production, asked.name,
        lambda book: whys.why(book, asked.production, asked.name, found),
    )  # fmt: skip


async def try_out(request: Request) -> Response:
    """What a mend brings; nothing is written."""
    asked = await asked_of(request)
    wish = await sent(request, Wish)
    return JSONResponse(await run_in_threadpool(_tell, asked, wish))


async def keep(request: Request) -> Response:
    """Try a mend again, and write the file that holds it with the casting."""
    asked = await asked_of(request)
    wish = await sent(request, Wish)
    return JSONResponse(await run_in_threadpool(_keep, asked, wish))


def _try(asked: Asked, wish: Wish) -> Tried:
    reading = asked.desk.reading(asked.production)
    tried = mending.try_mend(asked.production, asked.name, wish.figure, wish.number, reading)
    if tried.mend.text != wish.text:
        raise BadInput("the casting has changed meanwhile", where="mend", value=wish.text, hint="load the page again")
    return tried


def _tell(asked: Asked, wish: Wish) -> Mapping[str, object]:
    tried = _try(asked, wish)
    book = asked.desk.material(asked.production, asked.name)
    return {
        "gained": whys.called(book, tried.gained), "moved": whys.moved_words(book, tried.moved),
        "levels": whys.levels(tried.levels), "breaches": [breach.message for breach in tried.breaches],
        "file": tried.file, "afterwards": list(whys.afterwards(asked.production, tried.mend.kind)),
    }  # fmt: skip


def _keep(asked: Asked, wish: Wish) -> Mapping[str, object]:
    step = mending.keep(asked.desk.history(), asked.production, _try(asked, wish), at=clock())
    return {"step": step.words, "files": sorted(step.files)}


async def read_caution(request: Request) -> Response:
    """Note in production.toml that a caution was read."""
    asked = await run_in_threadpool(house_of(request).desk, request.query_params.get("variant", ""))
    read = await sent(request, Read)
    if read.caution not in CAUTIONS:
        raise BadInput("there is no such caution", value=read.caution, allowed=", ".join(CAUTIONS))

    def note() -> str:
        production = asked.production()
        edits = [Edit(do="add", way=("cautions_read",), value=read.caution)]
        data = edited(production.inputs[project.PRODUCTION], edits, project.PRODUCTION)
        checked(production, project.PRODUCTION, data)
        words = f"read: {CAUTIONS[read.caution].about}"
        based_on = {project.PRODUCTION: production.hashes[project.PRODUCTION]}
        return asked.history().change(words, {project.PRODUCTION: data}, at=clock(), based_on=based_on).words

    return JSONResponse({"step": await run_in_threadpool(note)})
