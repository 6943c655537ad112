"""Changes inside a TOML file that leave its comments, order and layout as people wrote them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, replace
from typing import Any, Literal

from rimside.errors import BadInput
from rimside.files import project, schema_kit, schema_people, schema_piano, schema_pins, schema_production
from rimside.files.project import Production
from rimside.files.schema_piano import piano_from_toml
from rimside.files.schema_production import facts_from_toml
from rimside.files.toml import read_toml

Way = tuple[str | int, ...]
"""Where something stands in a file: keys, and numbers of entries from 0: ("player", 2, "stature_mm")."""


LABELS = ("id", "name", "kind", "figure", "key")
"""The keys by which an entry of a list is known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Edit:
    """One change: "set" a value, "remove" a key or an entry, "add" an entry to a list, which is made when missing."""

    do: Literal["set", "remove", "add"]
    way: Way
    value: Any = None


def edited(data: bytes, edits: Sequence[Edit], where: str) -> bytes:
    """A file with some changes.

    Each change is made twice, in the file as it is written and in the plain table that it holds; only a file that
    holds that table afterwards is given back.

    Parameters
    ----------
    data : the file's bytes; empty for one that is not there yet.

    Raises
    ------
    BadInput : not TOML, a place that is not there, or one that cannot be changed without writing its lines anew.
    """
    import tomlkit

    table, document = read_toml(data, where), tomlkit.parse(data.decode("utf-8-sig"))
    for edit in edits:
        try:
            _do(table, edit, where)
        except (TypeError, AttributeError) as slip:
            raise _gone(edit.way, where) from slip
        try:
            _do(document, edit, where)
        except (ValueError, TypeError, AttributeError, tomlkit.exceptions.TOMLKitError) as slip:
            raise _as_text(edit.way, where) from slip
    after = tomlkit.dumps(document).encode("utf-8")
    if not _holds(after, table):
        raise _as_text(edits[-1].way, where)
    return after


def carried(edits: Sequence[Edit], seen: bytes, now: bytes, where: str) -> list[Edit]:
    """Edits of a file that a person saw, as edits of what it is now: entries are found again by what they are.

    A value that both have changed becomes that of the edit.

    Parameters
    ----------
    seen, now : the bytes of the file then and now.

    Raises
    ------
    BadInput : somebody has taken the entry away.
    """
    before, after = read_toml(seen, where), read_toml(now, where)
    found = [replace(edit, way=_carried(edit, before, after, where)) for edit in edits]
    gone = [edit for edit in found if edit.do == "remove" and isinstance(edit.way[-1], int)]
    rest = [edit for edit in found if edit not in gone]
    return [*rest, *sorted(gone, key=lambda edit: edit.way[-1], reverse=True)]


def _carried(edit: Edit, before: Any, after: Any, where: str) -> Way:
    way: list[str | int] = []
    for step in edit.way:
        before, at = _within(before, step), after
        found = _again(before, at, step) if isinstance(step, int) else step
        if found is None:
            raise _gone(edit.way, where)
        way.append(found)
        after = _within(at, found)
    return tuple(way)


def _again(entry: Any, entries: Any, step: int) -> int | None:
    """The number that an entry has now: the one that is the same, or else the one of the same name."""
    rows = entries if isinstance(entries, list) else []
    same = [number for number, row in enumerate(rows) if row == entry]
    if not isinstance(entry, Mapping):
        return step if step in same else None
    found = same or [number for number, row in enumerate(rows) if _label(row) == _label(entry) is not None]
    return step if step in found else (found[0] if len(found) == 1 else None)


def _label(entry: Any) -> Any:
    return next((entry[label] for label in LABELS if label in entry), None) if isinstance(entry, Mapping) else None


def _within(at: Any, step: str | int) -> Any:
    if isinstance(at, Mapping):
        return at.get(step)
    return at[step] if isinstance(at, list) and isinstance(step, int) and 0 <= step < len(at) else None


def _holds(data: bytes, table: Mapping[str, Any]) -> bool:
    try:
        return read_toml(data, "") == table
    except BadInput:
        return False


def _do(document: Any, edit: Edit, where: str) -> None:
    """One change in a plain table or in a document that tells how it was written."""
    *path, last = edit.way
    holder = _reached(document, path, where, make=edit.do != "remove")
    if edit.do == "add":
        _add(holder, last, deepcopy(edit.value))
        return
    if isinstance(last, int) and not (isinstance(holder, list) and 0 <= last < len(holder)):
        raise _gone(edit.way, where)
    if edit.do == "set":
        holder[last] = deepcopy(edit.value)
    elif isinstance(last, str) and not (isinstance(holder, dict) and last in holder):
        raise _gone(edit.way, where)
    else:
        del holder[last]


def _reached(document: Any, path: Sequence[str | int], where: str, *, make: bool) -> Any:
    """The table or list at a place; tables that are missing are made."""
    at = document
    for step in path:
        if isinstance(step, str) and isinstance(at, dict) and step not in at and make:
            at[step] = {}
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
        holder[name] = [value]
        return
    entries = holder[name]
    if isinstance(entries, tomlkit.items.AoT) and len(entries):
        entries[-1].add(tomlkit.nl())
    entries.append(value)


def _as_text(way: Way, where: str) -> BadInput:
    hint = "change it in the file as text"
    return BadInput("cannot be changed without writing its lines anew", where=_told(way, where), hint=hint)


def _told(way: Way, where: str) -> str:
    return ", ".join([where, *(f"no. {step + 1}" if isinstance(step, int) else step for step in way)])


def _gone(way: Way, where: str) -> BadInput:
    hint = "look at the file as it is now"
    return BadInput("there is no such entry any more", where=_told(way, where), hint=hint)


def blank(name: str) -> bytes:
    """A file that is not there yet: its format alone, when it has one."""
    formats = {
        project.PRODUCTION: schema_production.FORMAT, project.ENSEMBLE: schema_people.FORMAT,
        project.KIT: schema_kit.FORMAT, project.PINS: schema_pins.FORMAT,
    }  # fmt: skip
    known = schema_piano.FORMAT if name.startswith(f"{project.PIANOS}/") else formats.get(name)
    return b"" if known is None else f'format = "{known}"\n'.encode()


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
