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
"""Key number: 1 is the lowest A, 88 the highest C."""

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
    """MIDI note number of a key (69 is 440 Hz)."""
    return int(key) + MIDI_OF_KEY_0


def label(key: Key, scheme: LabelScheme = LabelScheme.SCIENTIFIC) -> str:
    """The label of a key, black keys spelled with a sharp."""
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
    """Read a label written in the given scheme.

    Raises
    ------
    BadInput : not a label of this scheme, or not on an 88-key piano.
    """
    stripped = text.strip()
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
    BadInput : a label that is none, a run that goes down, or nothing at all.
    """
    found: set[Key] = set()
    for part in re.split(r"[\s;]+" if scheme is LabelScheme.HELMHOLTZ else r"[\s;,]+", text.strip()):
        first, dash, last = part.replace("–", "-").partition("-")
        low = parse(first, scheme)
        high = parse(last, scheme) if dash else low
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
