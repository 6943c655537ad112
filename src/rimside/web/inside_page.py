"""The piano view: the instrument from above, what moves over it, and the sound."""

from __future__ import annotations

from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response

from rimside.files import project
from rimside.paper.lettering import face_file, sign_file
from rimside.paper.material import BookInput
from rimside.web import scene as scenes
from rimside.web.house import Asked, asked_of
from rimside.web.pages import page

SOUND = "sound"
SOUNDS = (".opus", ".ogg", ".flac", ".mp3", ".wav")
"""Endings of a rendered sound beside a casting's name in the folder sound, the first that is there counts."""


async def show(request: Request) -> Response:
    """The page round the piano view."""
    asked = await asked_of(request)
    if not project.casting_names(asked.desk.folder):
        facts = asked.production.facts
        return page(request, "not_cast.html", title=facts.title, seconds=f"{facts.seconds:g}", variant=asked.variant)
    shown = await run_in_threadpool(asked.desk.material, asked.production, asked.name)
    return page(
        request, "inside.html", title=shown.title, piano=shown.piano.title, name=asked.name, variant=asked.variant,
        players=[(player.id, player.name) for player in shown.players],
        left_out=len(shown.casting.uncast), alone=False,
        stale=[line for line in [project.out_of_date(asked.production, shown.casting, asked.name)] if line],
        search=f"?{request.url.query}" if request.url.query else "",
    )  # fmt: skip


async def plan(request: Request) -> Response:
    """The still drawing of the instrument."""
    asked = await asked_of(request)
    drawn = await run_in_threadpool(
        asked.desk.once, "still", asked.production, asked.name, lambda book: scenes.still(book.piano)
    )
    return Response(drawn, media_type="image/svg+xml")


async def scene(request: Request) -> Response:
    """Everything that moves."""
    asked = await asked_of(request)
    return JSONResponse(await run_in_threadpool(scene_of, asked))


def scene_of(asked: Asked) -> dict[str, object]:
    """The scene of what was asked for, with the address of its sound when there is one."""
    row = asked.desk.once("scene", asked.production, asked.name, lambda book: made(book, asked.name))
    return {**row, "sound": sound_file(asked) is not None}


def made(book: BookInput, name: str) -> dict[str, object]:
    """The scene of a casting with the swelling of its time line."""
    return {**scenes.scene(book, name), "busy": scenes.busy_at(book)}


def sound_file(asked: Asked) -> Path | None:
    """The rendered sound of a casting, None when there is none."""
    folder = asked.desk.folder / SOUND
    return next((path for end in SOUNDS if (path := folder / f"{asked.name}{end}").is_file()), None)


async def sound(request: Request) -> Response:
    """The rendered sound; a part of it when the browser asks for one."""
    asked = await asked_of(request)
    path = sound_file(asked)
    if path is None:
        raise HTTPException(404, "this casting has no sound yet")
    return FileResponse(path)


async def face(request: Request) -> Response:
    """A face of the type, from the installed package; Signs is our own."""
    name = request.path_params["face"]
    if name not in ("Regular", "Bold", "Signs"):
        raise HTTPException(404)
    data = sign_file() if name == "Signs" else face_file(name)
    return Response(data, media_type="font/ttf", headers={"cache-control": "max-age=86400"})
