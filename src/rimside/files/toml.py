"""Reading TOML that people wrote: one clear message for whatever is wrong in it.

Pydantic lives here and in the schema modules beside it, nowhere else.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from difflib import get_close_matches
from types import UnionType
from typing import Annotated, Any, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ConfigDict, ValidationError
from pydantic_core import ErrorDetails

from rimside.errors import BadInput

_MAX_BYTES = 4_000_000
_AT_LINE = re.compile(r"\s*\(at line (\d+), column (\d+)\)$")
_LABELS = ("name", "id", "key")
Model = TypeVar("Model", bound=BaseModel)


class Table(BaseModel):
    """The base of every schema: strict types, no unknown keys, frozen."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)


def read_toml(data: bytes, where: str) -> dict[str, Any]:
    """Parse a TOML file.

    Parameters
    ----------
    data : the file's bytes; UTF-8, with or without a byte order mark.
    where : its name, for messages.

    Raises
    ------
    BadInput : not UTF-8, not TOML (with line and column), or far too large.
    """
    if len(data) > _MAX_BYTES:
        raise BadInput("the file is too large", where=where, value=len(data), allowed=f"up to {_MAX_BYTES} bytes")
    try:
        return tomllib.loads(_decoded(data, where))
    except tomllib.TOMLDecodeError as error:
        raise _syntax_error(str(error), where) from None
    except RecursionError:
        raise BadInput("the file is nested too deeply", where=where) from None


def validate(model: type[Model], table: Mapping[str, Any], where: str) -> Model:
    """Check a parsed table against a schema.

    Raises
    ------
    BadInput : the first thing that is wrong, with its place in the file, its value and what is allowed. An unknown key
        is told before anything else, because a misspelt key is often also the missing one.
    """
    try:
        return model.model_validate(dict(table), strict=True, extra="forbid")
    except ValidationError as error:
        details = sorted(error.errors(include_url=False), key=lambda found: found["type"] != "extra_forbidden")
        raise _told(model, table, where, details) from None


def _decoded(data: bytes, where: str) -> str:
    try:
        return data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        hint = "save it as UTF-8"
        if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
            hint = "it looks like UTF-16; save it as UTF-8"
        raise BadInput("the file is not UTF-8 text", where=f"{where}, line {line}", hint=hint) from None


def _syntax_error(message: str, where: str) -> BadInput:
    if at := _AT_LINE.search(message):
        where = f"{where}, line {at[1]}, column {at[2]}"
        message = message[: at.start()]
    return BadInput(f"not valid TOML: {message[:1].lower()}{message[1:]}", where=where)


# --- pydantic's errors in plain words ---------------------------------------------------------------------------------


def _told(model: type[BaseModel], table: Mapping[str, Any], where: str, details: Sequence[ErrorDetails]) -> BadInput:
    first = details[0]
    place = ", ".join(part for part in (where, _path(table, first["loc"])) if part)
    more = f"and {len(details) - 1} more in this file" if len(details) > 1 else ""
    what, value, allowed, hint = _words(model, first)
    hints = "; ".join(t for t in (hint, more) if t)
    return BadInput(what, where=place, value=value, allowed=allowed, hint=hints, way=tuple(first["loc"]))


def _words(model: type[BaseModel], error: ErrorDetails) -> tuple[str, object, str, str]:
    """What, value, allowed and hint of one error."""
    loc, kind = error["loc"], error["type"]
    context = error.get("ctx", {})
    if kind == "extra_forbidden":
        known = _known_keys(model, loc[:-1])
        return "unknown key", str(loc[-1]), ", ".join(known), _nearest(str(loc[-1]), known)
    if kind == "missing":
        return f"{loc[-1]} is missing", None, "", ""
    value = _shown(error["input"])
    if kind in ("value_error", "assertion_error"):
        return str(context.get("error", error["msg"])), value, "", ""
    if kind == "literal_error":
        choices = str(context["expected"])
        return "not one of the choices", value, choices, _nearest(str(value), re.findall(r"'([^']*)'", choices))
    hint = _unit_guess(str(loc[-1]) if loc else "", error["input"], context.get("ge", context.get("gt")))
    return _TYPES.get(kind, "cannot be used so"), value, _allowed(kind, context, error["msg"]), hint


def _unit_guess(key: str, value: object, least: object) -> str:
    """A length far below what is allowed was often given in m or cm."""
    if not (key.endswith("_mm") and isinstance(value, int | float) and isinstance(least, int | float) and value > 0):
        return ""
    unit = next((unit for factor, unit in ((10, "cm"), (1000, "m")) if value < least <= value * factor), None)
    return f"was it given in {unit}?" if unit else ""


_TYPES = {
    "float_type": "not a number",
    "int_type": "not a whole number",
    "int_from_float": "not a whole number",
    "string_type": "not a text in quotes",
    "bool_type": "not true or false",
    "list_type": "not a list",
    "dict_type": "not a table",
    "model_type": "not a table",
    "finite_number": "not a finite number",
    "greater_than": "too small",
    "greater_than_equal": "too small",
    "less_than": "too large",
    "less_than_equal": "too large",
    "too_short": "too few entries",
    "too_long": "too many entries",
    "string_too_short": "too short a text",
    "string_too_long": "too long a text",
}
_LIMITS = {"ge": "{} or more", "gt": "more than {}", "le": "{} or less", "lt": "less than {}"}
_EXPECTED = {
    "float_type": "a number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "string_type": "a text in quotes",
    "bool_type": "true or false",
    "list_type": "a list in [ ]",
    "dict_type": "a table",
    "model_type": "a table",
    "finite_number": "an ordinary number",
}


def _allowed(kind: str, context: Mapping[str, Any], message: str) -> str:
    if kind in _EXPECTED:
        return _EXPECTED[kind]
    limits = [text.format(context[name]) for name, text in _LIMITS.items() if name in context]
    if kind in ("too_short", "too_long", "string_too_short", "string_too_long"):
        limits = [f"{context[k]} at {v}" for k, v in (("min_length", "least"), ("max_length", "most"))
                  if k in context]  # fmt: skip
    return ", ".join(limits) or message[:1].lower() + message[1:]


def _shown(value: object) -> object:
    """A value as an error shows it: long ones cut."""
    text = repr(value)
    return value if len(text) <= 80 else f"{text[:77]}..."


def _nearest(word: str, known: Iterable[str]) -> str:
    near = get_close_matches(word.lower(), list(known), n=1, cutoff=0.6)
    return f"did you mean {near[0]}?" if near else ""


def _path(table: object, loc: Sequence[int | str]) -> str:
    """Where in the file, entries of a list counted from 1 and named when they have a name: "sections no. 3 (tenor)"."""
    parts: list[str] = []
    at: object = table
    for step in loc:
        if isinstance(step, int):
            at = at[step] if isinstance(at, list) and step < len(at) else None
            parts[-1:] = [f"{parts[-1] if parts else 'entry'} no. {step + 1}{_label(at)}"]
        elif isinstance(at, Mapping) or at is None:
            at = at.get(step) if isinstance(at, Mapping) else None
            parts.append(step)
    return ", ".join(parts)


def _label(entry: object) -> str:
    if not isinstance(entry, Mapping):
        return ""
    return next((f" ({label} {entry[label]})" for label in _LABELS if isinstance(entry.get(label), str | int)), "")


def _known_keys(model: type[BaseModel], loc: Sequence[int | str]) -> list[str]:
    """The keys a table at a place may have."""
    current: object = model
    for step in loc:
        if isinstance(step, int):
            current = _inside(current, 0)
        elif isinstance(current, type) and issubclass(current, BaseModel):
            by_name = {field.alias or name: field.annotation for name, field in current.model_fields.items()}
            current = _bare(by_name[step])
        else:
            current = _inside(current, 1)
    if isinstance(current, type) and issubclass(current, BaseModel):
        return [field.alias or name for name, field in current.model_fields.items()]
    return []


def _bare(annotation: object) -> object:
    """An annotation without Annotated and without `| None`."""
    if get_origin(annotation) is Annotated:
        return _bare(get_args(annotation)[0])
    if get_origin(annotation) in (Union, UnionType):
        kept = [arg for arg in get_args(annotation) if arg is not type(None)]
        return _bare(kept[0])
    return annotation


def _inside(annotation: object, argument: int) -> object:
    """What a list (argument 0) or dict (argument 1) holds."""
    arguments = get_args(annotation)
    return _bare(arguments[argument]) if len(arguments) > argument else None
