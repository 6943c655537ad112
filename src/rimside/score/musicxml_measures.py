"""One MusicXML part, bar by bar: the cursor that walks through notes, backups, forwards and marks."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from rimside.errors import BadInput
from rimside.score.musicxml_directions import Marks, read_direction, read_sound
from rimside.score.musicxml_notes import NoteContext, read_note, touch_between
from rimside.score.musicxml_values import Where, number, optional_number, quarters, text_of
from rimside.score.written import JumpKind, Spot, WrittenJump, WrittenNote

if TYPE_CHECKING:
    from lxml.etree import _Element

ZERO = Fraction(0)


@dataclass(slots=True, kw_only=True)
class RawBar:
    """One bar of one part. `length` is None while nothing stands in it."""

    name: str
    implicit: bool
    length: Fraction | None = None
    full_length: Fraction | None = None
    beat_unit: Fraction = Fraction(1)
    forward: bool = False
    backward: int = 0
    after_jump: bool = False
    ending: frozenset[int] | None = None
    ending_stops: bool = False


@dataclass(slots=True, kw_only=True)
class RawPart:
    """One part as read, before the parts are laid on one grid."""

    id: str
    name: str
    instruments: Mapping[str, str]
    notes: list[WrittenNote] = field(default_factory=list)
    bars: list[RawBar] = field(default_factory=list)
    marks: Marks = field(default_factory=Marks)


@dataclass(slots=True, kw_only=True)
class Cursor:
    """Where the reader is in its part. `sounded_end` leaves forwards out, `reached_end` counts them."""

    filename: str
    part: RawPart
    divisions: Fraction = Fraction(1)
    divisions_given: bool = False
    transposed: dict[str, Fraction] = field(default_factory=dict)
    full_length: Fraction | None = None
    beat_unit: Fraction = Fraction(1)
    repeat_of: int = 0
    offset: Fraction = ZERO
    chord_at: Fraction = ZERO
    chord_from: int = 0
    sounded_end: Fraction = ZERO
    reached_end: Fraction = ZERO
    filled: bool = False

    @property
    def index(self) -> int:
        """The bar being read."""
        return len(self.part.bars) - 1

    @property
    def at(self) -> Spot:
        """The place being read."""
        return self.index, self.offset

    @property
    def where(self) -> Where:
        """The place, for messages."""
        return Where(self.filename, self.part.name, self.part.bars[-1].name if self.part.bars else "?")


def read_part(part: RawPart, measures: Iterable[tuple[_Element, _Element]], filename: str) -> None:
    """Read all bars of a part into it. Each measure is its header (number, implicit) and its content.

    Raises
    ------
    BadInput : a note without length or off the piano, or a number that is none.
    """
    cursor = Cursor(filename=filename, part=part)
    for header, content in measures:
        _read_measure(header, content, cursor)


def _read_measure(header: _Element, content: _Element, cursor: Cursor) -> None:
    part = cursor.part
    bar = RawBar(name=header.get("number") or str(len(part.bars) + 1), implicit=header.get("implicit") == "yes")
    part.bars.append(bar)
    cursor.offset = cursor.chord_at = cursor.sounded_end = cursor.reached_end = ZERO
    cursor.filled, cursor.chord_from = False, len(part.notes)
    first_note = len(part.notes)
    for element in content:
        _READERS.get(str(element.tag), _skip)(element, cursor)
    _settle_harmonics(cursor)
    bar.full_length, bar.beat_unit = cursor.full_length, cursor.beat_unit
    if cursor.repeat_of and len(part.notes) == first_note and cursor.index >= cursor.repeat_of:
        _repeat_bar(cursor)
    if cursor.filled:
        bar.length = cursor.sounded_end if bar.implicit and cursor.sounded_end else cursor.reached_end


def _skip(element: _Element, cursor: Cursor) -> None:
    """Layout, harmony names, figured bass, links: nothing that sounds here."""


def _repeat_bar(cursor: Cursor) -> None:
    """A bar under a measure-repeat sign sounds like the bar that the sign points to."""
    source = cursor.index - cursor.repeat_of
    copied = [replace(note, at=(cursor.index, note.at[1])) for note in cursor.part.notes if note.at[0] == source]
    cursor.part.notes += copied
    length = cursor.part.bars[source].length
    if length is not None:
        cursor.filled, cursor.sounded_end, cursor.reached_end = True, length, length


def _note(element: _Element, cursor: Cursor) -> None:
    grace = element.find("grace") is not None
    length = ZERO if grace else _duration(element, cursor)
    if element.find("chord") is None:
        _settle_harmonics(cursor)
        cursor.chord_at = cursor.offset
        cursor.chord_from = len(cursor.part.notes)
        _advance(cursor, length, sounded=True)
    staff = text_of(element, "staff")
    context = NoteContext(
        where=cursor.where,
        at=(cursor.index, cursor.chord_at),
        length=length,
        transposed_semitones=cursor.transposed.get(staff, cursor.transposed.get("", ZERO)),
        instruments=cursor.part.instruments,
        part_names=(cursor.part.name,),
    )
    note, listed = read_note(element, context)
    if note is not None:
        cursor.part.notes.append(note)
    cursor.part.marks.listed += [(cursor.index, text) for text in listed]


def _duration(element: _Element, cursor: Cursor) -> Fraction:
    """A length in quarters; without `<divisions>`, which the format asks for, it counts quarters, and says so."""
    if not cursor.divisions_given:
        cursor.divisions_given = True
        cursor.part.marks.listed.append((cursor.index, "no <divisions> before the first note; taken as 1 a quarter"))
    return quarters(element, cursor.divisions, cursor.where)


def _advance(cursor: Cursor, length: Fraction, *, sounded: bool) -> None:
    cursor.offset += length
    cursor.reached_end = max(cursor.reached_end, cursor.offset)
    if sounded:
        cursor.sounded_end = max(cursor.sounded_end, cursor.offset)
    cursor.filled = cursor.filled or length > 0


def _settle_harmonics(cursor: Cursor) -> None:
    """A harmonic written as a chord of string, touching and sounding pitch is one note: the string, touched."""
    chord = cursor.part.notes[cursor.chord_from :]
    others = [note for note in chord if note.harmonic in ("touching", "sounding") and note.midi is not None]
    strings = [note for note in chord if note.harmonic == "base"] or [note for note in chord if not note.harmonic]
    if not others or len(strings) != 1 or strings[0].midi is None:
        return
    others.sort(key=lambda note: note.harmonic != "touching")
    touch = touch_between(strings[0].midi, others[0].midi or 0.0, others[0].harmonic)
    if touch is not None:
        kept = replace(strings[0], touch=touch, harmonic="base")
        cursor.part.notes[cursor.chord_from :] = [
            kept if note is strings[0] else note for note in chord if note is strings[0] or note not in others
        ]


def _backup(element: _Element, cursor: Cursor) -> None:
    length = _duration(element, cursor)
    if length > cursor.offset:
        cursor.part.marks.listed.append((cursor.index, "backup to before the bar's start; taken as its start"))
    cursor.offset = max(cursor.offset - length, ZERO)


def _forward(element: _Element, cursor: Cursor) -> None:
    _advance(cursor, _duration(element, cursor), sounded=False)


def _attributes(element: _Element, cursor: Cursor) -> None:
    divisions = text_of(element, "divisions")
    if divisions:
        cursor.divisions_given = True
        cursor.divisions = number(divisions, "<divisions>", cursor.where, "a number above 0")
        if cursor.divisions <= 0:
            raise BadInput(
                "<divisions> must be above 0", where=str(cursor.where), value=divisions, allowed="a number above 0"
            )
    for time in element.iterfind("time"):
        cursor.full_length, cursor.beat_unit = _meter(time)
    for transpose in element.iterfind("transpose"):
        semitones = number(text_of(transpose, "chromatic") or "0", "<chromatic>", cursor.where)
        octaves = number(text_of(transpose, "octave-change") or "0", "<octave-change>", cursor.where)
        if transpose.get("number") is None:
            cursor.transposed.clear()
        cursor.transposed[transpose.get("number", "")] = semitones + 12 * octaves
    for style in element.iterfind("measure-style"):
        _measure_style(style, cursor)


def _measure_style(style: _Element, cursor: Cursor) -> None:
    sign = style.find("measure-repeat")
    if sign is not None:
        bars = optional_number(text_of(sign)) or Fraction(1)
        cursor.repeat_of = int(bars) if sign.get("type") == "start" else 0
    cursor.part.marks.listed += [
        (cursor.index, f"{tag} sign")
        for tag in ("beat-repeat", "slash")
        if (one := style.find(tag)) is not None and one.get("type") == "start"
    ]


def _meter(time: _Element) -> tuple[Fraction | None, Fraction]:
    """Length of a full bar and of one beat (the denominator), in quarters; no length without a meter."""
    length, unit = ZERO, None
    for beats, beat_type in zip(time.findall("beats"), time.findall("beat-type"), strict=False):
        denominator = optional_number(text_of(beat_type))
        counts = [optional_number(one) for one in text_of(beats).split("+")]
        if not denominator or denominator < 0 or None in counts:
            return None, Fraction(1)
        unit = unit or 4 / denominator
        length += sum((one for one in counts if one), ZERO) * 4 / denominator
    return (length, unit) if unit and length > 0 else (None, Fraction(1))


def _direction(element: _Element, cursor: Cursor) -> None:
    read_direction(element, cursor.at, cursor.divisions, cursor.part.marks)
    sound = element.find("sound")
    if sound is not None:
        _implied_repeat(sound, cursor)


def _implied_repeat(sound: _Element, cursor: Cursor) -> None:
    """sound, forward-repeat: a start sign that is not printed."""
    if sound.get("forward-repeat") == "yes":
        cursor.part.bars[-1].forward = True


def _sound(element: _Element, cursor: Cursor) -> None:
    read_sound(element, cursor.at, cursor.divisions, cursor.part.marks)
    _implied_repeat(element, cursor)


def _barline(element: _Element, cursor: Cursor) -> None:
    location, bar = element.get("location", "right"), cursor.part.bars[-1]
    repeat, ending = element.find("repeat"), element.find("ending")
    if repeat is not None and location == "middle":
        cursor.part.marks.listed.append((cursor.index, "repeat sign inside the bar"))
    elif repeat is not None:
        _repeat(repeat, bar)
    if ending is not None:
        _ending(ending, bar)
    for kind in (JumpKind.SEGNO, JumpKind.CODA):
        if element.find(kind.value) is not None or element.get(kind.value) is not None:
            at = (cursor.index + (location == "right"), ZERO)
            cursor.part.marks.jumps.append(WrittenJump(at=at, kind=kind, target=element.get(kind.value, "")))


def _repeat(repeat: _Element, bar: RawBar) -> None:
    if repeat.get("direction") == "forward":
        bar.forward = True
        return
    times = optional_number(repeat.get("times"))
    bar.backward = max(1, int(times)) if times is not None else 1
    bar.after_jump = repeat.get("after-jump") == "yes"


def _ending(ending: _Element, bar: RawBar) -> None:
    if ending.get("type") == "start":
        bar.ending = frozenset(_ending_numbers(ending.get("number") or text_of(ending)))
    else:
        bar.ending_stops = True


def _ending_numbers(text: str) -> Iterator[int]:
    for first, last in re.findall(r"(\d{1,3})(?:\s*-\s*(\d{1,3}))?", text):
        yield from range(int(first), int(last or first) + 1)


_READERS = {
    "note": _note,
    "backup": _backup,
    "forward": _forward,
    "attributes": _attributes,
    "direction": _direction,
    "sound": _sound,
    "barline": _barline,
}
