"""Named variants of a production: whole folders under variants/, so that every command works on them too."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from rimside.casting.result import Casting
from rimside.errors import BadInput
from rimside.files import project
from rimside.files.atomic import flush_folder, reason, write_file
from rimside.files.history import History, Step, found_in
from rimside.files.project import Production

FOLDER, REMOVED = "variants", ".removed"
NAME = re.compile(r"[A-Za-z0-9_]+(-[A-Za-z0-9_]+)*")
LONGEST = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """What a person compares of a variant ("" is the production itself).

    `levels` are name, value and bound of the casting; `differs` the figures that another casting has otherwise; `slip`
    says why the variant has no casting to compare.
    """

    name: str
    figures: int = 0
    cast: int = 0
    levels: tuple[tuple[str, int, int], ...] = ()
    pins: int = 0
    differs: tuple[str, ...] = ()
    files: tuple[str, ...] = ()
    slip: str = ""


def folder_of(root: Path, name: str) -> Path:
    """The folder of a variant, the production's own for "".

    Raises
    ------
    BadInput : not a name, or no such variant.
    """
    if not name:
        return root
    path = root / FOLDER / check_name(name)
    if not path.is_dir():
        allowed = ", ".join(names(root)) or "none yet"
        raise BadInput("there is no such variant", value=name, allowed=allowed)
    return path


def check_name(name: str) -> str:
    """The name itself when it can be one of a variant; BadInput otherwise."""
    if not NAME.fullmatch(name) or len(name) > LONGEST:
        allowed = f"letters, digits, _ and single -, up to {LONGEST}"
        raise BadInput("not a name for a variant", value=name, allowed=allowed)
    return name


def names(root: Path) -> tuple[str, ...]:
    """The variants of a production, in alphabetical order."""
    found = (root / FOLDER).glob("*")
    return tuple(sorted(path.name for path in found if path.is_dir() and NAME.fullmatch(path.name)))


def make(root: Path, name: str, source: str = "") -> Path:
    """Make a variant from the files of another ("": the production itself); all of it or nothing.

    Raises
    ------
    BadInput : not a name, one that is taken, or the disc refused.
    """
    goal, files = root / FOLDER / check_name(name), _files(folder_of(root, source))
    if goal.exists():
        raise BadInput("there is a variant of this name already", value=name, hint="take another name")
    try:
        goal.parent.mkdir(exist_ok=True)
        staged = Path(tempfile.mkdtemp(prefix=".", suffix=".new", dir=goal.parent))
        try:
            for inner, data in files.items():
                (staged / inner).parent.mkdir(exist_ok=True)
                write_file(staged / inner, data, inner)
            os.replace(staged, goal)  # noqa: PTH105
            flush_folder(goal.parent, FOLDER)
        finally:
            shutil.rmtree(staged, ignore_errors=True)
    except OSError as slip:
        raise BadInput(f"cannot be made ({reason(slip)})", where=f"{FOLDER}/{name}") from slip
    return goal


def remove(root: Path, name: str) -> Path:
    """Put a variant aside, into variants/.removed; nothing of it is lost.

    Raises
    ------
    BadInput : no such variant, or the disc refused.
    """
    path = folder_of(root, check_name(name))
    aside = path.parent / REMOVED
    aside.mkdir(exist_ok=True)
    taken = {one.name for one in aside.iterdir()}
    goal = next(aside / one for one in _numbered(name) if one not in taken)
    try:
        os.replace(path, goal)  # noqa: PTH105
        flush_folder(path.parent, FOLDER)
    except OSError as slip:
        raise BadInput(f"cannot be put aside ({reason(slip)})", where=f"{FOLDER}/{name}") from slip
    return goal


def _numbered(name: str) -> Iterator[str]:
    yield name
    number = 2
    while True:
        yield f"{name}_{number}"
        number += 1


def take_over(root: Path, name: str, history: History, *, at: str = "") -> Step:
    """Make a variant the production's main plan, as one step that can be taken back; the survey's pictures stay.

    Raises
    ------
    BadInput : no such variant, or the disc refused.
    Conflict : the main plan was changed while the variant was being read.
    """
    theirs, mine = _files(folder_of(root, check_name(name))), history.files(at)
    gone = {file: None for file in mine if file not in theirs and not file.startswith(f"{project.SURVEY}/")}
    changed = {file: data for file, data in theirs.items() if mine.get(file) != data}
    based_on = {file: hashlib.sha256(mine[file]).hexdigest() if file in mine else None for file in (*gone, *changed)}
    return history.change(f"variant {name} taken over", {**gone, **changed}, at=at, based_on=based_on)


def _files(folder: Path) -> dict[str, bytes]:
    """The files of a folder as they are between two steps, whoever is at work on it."""
    with closing(History(folder)) as history:
        return history.files()


def compared(root: Path, casting: str | None = None) -> tuple[Variant, ...]:
    """The production itself and every variant, side by side, by one casting (its main piano's when None)."""
    main = _looked_at(root, "", casting, None)
    plan = _plan(project.load(root), casting) if not main.slip else None
    return (main, *(_looked_at(root, name, casting, plan) for name in names(root)))


def _looked_at(root: Path, name: str, casting: str | None, main: Casting | None) -> Variant:
    folder = folder_of(root, name)
    try:
        production = project.load(folder)
        plan = _plan(production, casting)
        pins = len(plan.pins)
    except BadInput as slip:
        return Variant(name=name, slip=str(slip))
    theirs, mine = found_in(folder), found_in(root)
    return Variant(
        name=name,
        figures=len(plan.figures),
        cast=len(plan.figures) - len(plan.uncast),
        levels=tuple((proof.level, proof.value, proof.bound) for proof in plan.proof),
        pins=pins,
        differs=() if main is None else _differs(main, plan),
        files=tuple(sorted(file for file in {*theirs, *mine} if theirs.get(file) != mine.get(file))),
    )


def _plan(production: Production, casting: str | None) -> Casting:
    return project.read_casting(production, casting or production.facts.piano)


def _differs(main: Casting, other: Casting) -> tuple[str, ...]:
    mine = {row.figure: row for row in main.cast}
    theirs = {row.figure: row for row in other.cast}
    return tuple(sorted(figure for figure in mine.keys() | theirs.keys() if mine.get(figure) != theirs.get(figure)))
