"""A new production to fill in: commented files that can be cast as they stand."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

from rimside.errors import BadInput
from rimside.files.atomic import reason, write_file
from rimside.files.project import ENSEMBLE, KIT, PIANOS, PINS, PRODUCTION, TECHNIQUES
from rimside.piano.shipped import shipped_survey
from rimside.score import words

SCORE = "score.csv"
PIANO = "grand_275"
"""The shipped piano that a new production starts with."""


def new(folder: str) -> tuple[str, ...]:
    """Make a production folder.

    Returns the names of the files made, in the order in which to fill them in.

    Raises
    ------
    BadInput : the folder holds something already, or the disc refuses.
    """
    root = Path(folder)
    _must_be_empty(root)
    files = {
        PRODUCTION: _template(PRODUCTION).replace("@PIANO@", PIANO),
        SCORE: _template(SCORE),
        TECHNIQUES: words.template_toml(),
        ENSEMBLE: _template(ENSEMBLE),
        KIT: _template(KIT),
        PINS: _template(PINS),
        f"{PIANOS}/{PIANO}.toml": shipped_survey(PIANO).decode("utf-8"),
    }
    for name, text in reversed(files.items()):
        write_file(root / name, text.encode("utf-8"), f"{folder}/{name}")
    return tuple(files)


def _must_be_empty(root: Path) -> None:
    try:
        if root.exists() and any(root.iterdir()):
            raise BadInput("holds something already", where=str(root), hint="name a folder that is not there yet")
    except OSError as slip:
        raise BadInput(f"cannot be used ({reason(slip)})", where=str(root)) from slip


def _template(name: str) -> str:
    return resources.files("rimside.files").joinpath("template", name).read_text("utf-8")
