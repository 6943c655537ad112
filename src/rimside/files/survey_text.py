"""A survey as the TOML file that a person reads, mends and keeps: what `schema_piano` reads back is the same survey."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from textwrap import wrap

from rimside.errors import BadInput
from rimside.files.schema_piano import FORMAT, PIANO
from rimside.kit import PERMISSIONS
from rimside.piano.geometry import HALF_BODY_MM, PLACE_SPACING_MM
from rimside.piano.model import Keyboard, Permissions, Point
from rimside.piano.survey import Dampers, KeyPoint, Section, Survey
from rimside.score.model import Pedal

Notes = Mapping[str, Sequence[str]]
"""Comments by the place that they stand before: head, outline, permissions, dampers, strike, struts, spots, floor, or
"section NAME"."""

WIDTH = 118
_SAYS = {
    "outline": "Outer edge of the case, mm; the last point repeats the first.",
    "permissions": "What the owner allows; what is not named is forbidden. A spot named here is barred besides.",
    "dampers": "The middle of the felts, and how much of a string a felt covers; keys above last_key ring freely.",
    "strike": "The line of the hammers.",
    "struts": "Bars of the plate. A bar stands between strings unless it is marked over_strings.",
    "spots": "Places for sound other than strings.",
    "floor": "Where nobody can stand.",
}


def survey_text(survey: Survey, notes: Notes | None = None) -> str:
    """The survey file of a survey.

    Parameters
    ----------
    survey : what to write; its numbers are written as they are, so whoever makes it rounds them.
    notes : comments by place, each entry a paragraph; a place that the file lacks is an error of the caller.

    Raises
    ------
    BadInput : a piano without dampers or keyboard, which the format cannot say.
    KeyError : notes for a place that the file does not have.
    """
    if survey.instrument == PIANO and (survey.dampers is None or survey.keyboard is None):
        raise BadInput("a piano needs dampers and a keyboard", where=survey.name)
    blocks = _blocks(survey)
    if strangers := (notes or {}).keys() - blocks.keys():
        raise KeyError(min(strangers))
    return "\n".join(line for place, lines in blocks.items() for line in _block(place, lines, notes or {}))


def _block(place: str, lines: Sequence[str], notes: Notes) -> Iterator[str]:
    says = [_SAYS[place]] if place in _SAYS and lines else []
    for paragraph in (*says, *notes.get(place, ())):
        yield from wrap(paragraph, WIDTH, initial_indent="# ", subsequent_indent="# ", break_long_words=False)
    yield from lines
    yield ""


def _blocks(survey: Survey) -> dict[str, list[str]]:
    blocks = {
        "head": list(_head(survey)),
        "outline": ["outline = [", *_rows([_pair(point) for point in survey.outline], 6), "]"],
        "permissions": list(_permissions(survey.permissions)),
        "keyboard": list(_keyboard(survey)),
        "choirs": _tables("choirs", (
            {"number": c.number, "name": c.name, "semitones_up": c.semitones_up} for c in survey.choirs)),
        "dampers": list(_dampers(survey.dampers)),
        "strike": _tables("strike", ({"key": p.key, "y_mm": p.y_mm} for p in survey.strike)),
    }  # fmt: skip
    blocks |= {f"section {section.name}": list(_section(section)) for section in survey.sections}
    blocks["struts"] = _tables("struts", (
        {"name": s.name, "start": s.start, "end": s.end, "width_mm": s.width_mm} | _given(over_strings=s.over_strings)
        for s in survey.struts))  # fmt: skip
    blocks["spots"] = _tables("spots", (
        {"name": s.name, "kind": s.kind, "at": s.at, "height_mm": s.height_mm} for s in survey.spots))  # fmt: skip
    blocks["floor"] = _tables("floor", (
        {"name": f.name, "at": f.at} | _given(to=f.to) | {"radius_mm": f.radius_mm} for f in survey.floor))  # fmt: skip
    must = ("head", "outline", "permissions", "struts", "spots", "floor")
    return {place: lines for place, lines in blocks.items() if lines or place in must}


def _head(survey: Survey) -> Iterator[str]:
    yield f"format = {_value(FORMAT)}"
    yield f"name = {_value(survey.name)}"
    yield f"title = {_value(survey.title)}"
    if survey.instrument != PIANO:
        yield f"instrument = {_value(survey.instrument)}"
    yield f"length_mm = {_value(survey.length_mm)}"
    yield f"a4_hz = {_value(survey.a4_hz)}"
    yield f"rim_height_mm = {_value(survey.rim_height_mm)}"
    yield f"keyboard_height_mm = {_value(survey.keyboard_height_mm)}"
    if survey.place_spacing_mm != PLACE_SPACING_MM:
        yield f"place_spacing_mm = {_value(survey.place_spacing_mm)}"
    if survey.half_body_mm != HALF_BODY_MM:
        yield f"half_body_mm = {_value(survey.half_body_mm)}"
    yield f"pedals = {_value([pedal.value for pedal in Pedal if pedal in survey.pedals])}"
    yield from _names("measured", sorted(survey.measured))


def _permissions(permissions: Permissions) -> Iterator[str]:
    yield "[permissions]"
    known = [name for name in PERMISSIONS if name in permissions.allowed]
    yield from _names("allowed", [*known, *sorted(permissions.allowed - set(known))])
    yield from _names("forbidden_spots", sorted(permissions.forbidden_spots))
    yield f"note = {_value(permissions.note)}"


def _keyboard(survey: Survey) -> Iterator[str]:
    keys = survey.keyboard
    if keys is None or (survey.instrument == PIANO and keys == Keyboard()):
        return
    yield "[keyboard]"
    yield from _lines({
        "from_mm": keys.from_mm, "to_mm": keys.to_mm, "first_key": keys.first_key, "last_key": keys.last_key,
    })  # fmt: skip


def _dampers(dampers: Dampers | None) -> Iterator[str]:
    if dampers is None:
        return
    yield "[dampers]"
    yield f"last_key = {dampers.last_key}"
    if dampers.choirs != (1,):
        yield f"choirs = {_value(dampers.choirs)}"
    points = ({"key": p.key, "y_mm": p.y_mm, "felt_mm": p.felt_mm} for p in dampers.points)
    yield from _list("points", map(_inline, points))


def _section(section: Section) -> Iterator[str]:
    yield "[[sections]]"
    yield f"name = {_value(section.name)}"
    yield from (f"{end} = {key}" for end, key in (("first_key", section.first_key), ("last_key", section.last_key)))
    if section.material != "steel":
        yield f"material = {_value(section.material)}"
    if section.choir != 1:
        yield f"choir = {section.choir}"
    yield from _list("points", (_inline(_point_table(point)) for point in section.points))
    wires = ({"first_key": w.first_key, "last_key": w.last_key, "wire_mm": w.wire_mm} for w in section.wires)
    if section.wires:
        yield from _list("wires", map(_inline, wires))


def _point_table(point: KeyPoint) -> dict[str, object]:
    return (
        {"key": point.key, "near": point.near, "far": point.far, "strings": point.strings}
        | _given(spacing_mm=point.spacing_mm)
        | {"wire_mm": point.wire_mm}
        | _given(wrap_mm=point.wrap_mm)
        | {"height_mm": point.height_mm}
    )


def _given(**entries: object) -> dict[str, object]:
    """The entries that say something: what the format lets out is None, 0 or false."""
    return {name: value for name, value in entries.items() if value}


def _tables(name: str, tables: Iterable[Mapping[str, object]]) -> list[str]:
    """Tables of an array, an empty line between them."""
    lines = [line for table in tables for line in ("", f"[[{name}]]", *_lines(table))]
    return lines[1:]


def _lines(table: Mapping[str, object]) -> Iterator[str]:
    return (f"{name} = {_value(value)}" for name, value in table.items())


def _list(name: str, entries: Iterable[str]) -> Iterator[str]:
    yield f"{name} = ["
    yield from (f"  {entry}," for entry in entries)
    yield "]"


def _names(name: str, names: Sequence[str]) -> Iterator[str]:
    """A list of names: on one line when it fits."""
    line = f"{name} = {_value(names)}"
    yield from [line] if len(line) <= WIDTH else [f"{name} = [", *_rows([_value(one) for one in names], 5), "]"]


def _rows(entries: Sequence[str], each: int) -> Iterator[str]:
    return (f"  {', '.join(entries[at : at + each])}," for at in range(0, len(entries), each))


def _inline(table: Mapping[str, object]) -> str:
    return f"{{ {', '.join(_lines(table))} }}"


def _pair(point: Point) -> str:
    return f"[{_value(point.x_mm)}, {_value(point.y_mm)}]"


def _value(value: object) -> str:
    """A value as TOML. A basic string of TOML is a JSON string, but for the delete character."""
    if isinstance(value, Point):
        return _pair(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_value, value))}]"
    if isinstance(value, int | float):
        return repr(value).removesuffix(".0")
    raise TypeError(f"no TOML for {value!r}")
