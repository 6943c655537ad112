"""What the files that people write have in common: a format, and names that must be known."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from typing import TypeVar

from rimside.errors import BadInput
from rimside.files.toml import Table, read_toml, validate
from rimside.pitch import LabelScheme
from rimside.score.model import Technique

Model = TypeVar("Model", bound=Table)


def checked(model: type[Model], data: bytes, where: str, newest_format: str) -> Model:
    """One file as its model.

    Parameters
    ----------
    newest_format : the format that this program writes ("rimside-kit/1"), which the file must name.

    Raises
    ------
    BadInput : the first thing that is wrong, where it stands, what would be right.
    """
    table = read_toml(data, where)
    _check_format(table.get("format"), newest_format, where)
    return validate(model, table, where)


def technique_named(text: str, where: str) -> Technique:
    """The technique of a name; an unknown one is refused with the nearest."""
    try:
        return Technique(text)
    except ValueError as slip:
        raise unknown("technique", text, [row.value for row in Technique], where) from slip


def scheme_named(text: str, where: str) -> LabelScheme:
    """The label scheme of a name; an unknown one is refused with the nearest."""
    try:
        return LabelScheme(text)
    except ValueError as slip:
        raise unknown("label scheme", text, [row.value for row in LabelScheme], where) from slip


def unknown(noun: str, value: str, allowed: Iterable[str], where: str) -> BadInput:
    """The error for a name that is in no list, with the nearest name as the hint."""
    names = list(allowed)
    return BadInput(
        f"unknown {noun}", where=where, value=value, allowed=", ".join(names) or "none yet", hint=nearest(value, names)
    )


def nearest(value: str, names: Sequence[str]) -> str:
    """ "did you mean ...?", or nothing when no name is near."""
    lowered = {name.lower(): name for name in names}
    close = difflib.get_close_matches(value.lower(), lowered, n=1, cutoff=0.5)
    return f"did you mean {lowered[close[0]]!r}?" if close else ""


def _check_format(found: object, newest: str, where: str) -> None:
    if found == newest:
        return
    family, _, number = newest.partition("/")
    known, _, version = str(found).partition("/")
    hint = f'write format = "{newest}" at the top'
    if known == family and version.isdecimal() and int(version) > int(number):
        hint = "it was written by a newer Rimside; install that version to read it"
    raise BadInput("format is not one this version reads", where=where, value=found, allowed=newest, hint=hint)
