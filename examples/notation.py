"""A tiny notation of our own, and the MusicXML 4.0 it becomes.

One text holds one voice of one section. Its tokens, parted by spaces:

    D4:4        a note of four sixteenths; without a number the last length holds
    D4+A4:8     a chord            r:4    a rest           @top_rim:1  a beat on a spot (_ stands for a space)
    D4:4~  >  o a tremolo, an accent, a harmonic: signs after the length
    |           "a bar ends here"; it is checked
    !pp         a dynamic
    (line bow)  words for the players       {cue: all breathe}  words with a colon, written as they stand
    [ ... ]*3   the same three times
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

SHARPS = ("F", "C")
"""The key signature of every part."""
DIVISIONS = 4
"""A sixteenth is one division."""
_LENGTHS = {16: ("whole", 0), 12: ("half", 1), 8: ("half", 0), 6: ("quarter", 1), 4: ("quarter", 0)}
_LENGTHS |= {3: ("eighth", 1), 2: ("eighth", 0), 1: ("16th", 0)}
_TOKEN = re.compile(r"\||\([^)]*\)|\{[^}]*\}|[^\s|]+")
_GROUP = re.compile(r"\[([^][]*)\]\*(\d+)")
_NOTE = re.compile(r"(r|@\w+|[A-G][#b]?\d(?:\+[A-G][#b]?\d)*)(?::(\d+))?([~>o]*)")
_PITCH = re.compile(r"([A-G])([#b]?)(\d)")
_ALTER = {"": 0, "#": 1, "b": -1}
_ACCIDENTAL = {0: "natural", 1: "sharp", -1: "flat"}
_HEADER = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One staff. `clef` is "G", "F" or "percussion"; a percussion part names its spots."""

    name: str
    short: str
    clef: str
    spots: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeat:
    """Bars of a section (1 = its first) played `times` times, perhaps with a first and a second ending."""

    first: int
    last: int
    times: int = 2
    endings: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A rehearsal mark and what every part plays under it: part name -> one text for each voice."""

    mark: str
    name: str
    pace: str
    tempo: int
    bars: int
    voices: Mapping[str, tuple[str, ...]]
    repeat: Repeat | None = None


@dataclass(slots=True, kw_only=True)
class Event:
    """A note, chord, rest or beat, cut so that it fits one bar and one note value. `at` counts from the section."""

    at: int
    length: int
    pitches: tuple[str, ...] = ()
    spot: str = ""
    signs: str = ""
    words: list[str] = field(default_factory=list)
    dynamic: str = ""
    tied_from: bool = False
    tied_to: bool = False

    @property
    def sounds(self) -> bool:
        """Whether it is more than a rest."""
        return bool(self.pitches or self.spot)


def events(text: str, bars: int) -> list[Event]:
    """The events of one voice, filled up with rests to the section's length.

    Raises
    ------
    ValueError : a token that is none, a bar line in the wrong place, too much music; with the token and its bar.
    """
    found: list[Event] = []
    at, length, words, dynamic = 0, 4, list[str](), ""
    for token in _TOKEN.findall(_unfolded(text)):
        if token == "|":
            _check_bar(at, text)
        elif token[0] in "({":
            words.append(token[1:-1])
        elif token[0] == "!":
            dynamic = token[1:]
        else:
            event = _event(token, at, length)
            length = event.length
            event.words, event.dynamic = words, dynamic
            at, words, dynamic = at + length, [], ""
            found += _cut(event)
    if words or dynamic or at > 16 * bars:
        raise ValueError(f"{at / 16} bars instead of {bars}, or words after the last note: {text}")
    return found + _cut(Event(at=at, length=16 * bars - at))


def _unfolded(text: str) -> str:
    while (group := _GROUP.search(text)) is not None:
        text = text[: group.start()] + f"{group[1]} " * int(group[2]) + text[group.end() :]
    return text


def _check_bar(at: int, text: str) -> None:
    if at % 16:
        raise ValueError(f"bar {at // 16 + 1} has {at % 16} sixteenths: {text}")


def _event(token: str, at: int, length: int) -> Event:
    form = _NOTE.fullmatch(token)
    if form is None:
        raise ValueError(f"bar {at // 16 + 1}: no such note: {token}")
    head, number, signs = form.groups()
    spot = head[1:].replace("_", " ") if head[0] == "@" else ""
    pitches = () if spot or head == "r" else tuple(head.split("+"))
    return Event(at=at, length=int(number or length), pitches=pitches, spot=spot, signs=signs)


def _cut(event: Event) -> list[Event]:
    """An event as tied pieces, each within one bar and of one note value."""
    pieces: list[Event] = []
    at, left = event.at, event.length
    while left:
        fits = min(left, 16 - at % 16)
        size = next(value for value in _LENGTHS if value <= fits)
        first = at == event.at
        pieces.append(
            Event(
                at=at,
                length=size,
                pitches=event.pitches,
                spot=event.spot,
                signs=event.signs if first or "~" in event.signs else "",
                words=event.words if first else [],
                dynamic=event.dynamic if first else "",
                tied_from=event.sounds and not first,
                tied_to=event.sounds and size < left,
            )
        )
        at, left = at + size, left - size
    return pieces


def musicxml(title: str, parts: tuple[Part, ...], sections: tuple[Section, ...]) -> str:
    """The whole score as MusicXML 4.0 text; the same music gives the same text."""
    root = ET.Element("score-partwise", version="4.0")
    ET.SubElement(ET.SubElement(root, "work"), "work-title").text = title
    part_list = ET.SubElement(root, "part-list")
    for number, part in enumerate(parts, start=1):
        _part_entry(part_list, part, number)
    for number, part in enumerate(parts, start=1):
        element = ET.SubElement(root, "part", id=f"P{number}")
        for bar, section, index in numbered(sections):
            _measure(element, part, number, bar, section, index)
    ET.indent(root)
    return _HEADER + ET.tostring(root, encoding="unicode") + "\n"


def numbered(sections: tuple[Section, ...]) -> Iterator[tuple[int, Section, int]]:
    """Every written bar: its number in the piece, its section, its number in the section; all from 1."""
    bar = 0
    for section in sections:
        for index in range(1, section.bars + 1):
            bar += 1
            yield bar, section, index


def _part_entry(part_list: ET.Element, part: Part, number: int) -> None:
    entry = ET.SubElement(part_list, "score-part", id=f"P{number}")
    ET.SubElement(entry, "part-name").text = part.name
    ET.SubElement(entry, "part-abbreviation").text = part.short
    for spot in part.spots:
        instrument = ET.SubElement(entry, "score-instrument", id=_instrument_id(number, part, spot))
        ET.SubElement(instrument, "instrument-name").text = spot


def _instrument_id(number: int, part: Part, spot: str) -> str:
    return f"P{number}-I{part.spots.index(spot) + 1}"


def _measure(root: ET.Element, part: Part, number: int, bar: int, section: Section, index: int) -> None:
    measure = ET.SubElement(root, "measure", number=str(bar))
    if section.repeat:
        _bar_line(measure, section.repeat, index, "left")
    if bar == 1:
        _attributes(measure, part)
    if index == 1 and number == 1:
        _heading(measure, section)
    state: dict[str, int] = {}
    texts = section.voices.get(part.name, ("",))
    for voice, text in enumerate(texts, start=1):
        if voice > 1:
            ET.SubElement(ET.SubElement(measure, "backup"), "duration").text = "16"
        inside = [event for event in events(text, section.bars) if event.at // 16 == index - 1]
        _voice(measure, part, number, voice, inside, state)
    if section.repeat and _bar_line(measure, section.repeat, index, "right"):
        return
    if index == section.bars:
        style = ET.SubElement(ET.SubElement(measure, "barline", location="right"), "bar-style")
        style.text = "light-light"


def _bar_line(measure: ET.Element, repeat: Repeat, index: int, side: str) -> bool:
    """Repeat sign and ending brackets on one side of a bar; whether there was any."""
    line = ET.Element("barline", location=side)
    for number, (first, last) in enumerate(repeat.endings, start=1):
        if index == (first if side == "left" else last):
            kind = "start" if side == "left" else "stop"
            ET.SubElement(line, "ending", number=str(number), type=kind)
    if side == "left" and index == repeat.first:
        ET.SubElement(line, "repeat", direction="forward")
    if side == "right" and index == repeat.last:
        ET.SubElement(line, "repeat", direction="backward", times=str(repeat.times))
    if len(line):
        measure.append(line)
    return bool(len(line))


def _attributes(measure: ET.Element, part: Part) -> None:
    attributes = ET.SubElement(measure, "attributes")
    ET.SubElement(attributes, "divisions").text = str(DIVISIONS)
    ET.SubElement(ET.SubElement(attributes, "key"), "fifths").text = str(len(SHARPS))
    time = ET.SubElement(attributes, "time")
    ET.SubElement(time, "beats").text = ET.SubElement(time, "beat-type").text = "4"
    clef = ET.SubElement(attributes, "clef")
    ET.SubElement(clef, "sign").text = part.clef
    if part.clef != "percussion":
        ET.SubElement(clef, "line").text = {"G": "2", "F": "4"}[part.clef]


def _heading(measure: ET.Element, section: Section) -> None:
    """Rehearsal mark, pace and metronome, written once, over the first part."""
    rehearsal = ET.SubElement(_direction(measure), "rehearsal")
    rehearsal.text = section.mark
    direction = ET.SubElement(measure, "direction", placement="above")
    ET.SubElement(ET.SubElement(direction, "direction-type"), "words").text = section.pace
    metronome = ET.SubElement(ET.SubElement(direction, "direction-type"), "metronome")
    ET.SubElement(metronome, "beat-unit").text = "quarter"
    ET.SubElement(metronome, "per-minute").text = str(section.tempo)
    ET.SubElement(direction, "sound", tempo=str(section.tempo))


def _direction(measure: ET.Element, placement: str = "above") -> ET.Element:
    return ET.SubElement(ET.SubElement(measure, "direction", placement=placement), "direction-type")


def _voice(
    measure: ET.Element, part: Part, number: int, voice: int, inside: list[Event], state: dict[str, int]
) -> None:
    beams = _beams(inside)
    for event in inside:
        _marks(measure, event)
        for place, pitch in enumerate(event.pitches or ("",)):
            note = ET.SubElement(measure, "note")
            if place:
                ET.SubElement(note, "chord")
            accidental = _sound(note, event, pitch, state)
            _length(note, event)
            if event.spot:
                ET.SubElement(note, "instrument", id=_instrument_id(number, part, event.spot))
            _face(note, event, voice, accidental)
            for level, text in () if place else beams.get(event.at, ()):
                ET.SubElement(note, "beam", number=str(level)).text = text
            _notations(note, event)


def _marks(measure: ET.Element, event: Event) -> None:
    for words in event.words:
        ET.SubElement(_direction(measure), "words").text = words
    if event.dynamic:
        ET.SubElement(ET.SubElement(_direction(measure, "below"), "dynamics"), event.dynamic)


def _sound(note: ET.Element, event: Event, pitch: str, state: dict[str, int]) -> str:
    """The pitch, rest or beat of a note; the accidental that must be shown, if any."""
    if event.spot:
        unpitched = ET.SubElement(note, "unpitched")
        ET.SubElement(unpitched, "display-step").text = "E"
        ET.SubElement(unpitched, "display-octave").text = "4"
        return ""
    if not pitch:
        rest = ET.SubElement(note, "rest")
        if event.length == 16:
            rest.set("measure", "yes")
        return ""
    form = _PITCH.fullmatch(pitch)
    if form is None:
        raise ValueError(f"no such pitch: {pitch}")
    step, sign, octave = form.groups()
    alter = _ALTER[sign]
    element = ET.SubElement(note, "pitch")
    ET.SubElement(element, "step").text = step
    if alter:
        ET.SubElement(element, "alter").text = str(alter)
    ET.SubElement(element, "octave").text = octave
    before, state[step + octave] = state.get(step + octave, int(step in SHARPS)), alter
    return "" if event.tied_from or before == alter else _ACCIDENTAL[alter]


def _length(note: ET.Element, event: Event) -> None:
    ET.SubElement(note, "duration").text = str(event.length)
    for kind in _ties(event):
        ET.SubElement(note, "tie", type=kind)


def _face(note: ET.Element, event: Event, voice: int, accidental: str) -> None:
    """Voice, note value, dots and accidental; a bar's rest has no value."""
    ET.SubElement(note, "voice").text = str(voice)
    name, dots = _LENGTHS[event.length]
    if event.sounds or event.length < 16:
        ET.SubElement(note, "type").text = name
        for _ in range(dots):
            ET.SubElement(note, "dot")
    if accidental:
        ET.SubElement(note, "accidental").text = accidental


def _ties(event: Event) -> list[str]:
    return ["stop"] * event.tied_from + ["start"] * event.tied_to


def _notations(note: ET.Element, event: Event) -> None:
    notations = ET.Element("notations")
    for kind in _ties(event):
        ET.SubElement(notations, "tied", type=kind)
    if "~" in event.signs:
        ET.SubElement(ET.SubElement(notations, "ornaments"), "tremolo", type="single").text = "3"
    if "o" in event.signs:
        ET.SubElement(ET.SubElement(notations, "technical"), "harmonic")
    if ">" in event.signs:
        ET.SubElement(ET.SubElement(notations, "articulations"), "accent")
    if len(notations):
        note.append(notations)


def _beams(inside: list[Event]) -> dict[int, list[tuple[int, str]]]:
    """For each event by its start: its beams. Notes shorter than a beat that touch within one beat are joined."""
    beams: dict[int, list[tuple[int, str]]] = {}
    for run in _runs(inside):
        for place, event in enumerate(run):
            beams[event.at] = [(1, _joint(place > 0, place < len(run) - 1))]
            if event.length == 1:
                before = place > 0 and run[place - 1].length == 1
                after = place < len(run) - 1 and run[place + 1].length == 1
                hook = "backward hook" if place else "forward hook"
                beams[event.at].append((2, _joint(before, after) if before or after else hook))
    return beams


def _joint(before: bool, after: bool) -> str:
    return "continue" if before and after else "begin" if after else "end"


def _runs(inside: list[Event]) -> list[list[Event]]:
    runs: list[list[Event]] = [[]]
    for event in inside:
        joins = event.sounds and event.length < 4
        if not joins or event.at % 4 == 0:
            runs.append([])
        if joins:
            runs[-1].append(event)
    return [run for run in runs if len(run) > 1]
