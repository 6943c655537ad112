"""MusicXML `<direction>`, `<sound>` and `<barline>` to written marks. Source: MusicXML 4.0, those elements."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING

from rimside.score.model import Pedal
from rimside.score.musicxml_values import BEAT_UNITS, dotted, optional_number, text_of
from rimside.score.written import (
    JumpKind,
    Spot,
    WrittenDynamic,
    WrittenJump,
    WrittenPedal,
    WrittenSection,
    WrittenTempo,
    WrittenWords,
)

if TYPE_CHECKING:
    from lxml.etree import _Element

JUMP_ATTRIBUTES: Mapping[str, JumpKind] = {
    "dacapo": JumpKind.DA_CAPO,
    "dalsegno": JumpKind.DAL_SEGNO,
    "segno": JumpKind.SEGNO,
    "tocoda": JumpKind.TO_CODA,
    "coda": JumpKind.CODA,
    "fine": JumpKind.FINE,
}
JUMP_WORDS: tuple[tuple[re.Pattern[str], JumpKind], ...] = (
    (re.compile(r"(d\. ?c\.?|da capo)( al (fine|coda))?( e poi( la)? coda)?( senza rep\.?.*)?"), JumpKind.DA_CAPO),
    (re.compile(r"(d\. ?s\.?|dal segno)( al (fine|coda))?( e poi( la)? coda)?( senza rep\.?.*)?"), JumpKind.DAL_SEGNO),
    (re.compile(r"(to|al(la)?) coda"), JumpKind.TO_CODA),
    (re.compile(r"coda"), JumpKind.CODA),
    (re.compile(r"fine"), JumpKind.FINE),
    (re.compile(r"segno"), JumpKind.SEGNO),
)
PEDAL_ATTRIBUTES: Mapping[str, Pedal] = {
    "damper-pedal": Pedal.DAMPER,
    "sostenuto-pedal": Pedal.SOSTENUTO,
    "soft-pedal": Pedal.UNA_CORDA,
}
ELEMENT_WORDS: Mapping[tuple[str, str], str] = {
    ("string-mute", "on"): "con sord.",
    ("string-mute", "off"): "senza sord.",
    ("damp", ""): "damp",
    ("damp-all", ""): "damp all",
    ("scordatura", ""): "scordatura",
    ("harp-pedals", ""): "harp pedals",
    ("eyeglasses", ""): "eyeglasses",
}
"""Direction types that say something in a sign: the word that the vocabulary is asked for. An empty type is any."""

UNITS_IN_WORDS: Mapping[str, Fraction] = {
    "♩": Fraction(1),
    "♪": Fraction(1, 2),
    "𝅗𝅥": Fraction(2),
    "𝅘𝅥": Fraction(1),
    "𝅘𝅥𝅮": Fraction(1, 2),
    "\ue1d3": Fraction(2),
    "\ue1d5": Fraction(1),
    "\ue1d7": Fraction(1, 2),
    "\ueca3": Fraction(2),
    "\ueca5": Fraction(1),
    "\ueca7": Fraction(1, 2),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
    "minim": Fraction(2),
    "crotchet": Fraction(1),
    "quaver": Fraction(1, 2),
}
"""Beat units inside words. Glyphs: Unicode musical symbols and SMuFL note ranges; words: English, both usages."""
METRONOME_WORDS = re.compile(
    rf"\(?\s*({'|'.join(map(re.escape, UNITS_IN_WORDS))})\s*(\.?)\s*=\s*(?:ca?\.?\s*)?(\d+(?:\.\d+)?)\s*\)?"
)
_PER_MINUTE = re.compile(r"(?:ca?\.?\s*)?(\d+(?:\.\d+)?)")


@dataclass(slots=True, kw_only=True)
class Marks:
    """What directions, sounds and bar lines have said so far, in one part. `listed` are (bar index, text)."""

    words: list[WrittenWords] = field(default_factory=list)
    dynamics: list[WrittenDynamic] = field(default_factory=list)
    tempos: list[WrittenTempo] = field(default_factory=list)
    pedals: list[WrittenPedal] = field(default_factory=list)
    sections: list[WrittenSection] = field(default_factory=list)
    jumps: list[WrittenJump] = field(default_factory=list)
    listed: list[tuple[int, str]] = field(default_factory=list)
    open_pedals: dict[str, Pedal] = field(default_factory=dict)


def read_direction(direction: _Element, cursor: Spot, divisions: Fraction, marks: Marks) -> None:
    """Read one direction that stands at a cursor. Its offset moves what is seen; playback only when it says so."""
    offset_element = direction.find("offset")
    moved = _moved(cursor, offset_element, divisions)
    follows = offset_element is not None and offset_element.get("sound") == "yes"
    sound = direction.find("sound")
    before = len(marks.tempos)
    for each in direction.iterfind("direction-type/*"):
        _read_type(each, moved, sound, marks)
    if sound is not None:
        spoken = {str(each.tag) for each in direction.iterfind("direction-type/*")}
        read_sound(sound, moved if follows else cursor, divisions, marks, spoken)
    _read_words(direction, moved, sound, len(marks.tempos) > before, marks)


def _moved(cursor: Spot, offset: _Element | None, divisions: Fraction) -> Spot:
    value = optional_number(offset.text) if offset is not None else None
    if value is None:
        return cursor
    return cursor[0], max(cursor[1] + value / divisions, Fraction(0))


def _read_words(direction: _Element, at: Spot, sound: _Element | None, tempo_given: bool, marks: Marks) -> None:
    """All the words of a direction are one text; jumps and metronome values in it are taken out first."""
    text = "\n".join(text_of(words) for words in direction.iterfind("direction-type/words")).strip()
    value = METRONOME_WORDS.search(text)
    if value is not None:
        text = (text[: value.start()] + text[value.end() :]).strip()
        if not tempo_given:
            unit = dotted(UNITS_IN_WORDS[value[1]], len(value[2]))
            marks.tempos.append(WrittenTempo(at=at, quarters_per_minute=float(unit) * float(value[3])))
        tempo_given = True
    if not text:
        return
    kind = _jump_in_words(text)
    if kind is None:
        marks.words.append(WrittenWords(at=at, text=text, tempo_given=tempo_given))
    elif sound is None or not any(name in sound.attrib for name in JUMP_ATTRIBUTES):
        marks.jumps.append(WrittenJump(at=(at[0], Fraction(0)), kind=kind))


def _jump_in_words(text: str) -> JumpKind | None:
    plain = " ".join(text.casefold().split()).strip("()[] ")
    return next((kind for form, kind in JUMP_WORDS if form.fullmatch(plain)), None)


def _read_type(each: _Element, at: Spot, sound: _Element | None, marks: Marks) -> None:
    match each.tag:
        case "metronome":
            _read_metronome(each, at, marks)
        case "dynamics":
            marks.dynamics += [WrittenDynamic(at=at, mark=_dynamic(mark)) for mark in each if _dynamic(mark)]
        case "rehearsal":
            marks.sections.append(WrittenSection(at=at, name=text_of(each)))
        case "pedal":
            _read_pedal(each, at, marks)
        case "segno" | "coda":
            if sound is None or not any(name in sound.attrib for name in JUMP_ATTRIBUTES):
                marks.jumps.append(WrittenJump(at=(at[0], Fraction(0)), kind=JumpKind(each.tag)))
        case "other-direction" | "percussion" | "symbol":
            _word_of_sign(each, at, marks)
        case tag:
            word = ELEMENT_WORDS.get((str(tag), each.get("type", ""))) or ELEMENT_WORDS.get((str(tag), ""))
            marks.words += [WrittenWords(at=at, text=word)] if word else []


def _dynamic(mark: _Element) -> str:
    return text_of(mark) if mark.tag == "other-dynamics" else str(mark.tag)


def _word_of_sign(each: _Element, at: Spot, marks: Marks) -> None:
    text = text_of(each) or " ".join(child.tag for child in each) or each.get("smufl", "")
    if text:
        marks.words.append(WrittenWords(at=at, text=text))


def _read_pedal(each: _Element, at: Spot, marks: Marks) -> None:
    """start and sostenuto press, stop lifts the one of the same number, change lifts and presses again."""
    kind, line = each.get("type", ""), each.get("number", "")
    if kind in ("start", "sostenuto"):
        pedal = Pedal.SOSTENUTO if kind == "sostenuto" else Pedal.DAMPER
        marks.open_pedals[line] = pedal
        marks.pedals.append(WrittenPedal(at=at, pedal=pedal, down=True))
    elif kind in ("stop", "change"):
        pedal = marks.open_pedals.get(line) or next(iter(marks.open_pedals.values()), Pedal.DAMPER)
        marks.pedals.append(WrittenPedal(at=at, pedal=pedal, down=False))
        if kind == "change":
            marks.pedals.append(WrittenPedal(at=at, pedal=pedal, down=True))
        else:
            marks.open_pedals.pop(line, None)


def _read_metronome(each: _Element, at: Spot, marks: Marks) -> None:
    """A value ("quarter = 96"), or two units of which the left, before, lasts as long as the right, from now on."""
    lengths = _beat_units(each) if each.find("metronome-note") is None else _metronome_notes(each)
    value = _PER_MINUTE.fullmatch(text_of(each, "per-minute"))
    if value is not None and len(lengths) == 1:
        marks.tempos.append(WrittenTempo(at=at, quarters_per_minute=float(lengths[0]) * float(value[1])))
    elif len(lengths) == 2 and all(lengths):
        marks.tempos.append(WrittenTempo(at=at, ratio=lengths[1] / lengths[0]))
    else:
        marks.listed.append((at[0], f"metronome mark {text_of(each)!r}"))


def _beat_units(each: _Element) -> list[Fraction]:
    lengths: list[Fraction] = []
    for child in each:
        if child.tag == "beat-unit" and text_of(child) in BEAT_UNITS:
            dots = 0
            lengths.append(BEAT_UNITS[text_of(child)])
        elif child.tag == "beat-unit-dot" and lengths:
            dots += 1
            lengths[-1] = dotted(BEAT_UNITS[text_of(_unit_before(child))], dots)
        elif child.tag == "beat-unit-tied" and lengths and text_of(child, "beat-unit") in BEAT_UNITS:
            lengths[-1] += dotted(BEAT_UNITS[text_of(child, "beat-unit")], len(child.findall("beat-unit-dot")))
    return lengths


def _unit_before(dot: _Element) -> _Element:
    return next(each for each in dot.itersiblings("beat-unit", preceding=True))


def _metronome_notes(each: _Element) -> list[Fraction]:
    """The summed lengths of the notes left and right of the metronome relation."""
    sides = [Fraction(0)]
    for child in each:
        if child.tag == "metronome-relation":
            sides.append(Fraction(0))
        elif child.tag == "metronome-note" and text_of(child, "metronome-type") in BEAT_UNITS:
            length = dotted(BEAT_UNITS[text_of(child, "metronome-type")], len(child.findall("metronome-dot")))
            actual = optional_number(text_of(child, "metronome-tuplet/actual-notes"))
            normal = optional_number(text_of(child, "metronome-tuplet/normal-notes"))
            sides[-1] += length * normal / actual if actual and normal else length
    return sides


def read_sound(sound: _Element, at: Spot, divisions: Fraction, marks: Marks, spoken: Collection[str] = ()) -> None:
    """Read a `<sound>`: tempo and leaps; pedals and pizzicato unless signs or words (`spoken`) say them already."""
    at = _moved(at, sound.find("offset"), divisions)
    tempo = optional_number(sound.get("tempo"))
    if tempo is not None and tempo > 0:
        marks.tempos.append(WrittenTempo(at=at, quarters_per_minute=float(tempo), playback=True))
    elif sound.get("tempo") is not None:
        marks.listed.append((at[0], f"tempo {sound.get('tempo')!r}"))
    for name, kind in JUMP_ATTRIBUTES.items():
        if sound.get(name) not in (None, "no"):
            target = sound.get(name, "") if kind not in (JumpKind.DA_CAPO, JumpKind.FINE) else ""
            marks.jumps.append(WrittenJump(at=at, kind=kind, target=target))
    for name, pedal in PEDAL_ATTRIBUTES.items():
        if "pedal" not in spoken and (value := sound.get(name)) is not None:
            marks.pedals.append(WrittenPedal(at=at, pedal=pedal, down=value not in ("no", "0")))
    if "words" not in spoken and sound.get("pizzicato") in ("yes", "no"):
        marks.words.append(WrittenWords(at=at, text="pizz." if sound.get("pizzicato") == "yes" else "arco"))
