"""One MusicXML `<note>` to a written note, and what its notations say. Source: MusicXML 4.0, element note."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from rimside.errors import BadInput
from rimside.pitch import MIDI_OF_KEY_0
from rimside.score.harmonics import partial_sounding
from rimside.score.model import Technique, Touch
from rimside.score.musicxml_values import Where, number, optional_number, text_of
from rimside.score.written import Spot, WrittenNote
from rimside.units import FIRST_KEY, LAST_KEY

if TYPE_CHECKING:
    from lxml.etree import _Element

STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
LOWEST_MIDI, HIGHEST_MIDI = MIDI_OF_KEY_0 + FIRST_KEY, MIDI_OF_KEY_0 + LAST_KEY

TECHNICAL_WORDS: Mapping[str, str] = {
    "snap-pizzicato": "snap pizz.",
    "pluck": "pluck",
    "golpe": "golpe",
    "brass-bend": "bend",
    "bend": "bend",
    "hammer-on": "hammer-on",
    "pull-off": "pull-off",
    "tap": "tap",
    "stopped": "stopped",
    "half-muted": "half-muted",
    "fingernails": "fingernails",
}
"""Technical marks that say how this one note is made, as the word that the vocabulary is asked for."""
OTHER_MARKS = ("other-technical", "other-notation", "other-articulation", "other-ornament")
LISTED_NOTATIONS: frozenset[str] = frozenset(
    {
        "trill-mark",
        "turn",
        "inverted-turn",
        "delayed-turn",
        "mordent",
        "inverted-mordent",
        "shake",
        "schleifer",
        "haydn",
        "glissando",
        "slide",
        "arpeggiate",
        "non-arpeggiate",
        "fermata",
        "wavy-line",
    }
)
"""Notations that change notes or time and that are not played out: each is listed for a person."""

TOUCH_AT_INTERVAL: Mapping[int, tuple[int, int]] = {12: (1, 2), 7: (1, 3), 5: (1, 4), 4: (1, 5), 3: (1, 6), 9: (2, 5)}
"""Semitones from the string to the touching pitch, and the node: stopping at k/n of the string leaves 1 - k/n, so the
pitch there is -12 log2(1 - k/n) higher; 12, 7.02, 4.98, 3.86, 3.16 and 8.84 for the six nodes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteContext:
    """What a note needs to know about its part."""

    where: Where
    at: Spot
    length: Fraction
    transposed_semitones: Fraction
    instruments: Mapping[str, str]
    part_names: tuple[str, ...]


def read_note(note: _Element, context: NoteContext) -> tuple[WrittenNote | None, tuple[str, ...]]:
    """The written note, None for a rest or cue note, and what it says that cannot be used.

    Raises
    ------
    BadInput : a pitch off the piano or not readable.
    """
    if note.find("rest") is not None or note.find("cue") is not None:
        return None, ()
    midi = _midi(note, context)
    ties = {tie.get("type") for tie in note.iterfind("tie")}
    return WrittenNote(
        at=context.at,
        length=context.length,
        midi=midi,
        names=() if midi is not None else _names(note, context),
        voice=text_of(note, "voice") or "1",
        grace=note.find("grace") is not None,
        tie_start="start" in ties,
        tie_stop="stop" in ties,
        tremolo_strokes=_tremolo(note),
        marks=_marks(note),
        harmonic=harmonic_role(note),
        technique=Technique.FINGER_PLUCK if note.get("pizzicato") == "yes" else None,
        only_passes=passes_of(note.get("time-only")),
    ), _listed(note)


def passes_of(text: str | None) -> frozenset[int]:
    """The passes of a `time-only` attribute."""
    return frozenset(int(one) for one in (text or "").replace(",", " ").split() if one.isdecimal())


def _midi(note: _Element, context: NoteContext) -> float | None:
    pitch = note.find("pitch")
    if pitch is None:
        if note.find("unpitched") is None:
            raise BadInput(
                "<note> has no pitch",
                where=str(context.where),
                value="nothing",
                allowed="<pitch>, <unpitched> or <rest>",
            )
        return None
    step, octave, alter = text_of(pitch, "step"), text_of(pitch, "octave"), text_of(pitch, "alter")
    if step not in STEPS:
        raise BadInput("<step> is not a letter of the scale", where=str(context.where), value=step, allowed="A to G")
    written = 12 * (number(octave, "<octave>", context.where) + 1) + STEPS[step]
    midi = written + number(alter or "0", "<alter>", context.where) + context.transposed_semitones
    if not LOWEST_MIDI <= midi <= HIGHEST_MIDI:
        name = f"{step}{octave}" + (f" altered by {alter}" if alter else "")
        moved = f", sounding {float(context.transposed_semitones):+g} semitones" if context.transposed_semitones else ""
        raise BadInput(
            "pitch is outside the piano",
            where=str(context.where),
            value=name + moved,
            allowed=f"A0 to C8 (MIDI {LOWEST_MIDI} to {HIGHEST_MIDI}) at sounding pitch",
            hint="is a <transpose> missing or doubled?",
        )
    return float(midi)


def _names(note: _Element, context: NoteContext) -> tuple[str, ...]:
    instrument = note.find("instrument")
    named = context.instruments.get(instrument.get("id", "")) if instrument is not None else None
    if named is None and len(context.instruments) == 1:
        named = next(iter(context.instruments.values()))
    return tuple(name for name in (named, *context.part_names) if name)


def _tremolo(note: _Element) -> int:
    """Strokes; an unmeasured tremolo counts as one beam, there being no smaller sign of it."""
    mark = note.find("notations/ornaments/tremolo")
    if mark is None:
        return 0
    beams = optional_number(mark.text)
    return max(1, int(beams)) if beams is not None else 1


def _marks(note: _Element) -> tuple[str, ...]:
    marks: list[str] = []
    head = note.find("notehead")
    if head is not None:
        name = head.get("smufl") or text_of(head) or "normal"
        marks += [] if name in ("normal", "none") else [f"notehead {name}"]
    for technical in note.iterfind("notations/technical/*"):
        marks += [TECHNICAL_WORDS[technical.tag]] if technical.tag in TECHNICAL_WORDS else []
    marks += [text_of(each) for each in note.iterfind("notations//*") if each.tag in OTHER_MARKS and text_of(each)]
    return tuple(marks)


def _listed(note: _Element) -> tuple[str, ...]:
    listed = [str(each.tag) for each in note.iterfind("notations//*") if each.tag in LISTED_NOTATIONS]
    return tuple(dict.fromkeys(tag.removesuffix("-mark").replace("-", " ") for tag in listed))


def harmonic_role(note: _Element) -> str:
    """What a note is in a harmonic: "base", "touching", "sounding", "whole" (nothing said), or "" for none."""
    mark = note.find("notations/technical/harmonic")
    if mark is None:
        return ""
    roles = {"base-pitch": "base", "touching-pitch": "touching", "sounding-pitch": "sounding"}
    return next((role for tag, role in roles.items() if mark.find(tag) is not None), "whole")


def touch_between(string_midi: float, other_midi: float, role: str) -> Touch | None:
    """What a harmonic written as string and touching or sounding pitch asks for; None when it is none of ours.

    A touching pitch says where the finger lies, a sounding pitch leaves the node of its partial to the piano.
    """
    if role == "sounding":
        return partial_sounding(string_midi, other_midi)
    node = TOUCH_AT_INTERVAL.get(round(other_midi - string_midi))
    return Touch(k=node[0], n=node[1]) if node else None
