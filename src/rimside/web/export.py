"""The piano view as one file that plays from disc: drawing, casting, type and sound inside it."""

from __future__ import annotations

import base64
import json
import mimetypes
from pathlib import Path

from rimside.files import project
from rimside.files.atomic import write_file
from rimside.paper.lettering import face_file, sign_file
from rimside.paper.material import BookInput
from rimside.web import inside_page, scene
from rimside.web.bundle import bundled
from rimside.web.desk import Desk
from rimside.web.house import Asked
from rimside.web.pages import environment

STATIC = Path(__file__).parent / "static"


def write(folder: str, casting: str | None, file: str) -> Path:
    """Write the piano view of a casting (the main one when None) as one HTML file.

    Raises
    ------
    BadInput : no production, no such casting, or the disc refused.
    """
    path = Path(file)
    write_file(path, page(Path(folder), casting).encode("utf-8"), file)
    return path


def page(folder: Path, casting: str | None) -> str:
    """The file's text for a production folder."""
    production, desk = project.load(folder), Desk(folder)
    asked = Asked(desk, "", production, desk.name(production, casting))
    sound = inside_page.sound_file(asked)
    book = desk.material(production, asked.name)
    return document(book, asked.name, "" if sound is None else _data(sound.read_bytes(), _kind(sound)))


def document(book: BookInput, name: str, sound: str = "") -> str:
    """The file's text for what a casting shows; `sound` is a data address, or nothing."""
    return (
        environment()
        .get_template("export.html")
        .render(
            title=book.title,
            piano=book.piano.title,
            name=name,
            players=[(player.id, player.name) for player in book.players],
            left_out=len(book.casting.uncast),
            alone=True,
            stale=[],
            style=_style(),
            dress=(STATIC / "dress.js").read_text("utf-8"),
            script=bundled(STATIC / "inside" / "main.js"),
            scene=_json({**inside_page.made(book, name), "sound": bool(sound)}),
            drawing=_json(scene.still(book.piano)),
            sound=_json(sound) if sound else "",
        )
    )


def _kind(sound: Path) -> str:
    return mimetypes.guess_type(sound)[0] or "audio/ogg"


def _style() -> str:
    look = (STATIC / "look.css").read_text("utf-8")
    for face, data in (("Regular", face_file("Regular")), ("Bold", face_file("Bold")), ("Signs", sign_file())):
        look = look.replace(f"url(/type/{face}.ttf)", f"url({_data(data, 'font/ttf')})")
    return look + (STATIC / "inside" / "inside.css").read_text("utf-8")


def _data(data: bytes, kind: str) -> str:
    return f"data:{kind};base64,{base64.b64encode(data).decode('ascii')}"


def _json(value: object) -> str:
    """JSON that can stand inside a script element: nothing in it can end that."""
    return json.dumps(value, ensure_ascii=False).replace("<", "\\u003c")
