"""From the bytes of a TOML file to checked values, with one clear message when a person slipped."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterable, Sequence
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ConfigDict, ValidationError
from pydantic_core import ErrorDetails

from rimside.errors import BadInput
from rimside.pitch import LabelScheme
from rimside.score.model import Technique


class Strict(BaseModel):
    """A table of a file: no unknown keys, no silent change of type, no infinite numbers."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)


Model = TypeVar("Model", bound=Strict)


def toml_table(data: bytes, where: str) -> dict[str, Any]:
    """The table of a TOML file.

    Parameters
    ----------
    data : the file, as read from the disc.
    where : its name, for messages.

    Raises
    ------
    BadInput : not UTF-8, or not TOML; with the line.
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as slip:
        line = data[: slip.start].count(b"\n") + 1
        raise BadInput(
            "is not UTF-8 text", where=f"{where}, line {line}", hint="save it as UTF-8 in your editor"
        ) from slip
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as slip:
        raise BadInput(f"is not TOML ({slip})", where=where, hint="text needs quotes, lists need [ and ]") from slip


def checked(model: type[Model], data: bytes, where: str, newest_format: str) -> Model:
    """One file as its model.

    Parameters
    ----------
    newest_format : the format that this program writes ("rimside-kit/1"), which the file must name.

    Raises
    ------
    BadInput : the first thing that is wrong, where it stands, what would be right.
    """
    table = toml_table(data, where)
    _check_format(table.get("format"), newest_format, where)
    return validated(model, table, where)


def validated(model: type[Model], table: object, where: str) -> Model:
    """A table as its model; BadInput with the first slip when it does not fit."""
    try:
        return model.model_validate(table)
    except ValidationError as slips:
        raise _told(model, slips, table, where) from slips


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


_SLIPS = {
    "missing": "is missing",
    "extra_forbidden": "is not a key of this table",
    "string_type": "must be text in quotes",
    "float_type": "must be a number",
    "int_type": "must be a whole number",
    "int_from_float": "must be a whole number",
    "bool_type": "must be true or false",
    "list_type": "must be a list in [ ]",
    "dict_type": "must be a table",
    "model_type": "must be a table",
    "finite_number": "must be a finite number",
    "greater_than": "is too small",
    "greater_than_equal": "is too small",
    "less_than": "is too large",
    "less_than_equal": "is too large",
    "too_short": "has too few entries",
    "too_long": "has too many entries",
    "string_too_short": "must not be empty",
}
"""What each of the checker's kinds of slip is called here."""

_LIMITS = {"gt": "more than", "ge": "at least", "lt": "less than", "le": "at most"}


def _told(model: type[Strict], slips: ValidationError, table: object, where: str) -> BadInput:
    first = min(slips.errors(include_url=False), key=lambda slip: slip["type"] != "extra_forbidden")
    place, key = _place(first["loc"], table)
    others = slips.error_count() - 1
    hint = _hint(model, first)
    if others:
        hint = f"{hint}; {others} more after this one" if hint else f"{others} more after this one"
    return BadInput(
        f"{key} {_SLIPS.get(first['type'], first['msg'])}" if key else _SLIPS.get(first["type"], first["msg"]),
        where=", ".join([where, *place]),
        value=None if first["type"] in ("missing", "extra_forbidden") else first["input"],
        allowed=_allowed(first),
        hint=hint,
    )


def _place(loc: tuple[int | str, ...], table: object) -> tuple[list[str], str]:
    """The path to a slip in words ("player 2 (Bo)") and the key itself."""
    words: list[str] = []
    for step in loc[:-1]:
        table = _inside(table, step)
        if isinstance(step, int):
            words[-1:] = [f"{words[-1] if words else 'entry'} {step + 1}{_called(table)}"]
        else:
            words.append(str(step))
    last = loc[-1] if loc else ""
    if isinstance(last, int):
        return words[:-1], f"{words[-1] if words else 'entry'} {last + 1}"
    return words, str(last)


def _inside(table: object, step: int | str) -> object:
    if isinstance(table, dict):
        return table.get(step)
    return table[step] if isinstance(table, list) and isinstance(step, int) and step < len(table) else None


def _called(entry: object) -> str:
    label = entry.get("name", entry.get("kind")) if isinstance(entry, dict) else None
    return f" ({label})" if isinstance(label, str) else ""


def _allowed(slip: ErrorDetails) -> str:
    limits = slip.get("ctx", {})
    return " and ".join(f"{words} {limits[sign]}" for sign, words in _LIMITS.items() if sign in limits)


def _hint(model: type[Strict], slip: ErrorDetails) -> str:
    if slip["type"] == "extra_forbidden":
        names = _keys_at(model, slip["loc"][:-1])
        return nearest(str(slip["loc"][-1]), names) or f"its keys are {', '.join(names)}"
    if slip["type"] in ("float_type", "int_type") and isinstance(slip["input"], str):
        return "take the quotes away"
    return ""


def _keys_at(model: type[Strict], path: tuple[int | str, ...]) -> list[str]:
    """The keys that the table at a path may have."""
    current: type[BaseModel] = model
    for step in path:
        field = current.model_fields.get(step) if isinstance(step, str) else None
        if field is not None:
            current = next(iter(_models(field.annotation)), current)
    return list(current.model_fields)


def _models(annotation: object) -> list[type[BaseModel]]:
    """Every model named inside a type, such as the one in `list[...] | None`."""
    if parts := get_args(annotation):
        return [found for part in parts for found in _models(part)]
    return [annotation] if isinstance(annotation, type) and issubclass(annotation, BaseModel) else []
