"""Changes inside a TOML file that leave its comments, order and layout as people wrote them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from rimside.errors import BadInput
from rimside.files import project
from rimside.files.project import Production
from rimside.files.schema_piano import piano_from_toml
from rimside.files.schema_production import facts_from_toml
from rimside.files.toml import read_toml

Way = tuple[str | int, ...]
"""Where something stands in a file: keys, and numbers of entries from 0: ("player", 2, "stature_mm")."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Edit:
    """One change: "set" a value, "remove" a key or an entry, "add" an entry to a list, which is made when missing."""

    do: Literal["set", "remove", "add"]
    way: Way
    value: Any = None


def edited(data: bytes, edits: Sequence[Edit], where: str) -> bytes:
    """A file with some changes.

    Parameters
    ----------
    data : the file's bytes; empty for one that is not there yet.

    Raises
    ------
    BadInput : not TOML, or a place that is not there.
    """
    import tomlkit

    read_toml(data, where)
    document = tomlkit.parse(data.decode("utf-8-sig"))
    for edit in edits:
        _do(document, edit, where)
    return tomlkit.dumps(document).encode("utf-8")


def _do(document: Any, edit: Edit, where: str) -> None:
    *path, last = edit.way
    holder = _reached(document, path, where, make=edit.do != "remove")
    if edit.do == "add":
        _add(holder, last, edit.value)
        return
    if isinstance(last, int) and not (isinstance(holder, list) and last < len(holder)):
        raise _gone(edit.way, where)
    if edit.do == "set":
        holder[last] = edit.value
    elif isinstance(last, str) and not (isinstance(holder, dict) and last in holder):
        raise _gone(edit.way, where)
    else:
        del holder[last]


def _reached(document: Any, path: Sequence[str | int], where: str, *, make: bool) -> Any:
    """The table or list at a place; tables that are missing are made."""
    import tomlkit

    at = document
    for step in path:
        if isinstance(step, str) and isinstance(at, dict) and step not in at and make:
            at[step] = tomlkit.table()
        try:
            at = at[step]
        except (KeyError, IndexError, TypeError) as slip:
            raise _gone(tuple(path), where) from slip
    return at


def _add(holder: Any, name: str | int, value: Any) -> None:
    """Put an entry at the end of a list: a table of its own under [[name]], or a plain value in [ ]."""
    import tomlkit

    if name not in holder:
        if isinstance(value, dict) and isinstance(holder, tomlkit.TOMLDocument):
            holder.add(tomlkit.nl())
        holder[name] = tomlkit.aot() if isinstance(value, dict) else tomlkit.array()
    if isinstance(value, dict) and isinstance(holder[name], tomlkit.items.AoT):
        if len(holder[name]):
            holder[name][-1].add(tomlkit.nl())
        row = tomlkit.table()
        for key, inner in value.items():
            row.add(key, inner)
        holder[name].append(row)
    else:
        holder[name].append(value)


def _gone(way: Way, where: str) -> BadInput:
    told = ", ".join(f"no. {step + 1}" if isinstance(step, int) else step for step in way)
    return BadInput("there is no such entry any more", where=f"{where}, {told}", hint="look at the file as it is now")


def checked(production: Production, name: str, data: bytes) -> str:
    """What a file of a production would hold with these bytes, in a few words.

    Raises
    ------
    BadInput : a slip in it, with its place; a file that is none of the production's.
    """
    after = replace(production, inputs={**production.inputs, name: data})
    if name == project.PRODUCTION:
        return facts_from_toml(data, name).title
    if name == project.ENSEMBLE:
        return f"{len(after.players())} players"
    if name == project.KIT:
        return f"{len(after.kit().stock)} kinds of implement"
    if name == project.TECHNIQUES:
        after.vocabulary()
        return "words of this score"
    if name == project.PINS:
        reading = after.reading()
        pins = {pin for piano in after.facts.pianos for pin in after.pins(reading, after.piano(piano))}
        return f"{len(pins)} pins"
    if name == after.facts.score:
        return f"{len(after.reading().figures)} figures"
    if name.startswith(f"{project.PIANOS}/"):
        piano = piano_from_toml(data, name)
        return f"{piano.title}, {len(piano.courses)} courses, {len(piano.places)} places"
    raise BadInput("is no file of this production", where=name)
