"""Marks set on a rectified picture: which pictures there are, the trace file written and read, and the piano of it."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rimside.errors import BadInput
from rimside.files import project
from rimside.files.atomic import read_file
from rimside.files.edits import Edit, edited
from rimside.files.history import History, Step
from rimside.files.measure_tape import survey_bytes, traced
from rimside.files.schema_trace import FORMAT, picture_from_file, trace_from_toml
from rimside.files.toml import read_toml
from rimside.piano.tape import Surveyed
from rimside.piano.trace import PlanPicture, known_of

PICTURE_FORMAT = "rimside-picture/1"
MARKS = ("mark", "damper", "strike", "strut", "spot", "floor", "outline")
"""The lists of a trace that are marked on the picture."""
FACTS = ("name", "title", "like", "counted", "readings")
"""What else the page writes; all other things of a file stay as they are."""
Rows = Mapping[str, Sequence[Any]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A picture's report in the survey folder, its trace file (there or not yet), or the slip in the report."""

    report: str
    trace: str
    picture: PlanPicture | None = None
    slip: str = ""


def pictures(folder: Path) -> tuple[Found, ...]:
    """Every rectified picture of a production, by the name of its report in the folder survey."""
    tables = {path: _table(path) for path in sorted((folder / project.SURVEY).glob("*.toml"))}
    reports = [path for path, table in tables.items() if table.get("format") == PICTURE_FORMAT]
    marked = {table.get("picture"): path.name for path, table in tables.items() if table.get("format") == FORMAT}
    return tuple(_found(path, marked.get(path.name)) for path in reports)


def _table(path: Path) -> dict[str, Any]:
    """What a TOML file holds; nothing when it cannot be read, because it is then no report."""
    try:
        return read_toml(read_file(path, path.name), path.name)
    except BadInput:
        return {}


def _found(path: Path, trace: str | None) -> Found:
    usual = f"{path.stem.removesuffix('-plan')}-marks.toml"
    try:
        return Found(report=path.name, trace=trace or usual, picture=picture_from_file(path))
    except BadInput as slip:
        return Found(report=path.name, trace=trace or usual, slip=str(slip))


def picture(folder: Path, report: str) -> Found:
    """One of them by name.

    Raises
    ------
    BadInput : no such picture, or a slip in its report.
    """
    there = pictures(folder)
    found = next((one for one in there if one.report == report), None)
    if found is None:
        allowed = ", ".join(one.report for one in there) or "none yet"
        raise BadInput("there is no such picture", where=project.SURVEY, value=report, allowed=allowed)
    if found.slip:
        raise BadInput(found.slip)
    return found


def image_file(folder: Path, report: str) -> Path:
    """The image of a picture; it must lie beside its report.

    Raises
    ------
    BadInput : no such picture, or an image elsewhere.
    """
    found = picture(folder, report)
    assert found.picture is not None
    path = folder / project.SURVEY / found.picture.image
    if Path(found.picture.image).name != found.picture.image or path.is_symlink() or not path.is_file():
        raise BadInput("the picture is not beside its report", where=report, value=found.picture.image)
    return path


def told(data: bytes) -> dict[str, Any]:
    """The marks and facts of a trace file, as its tables; empty for a file that is not there yet."""
    plain = tomllib.loads(data.decode("utf-8-sig"))
    return {name: plain[name] for name in (*MARKS, *FACTS) if name in plain}


def with_marks(data: bytes, report: str, marks: Rows, facts: Mapping[str, Any], where: str) -> bytes:
    """A trace file with these marks and facts in place of those that it had; comments and all else stay.

    Parameters
    ----------
    data : the file as it is, empty for a new one.
    marks : rows of the lists in `MARKS`; a list that is not named stays.
    facts : values of `FACTS`.

    Raises
    ------
    BadInput : the file is not TOML.
    """
    before = tomllib.loads(data.decode("utf-8-sig")) if data.strip() else {}
    edits = [Edit(do="set", way=(name,), value=value) for name, value in (("format", FORMAT), ("picture", report))]
    edits = [edit for edit in edits if before.get(str(edit.way[0])) != edit.value]
    for name, value in facts.items():
        if isinstance(value, Mapping):
            edits += [Edit(do="set", way=(name, key), value=inner) for key, inner in value.items()]
        elif value != before.get(name):
            edits.append(Edit(do="set", way=(name,), value=value))
    for name, rows in marks.items():
        if list(rows) != before.get(name, []):
            edits += _relisted(name, list(rows), there=name in before)
    return edited(data, edits, where)


def _relisted(name: str, rows: list[Any], *, there: bool) -> list[Edit]:
    """A list of a trace written anew; the outline is a plain list of points, all others are tables."""
    if name == "outline" and rows:
        return [Edit(do="set", way=(name,), value=rows)]
    gone = [Edit(do="remove", way=(name,))] if there else []
    return [*gone, *(Edit(do="add", way=(name,), value=dict(row)) for row in rows)]


def slip_of(folder: Path, trace: str, data: bytes) -> str:
    """The first slip in a trace, naming the mark, or nothing."""
    try:
        known_of(trace_from_toml(data, trace, folder / project.SURVEY))
    except BadInput as slip:
        return str(slip)
    return ""


def make_piano(folder: Path, trace: str) -> tuple[str, bytes, Surveyed]:
    """The name, file and report of the piano that a trace makes; the same as `rimside measure trace`.

    Raises
    ------
    BadInput : a slip in the trace, or marks that cannot be a piano.
    """
    path = str(folder / project.SURVEY / trace)
    done = traced(path)
    return done.survey.name, survey_bytes(done, path), done


def keep_piano(history: History, folder: Path, trace: str, name: str, data: bytes, *, at: str = "") -> Step:
    """Write a piano's file as one step.

    Raises
    ------
    BadInput : a piano of that name is there which was not made from this trace.
    """
    file = f"{project.PIANOS}/{name}.toml"
    path = folder / file
    before = path.read_bytes() if path.is_file() else b""
    if before and f"Made from {trace}.".encode() not in before:
        raise BadInput(
            "there is another piano of this name", where=file, value=name, hint="give the marked one another name"
        )
    return history.change(f"the piano {name}, made from its marks", {file: data}, at=at)
