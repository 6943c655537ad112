"""Keys and their labels in the four schemes of the trade, plus technicians' letter + key number.

Octaves are ambiguous in this trade, so code holds key numbers and a label is made or read only with its scheme.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from enum import StrEnum
from typing import NewType

from rimside.errors import BadInput
from rimside.units import FIRST_KEY, LAST_KEY

Key = NewType("Key", int)
"""Key number: 1 is the lowest A, 88 the highest C. Where a key has several courses (the choirs of a harpsichord), those
of the second choir are numbered 101 to 188, of the third 201 to 288; see `in_choir`."""

CHOIR_STEP = 100
MOST_CHOIRS = 3

MIDI_OF_KEY_0 = 20
_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_SHARP_NAMES = ("C", "C♯", "D", "D♯", "E", "F", "F♯", "G", "G♯", "A", "A♯", "B")
_ACCIDENTALS = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}
_FORM = re.compile(r"([A-Ga-g])([#♯b♭]?)(.*)")


class LabelScheme(StrEnum):
    """How a pitch label names its octave."""

    KEY_NUMBER = "key number"
    SCIENTIFIC = "scientific"
    HELMHOLTZ = "helmholtz"
    ORDINAL = "ordinal"
    TECHNICIAN = "technician"


def key_of_midi(midi: float) -> Key | None:
    """The key that sounds a MIDI note number; None off the piano or between two keys."""
    number = midi - MIDI_OF_KEY_0
    return Key(int(number)) if number == int(number) and FIRST_KEY <= number <= LAST_KEY else None


def midi_of_key(key: Key) -> int:
    """MIDI note number of a key (69 is 440 Hz), whichever its choir."""
    return int(plain_key(key)) + MIDI_OF_KEY_0


def in_choir(key: Key, choir: int) -> Key:
    """The course that a key has in a choir, counted from 1; the first choir's numbers are the keys' own."""
    return Key(int(plain_key(key)) + CHOIR_STEP * (choir - 1))


def choir_of(key: Key) -> int:
    """Which choir a course belongs to, counted from 1."""
    return (int(key) - 1) // CHOIR_STEP + 1


def plain_key(key: Key) -> Key:
    """The key that a course of any choir belongs to."""
    return Key((int(key) - 1) % CHOIR_STEP + 1)


def is_course(number: int) -> bool:
    """Whether a number can be that of a course: a key of the piano, in one of the choirs."""
    return FIRST_KEY <= int(plain_key(Key(number))) <= LAST_KEY and 1 <= choir_of(Key(number)) <= MOST_CHOIRS


def label(key: Key, scheme: LabelScheme = LabelScheme.SCIENTIFIC) -> str:
    """The label of a course, black keys spelled with a sharp; a further choir follows a point ("A3.2")."""
    choir = choir_of(key)
    return _label(plain_key(key), scheme) + (f".{choir}" if choir > 1 else "")


def _label(key: Key, scheme: LabelScheme) -> str:
    midi = midi_of_key(key)
    name, octave = _SHARP_NAMES[midi % 12], midi // 12 - 1
    match scheme:
        case LabelScheme.KEY_NUMBER:
            return str(int(key))
        case LabelScheme.SCIENTIFIC:
            return f"{name}{octave}"
        case LabelScheme.ORDINAL:
            return f"{name}{(int(key) - 1) // 12 + 1 if midi % 12 >= 9 else octave}"
        case LabelScheme.TECHNICIAN:
            return f"{name}{int(key)}"
        case LabelScheme.HELMHOLTZ:
            return name.lower() + "'" * (octave - 3) if octave >= 3 else name + "," * (2 - octave)


def parse(text: str, scheme: LabelScheme = LabelScheme.SCIENTIFIC) -> Key:
    """Read a label written in the given scheme, with the choir after a point unless that is the first.

    Raises
    ------
    BadInput : not a label of this scheme, or not on an 88-key piano.
    """
    stripped, point, choir = text.strip().partition(".")
    if not point:
        return _parse(stripped, scheme, text)
    if not (choir.isdecimal() and 1 <= int(choir) <= MOST_CHOIRS):
        raise BadInput("no such choir", value=text, allowed=f"1 to {MOST_CHOIRS} after the point")
    return in_choir(_parse(stripped, scheme, text), int(choir))


def _parse(stripped: str, scheme: LabelScheme, text: str) -> Key:
    if scheme is LabelScheme.KEY_NUMBER:
        return _on_piano(int(stripped), text) if stripped.isdecimal() else _refuse(text, scheme)
    if (form := _FORM.fullmatch(stripped)) is None:
        return _refuse(text, scheme)
    letter, accidental, tail = form.groups()
    step = _STEPS[letter.upper()] + _ACCIDENTALS[accidental]
    if scheme is LabelScheme.HELMHOLTZ:
        octave = _helmholtz_octave(letter, tail, text)
    elif re.fullmatch(r"-?\d+", tail) is None:
        return _refuse(text, scheme)
    elif scheme is LabelScheme.TECHNICIAN:
        return _technician(int(tail), step, text)
    else:
        octave = int(tail)
        if scheme is LabelScheme.ORDINAL and step >= _STEPS["A"]:
            octave -= 1
    return _on_piano(12 * (octave + 1) + step - MIDI_OF_KEY_0, text)


def _helmholtz_octave(letter: str, tail: str, text: str) -> int:
    marks = tail.replace("′", "'")
    if letter.islower() and set(marks) <= {"'"}:
        return 3 + len(marks)
    if letter.isupper() and set(marks) <= {","}:
        return 2 - len(marks)
    raise BadInput("not a Helmholtz label", value=text, allowed="C,, to c'''''")


def _technician(number: int, step: int, text: str) -> Key:
    key = _on_piano(number, text)
    if midi_of_key(key) % 12 != step % 12:
        raise BadInput("letter and key number disagree", value=text, allowed=label(key, LabelScheme.TECHNICIAN))
    return key


def _on_piano(number: int, text: str) -> Key:
    if not FIRST_KEY <= number <= LAST_KEY:
        raise BadInput("pitch is outside the piano", value=text, allowed="A0 to C8 (keys 1 to 88)")
    return Key(number)


def _refuse(text: str, scheme: LabelScheme) -> Key:
    examples = {LabelScheme.KEY_NUMBER: "40", LabelScheme.HELMHOLTZ: "c'", LabelScheme.TECHNICIAN: "C40"}
    raise BadInput(f"not a {scheme.value} label", value=text, allowed=f"for example {examples.get(scheme, 'C4')}")


def parse_spans(text: str, scheme: LabelScheme = LabelScheme.SCIENTIFIC) -> tuple[Key, ...]:
    """Read keys and runs of keys ("A0,C4-E4"), each once, ascending; in Helmholtz labels blanks stand between them.

    Raises
    ------
    BadInput : a label that is none, a run that goes down or to another choir, or nothing at all.
    """
    found: set[Key] = set()
    for part in re.split(r"[\s;]+" if scheme is LabelScheme.HELMHOLTZ else r"[\s;,]+", text.strip()):
        first, dash, last = part.replace("–", "-").partition("-")
        low = parse(first, scheme)
        high = parse(last, scheme) if dash else low
        if choir_of(low) != choir_of(high):
            raise BadInput("a run of keys stays in one choir", value=part)
        if high < low:
            raise BadInput("a run of keys goes upwards", value=part, hint=f"{last}-{first}?")
        found.update(Key(key) for key in range(low, high + 1))
    return tuple(sorted(found))


def spans(keys: Iterable[Key], scheme: LabelScheme = LabelScheme.SCIENTIFIC) -> str:
    """Keys as people list them, runs together: "A0, C4–E4"."""
    runs: list[list[Key]] = []
    for key in sorted(keys):
        if runs and key == runs[-1][-1] + 1:
            runs[-1].append(key)
        else:
            runs.append([key])
    return ", ".join(
        label(run[0], scheme) if len(run) == 1 else f"{label(run[0], scheme)}–{label(run[-1], scheme)}" for run in runs
    )
