"""Files that come from outside: named safely, looked at before they are kept."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import replace
from pathlib import PurePosixPath

from rimside.errors import BadInput
from rimside.files import project
from rimside.files.edits import Edit, checked, edited
from rimside.files.history import History, Step
from rimside.files.project import Production
from rimside.files.schema_production import SCORE_ENDINGS

SCORE_BYTES, PICTURE_BYTES = 20_000_000, 60_000_000
PICTURES = {b"\xff\xd8\xff": ".jpg", b"\x89PNG\r\n\x1a\n": ".png"}
"""First bytes of the pictures that are taken, and the ending that each is given. Source: ISO/IEC 10918-1 (SOI and
marker), ISO/IEC 15948 (PNG signature)."""


def safe_name(name: str, ending: str) -> str:
    """A plain file name from whatever it was called elsewhere: letters, digits, - and _, with the right ending."""
    stem = unicodedata.normalize("NFKD", PurePosixPath(name.replace("\\", "/")).stem)
    plain = re.sub(r"[^A-Za-z0-9]+", "-", stem.encode("ascii", "ignore").decode()).strip("-")[:60]
    return f"{plain or 'file'}{ending}"


def keep_score(production: Production, history: History, name: str, data: bytes, *, at: str = "") -> Step:
    """Take a score in: it is read first; production.toml names it then, in the same step.

    Raises
    ------
    BadInput : too large, of no kind that is read, or a slip in it.
    """
    ending = PurePosixPath(name).suffix.lower()
    if ending not in SCORE_ENDINGS:
        raise BadInput("not a kind of score", where=name, allowed=", ".join(SCORE_ENDINGS))
    _small_enough(data, SCORE_BYTES, name)
    kept = safe_name(name, ending)
    text = edited(
        production.inputs[project.PRODUCTION], [Edit(do="set", way=("score",), value=kept)], project.PRODUCTION
    )
    after = replace(
        production,
        inputs={**production.inputs, kept: data, project.PRODUCTION: text},
        facts=replace(production.facts, score=kept),
    )
    checked(after, kept, data)
    files = {kept: data} if production.facts.score == kept else {kept: data, project.PRODUCTION: text}
    based_on = {project.PRODUCTION: production.hashes[project.PRODUCTION]}
    return history.change(f"score {kept}", files, at=at, based_on=based_on)


def keep_picture(history: History, name: str, data: bytes, *, at: str = "") -> Step:
    """Take a survey picture in, under survey/; what it is its first bytes say, not its name.

    Raises
    ------
    BadInput : too large, or no JPEG or PNG.
    """
    _small_enough(data, PICTURE_BYTES, name)
    ending = next((ending for start, ending in PICTURES.items() if data.startswith(start)), None)
    if ending is None:
        raise BadInput("not a picture that is taken", where=name, allowed="JPEG, PNG")
    kept = f"{project.SURVEY}/{safe_name(name, ending)}"
    return history.change(f"survey picture {kept}", {kept: data}, at=at)


def _small_enough(data: bytes, most: int, name: str) -> None:
    if len(data) > most:
        raise BadInput("the file is too large", where=name, value=len(data), allowed=f"up to {most} bytes")
