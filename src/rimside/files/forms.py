"""What can stand in each file that people write, read off the schemas: enough to draw a form for it."""

from __future__ import annotations

import re
from ast import literal_eval
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from rimside.errors import BadInput
from rimside.files import project
from rimside.files.edits import Way
from rimside.files.schema_kit import KitTable
from rimside.files.schema_people import EnsembleTable
from rimside.files.schema_piano import SurveyTable
from rimside.files.schema_pins import PinsTable
from rimside.files.schema_production import ProductionTable
from rimside.score.words import SECTIONS

UNITS = {"_mm_per_s": "mm/s", "_g_per_cm3": "g/cm³", "_mm": "mm", "_s": "s", "_hz": "Hz", "_deg": "degrees"}
"""Endings of names, and the unit that they tell; the longer ones first."""
SECTION = re.compile(r", \[+(\w+)\]+(?: ('.*'|\".*\"))?$", re.DOTALL)
"""The end of a place in techniques.toml: its section, and the phrase in it as Python writes it."""
NUMBERED = re.compile(r"(.+) no\. (\d+)(?: \(.*\))?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One thing that can stand in a file.

    `kind` is "text", "number", "whole", "flag", "choice", "texts", "numbers", "pairs" (points), "map" (texts to
    `inside[0]`), "table" or "tables" (of the fields `inside`). `least` and `most` bound a number or the length of a
    list; None: no bound.
    """

    name: str
    kind: str
    unit: str = ""
    least: float | None = None
    most: float | None = None
    choices: tuple[str, ...] = ()
    needed: bool = False
    words: str = ""
    inside: tuple[Field, ...] = ()


def form_of(name: str) -> tuple[Field, ...]:
    """The fields of a file by its name in the folder; none for one that is no TOML of ours."""
    models: Mapping[str, type[BaseModel]] = {
        project.PRODUCTION: ProductionTable, project.ENSEMBLE: EnsembleTable, project.KIT: KitTable,
        project.PINS: PinsTable,
    }  # fmt: skip
    if name == project.TECHNIQUES:
        return tuple(Field(name=section, kind="map", inside=(Field(name="", kind="text"),)) for section in SECTIONS)
    if name.startswith(f"{project.PIANOS}/"):
        return tuple(_fields(SurveyTable))
    return tuple(_fields(models[name])) if name in models else ()


def way_of(slip: BadInput, table: object) -> Way:
    """Where in a file a slip is: as it says itself, else as far as its words and its value tell.

    Parameters
    ----------
    table : the file as it was read.
    """
    if slip.way:
        return slip.way
    if section := SECTION.search(slip.where):
        return (section[1], *(() if section[2] is None else (literal_eval(section[2]),)))
    way: list[str | int] = []
    at = table
    for word in (*slip.where.split(", ")[1:], slip.what.partition(" ")[0]):
        for step in _step(word, at) or ():
            way.append(step)
            at = _inner(at, step)
    return (*way, *_told_by_value(slip, at))


def _told_by_value(slip: BadInput, at: object) -> Way:
    """The key of a table whose value is the one that the slip tells; among several, the one that it names."""
    table = at if isinstance(at, Mapping) else {}
    same = [
        key
        for key, value in table.items()
        if slip.value is not None and (value == slip.value or (isinstance(value, list) and slip.value in value))
    ]
    named = [key for key in same if key.rstrip("s").replace("_", " ") in slip.what]
    found = named or same
    return (found[0],) if len(found) == 1 else ()


def _inner(at: object, step: str | int) -> object:
    if isinstance(at, Mapping):
        return at.get(step)
    return at[step] if isinstance(at, list) and isinstance(step, int) else None


def _step(word: str, at: object) -> list[str | int] | None:
    """The next steps for one word of a place: a key, "key no. 3", or "player Mo" for an entry by its name."""
    if not isinstance(at, Mapping):
        return None
    if word in at:
        return [word]
    if (numbered := NUMBERED.fullmatch(word)) and numbered[1] in at:
        entries = at[numbered[1]]
        index = int(numbered[2]) - 1
        return [numbered[1], index] if isinstance(entries, list) and index < len(entries) else [numbered[1]]
    noun, _, called = word.partition(" ")
    for key in (key for key in at if key.rstrip("s") == noun.rstrip("s")):
        for index, entry in enumerate(at[key] if isinstance(at[key], list) else ()):
            if isinstance(entry, Mapping) and called in (entry.get("name"), entry.get("id"), entry.get("kind")):
                return [key, index]
    return None


def _fields(model: type[BaseModel]) -> Iterator[Field]:
    for name, info in model.model_fields.items():
        if name != "format":
            yield _field(info.alias or name, info)


def _field(name: str, info: FieldInfo) -> Field:
    annotation, more = _bare(info.annotation)
    kind, inside, choices = _kind(annotation)
    limits = {key: getattr(bound, key) for bound in (*info.metadata, *more) for key in _LIMITS if hasattr(bound, key)}
    return Field(
        name=name,
        kind=kind,
        unit=next(
            (unit for end, unit in sorted(UNITS.items(), key=lambda row: -len(row[0])) if name.endswith(end)), ""
        ),
        least=next((limits[key] for key in ("ge", "gt", "min_length") if limits.get(key) is not None), None),
        most=next((limits[key] for key in ("le", "lt", "max_length") if limits.get(key) is not None), None),
        choices=choices,
        needed=info.is_required(),
        words=_words(annotation),
        inside=inside,
    )


_LIMITS = ("ge", "gt", "le", "lt", "min_length", "max_length")
_PLAIN: Mapping[object, str] = {str: "text", float: "number", int: "whole", bool: "flag"}


def _kind(annotation: object) -> tuple[str, tuple[Field, ...], tuple[str, ...]]:
    if annotation in _PLAIN:
        return _PLAIN[annotation], (), ()
    if get_origin(annotation) is Literal:
        return "choice", (), tuple(str(choice) for choice in get_args(annotation))
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return "table", tuple(_fields(annotation)), ()
    inner, _ = _bare(get_args(annotation)[-1]) if get_args(annotation) else (str, [])
    if get_origin(annotation) is list:
        kind, inside, choices = _kind(inner)
        lists = {"text": "texts", "choice": "texts", "table": "tables", "numbers": "pairs"}
        return lists.get(kind, "numbers"), inside, choices
    if get_origin(annotation) is dict:
        kind, inside, _ = _kind(inner)
        return "map", (Field(name="", kind=kind, inside=inside),), ()
    return "text", (), ()


def _words(annotation: object) -> str:
    """What a table is, as its schema says in its first line."""
    inner = next((arg for arg in get_args(annotation) if isinstance(arg, type)), annotation)
    known = isinstance(inner, type) and issubclass(inner, BaseModel)
    return (inner.__doc__ or "").strip().splitlines()[0] if known and inner.__doc__ else ""


def _bare(annotation: Any) -> tuple[Any, Sequence[Any]]:
    """An annotation without Annotated and without `| None`, and the bounds that stood there."""
    if get_origin(annotation) is Annotated:
        inner, *bounds = get_args(annotation)
        bare, more = _bare(inner)
        found = [part for bound in bounds for part in (bound.metadata if isinstance(bound, FieldInfo) else [bound])]
        return bare, [*found, *more]
    if get_origin(annotation) in (Union, UnionType):
        kept = [arg for arg in get_args(annotation) if arg is not type(None)]
        return _bare(kept[0])
    return annotation, []
