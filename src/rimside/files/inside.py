"""What `rimside inside` reads and writes: one survey, some of its keys, and the sheets made of them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from rimside.errors import BadInput
from rimside.files.atomic import read_file, write_file
from rimside.files.names import scheme_named, unknown
from rimside.files.schema_piano import piano_from_toml
from rimside.kit import HANDS
from rimside.paper.access_plan import make_access_pdf, make_access_svg
from rimside.paper.node_strip import make_strips
from rimside.piano.model import Piano
from rimside.piano.shipped import SHIPPED, shipped_survey
from rimside.piano.string_report import Heard, heard
from rimside.pitch import Key, LabelScheme, parse_spans


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """One piano, the keys that are asked for (all when none were named), and how they are labelled."""

    piano: Piano
    keys: tuple[Key, ...]
    scheme: LabelScheme


def look(source: str, keys: str | None = None, labels: str | None = None) -> Looked:
    """The piano of a survey file, or a shipped one by name.

    Raises
    ------
    BadInput : no such file and no such shipped piano; a slip in the survey; a key that is none or not on it.
    """
    scheme = LabelScheme.SCIENTIFIC if labels is None else scheme_named(labels, "--labels")
    piano = _piano(source)
    return Looked(piano=piano, keys=_keys(piano, keys, scheme, "--keys"), scheme=scheme)


def _piano(source: str) -> Piano:
    if source in SHIPPED and not Path(source).exists():
        return piano_from_toml(shipped_survey(source), f"{source}.toml")
    if not Path(source).exists() and "." not in source and "/" not in source:
        raise unknown("piano, and no such file", source, SHIPPED, "SURVEY")
    return piano_from_toml(read_file(Path(source), source), source)


def _keys(piano: Piano, text: str | None, scheme: LabelScheme, where: str) -> tuple[Key, ...]:
    there = {course.key for course in piano.courses}
    if text is None:
        return tuple(sorted(there))
    try:
        keys = parse_spans(text, scheme)
    except BadInput as slip:
        raise slip.at(where) from None
    if missing := [key for key in keys if key not in there]:
        raise BadInput("this piano has no such key", where=where, value=int(missing[0]))
    return keys


def hear(looked: Looked, key: str, partial: str, partial_hz: str, first_hz: str) -> tuple[Key, Heard]:
    """What a measured partial tells of one course; wire and tension only of a plain steel one.

    Raises
    ------
    BadInput : not one key, not numbers, or a pitch that no such partial has.
    """
    keys = _keys(looked.piano, key, looked.scheme, "--heard")
    if len(keys) != 1:
        raise BadInput("one string is heard at a time", where="--heard", value=key)
    if not partial.isdecimal():
        raise BadInput("the number of a partial is whole", where="--heard", value=partial, allowed="2 or more")
    numbers = [_number(text) for text in (partial, partial_hz, first_hz)]
    course = looked.piano.course(keys[0])
    plain = not course.wound and course.material == "steel"
    try:
        found = heard(int(numbers[0]), *numbers[1:], length_mm=course.length_mm if plain else None)
    except BadInput as slip:
        raise slip.at("--heard") from None
    return keys[0], found


def _number(text: str) -> float:
    try:
        value = float(text)
    except ValueError as slip:
        raise BadInput("not a number", where="--heard", value=text, allowed="a pitch in Hz") from slip
    if not 0.0 < value < 1e5:
        raise BadInput("no such partial or pitch", where="--heard", value=text, allowed="above 0, in Hz")
    return value


def write_strips(looked: Looked, keys: str, path: str, *, sheet: str) -> Path:
    """Node strips of some keys, as PDF.

    Raises
    ------
    BadInput : a key that is none, an unknown sheet, another kind of file, or the disc refused.
    """
    chosen = _keys(looked.piano, keys, looked.scheme, "--strip")
    _kind(path, ".pdf")
    return _written(path, make_strips(looked.piano, chosen, looked.scheme, sheet))


def write_access(looked: Looked, hand: str, path: str) -> Path:
    """The plan with what is open to one kind of hand, as PDF or SVG by the file's ending.

    Raises
    ------
    BadInput : an unknown kind of hand, another kind of file, or the disc refused.
    """
    if hand not in HANDS:
        raise unknown("kind of hand", hand, HANDS, "--access")
    made = (looked.piano, looked.keys, HANDS[hand], looked.scheme)
    if _kind(path, ".pdf", ".svg") == ".svg":
        return _written(path, make_access_svg(*made).encode("utf-8"))
    return _written(path, make_access_pdf(*made))


def _kind(path: str, *allowed: str) -> str:
    kind = Path(path).suffix.lower()
    if kind not in allowed:
        raise BadInput("another kind of file", where=path, value=kind, allowed=" or ".join(allowed))
    return kind


def _written(path: str, data: bytes) -> Path:
    write_file(Path(path), data, path)
    return Path(path)
