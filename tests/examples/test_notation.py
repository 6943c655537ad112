"""The small notation of the demonstration: what it reads, what it refuses, what it writes."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from examples.notation import Part, Repeat, Section, events, musicxml

PART = Part(name="Felt hammer", short="F.", clef="G", spots=("lid",))


def one_section(text: str, bars: int = 1, repeat: Repeat | None = None) -> ET.Element:
    section = Section(mark="A", name="", pace="Lento", tempo=60, bars=bars, voices={PART.name: (text,)}, repeat=repeat)
    return ET.fromstring(musicxml("Test", (PART,), (section,)))


def test_a_note_longer_than_its_bar_is_tied_over() -> None:
    """Twelve sixteenths that begin on the third beat become eight and four, tied; the rest of the bar is silence."""
    pieces = events("r:8 D4:12", 2)
    assert [(piece.at, piece.length, piece.tied_from, piece.tied_to) for piece in pieces if piece.sounds] == [
        (8, 8, False, True),
        (16, 4, True, False),
    ]
    assert sum(piece.length for piece in pieces) == 32


def test_brackets_repeat_what_they_hold() -> None:
    """Three times two tokens are six events, and brackets may stand in brackets."""
    assert [piece.at for piece in events("[D4:1 r:1]*3", 1) if piece.sounds] == [0, 2, 4]
    assert len([piece for piece in events("[[D4:1]*2 r:2]*2", 1) if piece.sounds]) == 4


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("D4:12 | E4:4", "bar 1 has 12 sixteenths"),
        ("D4:16 | H4:4", "bar 2: no such note: H4:4"),
        ("D4:16 | D4:16", "2.0 bars instead of 1"),
        ("D4:4 (pluck)", "words after the last note"),
    ],
)
def test_a_slip_is_refused_with_its_place(text: str, says: str) -> None:
    """A bar that is too short, an unknown note, too much music and words without a note are no music."""
    with pytest.raises(ValueError, match=says):
        events(text, 1)


def test_an_accidental_is_shown_when_it_changes_and_not_again() -> None:
    """With F and C sharp in the signature: F needs a natural, the next F does not, F sharp needs its sharp back."""
    notes = one_section("F4:4 F4:4 F#4:4 C#5:4").findall(".//note")
    assert [note.findtext("accidental") for note in notes] == ["natural", None, "sharp", None]
    assert [note.findtext("pitch/alter") for note in notes] == [None, None, "1", "1"]


def test_short_notes_of_one_beat_share_a_beam() -> None:
    """A sixteenth, a rest and an eighth: no beam over a rest's gap alone, but one over the beat."""
    notes = one_section("D4:2 D4:2 D4:1 r:3 D4:8").findall(".//note")
    assert [[beam.text for beam in note.findall("beam")] for note in notes[:3]] == [["begin"], ["end"], []]


def test_repeat_signs_and_endings_stand_where_they_belong() -> None:
    """Bars 1 to 2 twice with endings in bars 2 and 3: forward at 1, bracket 1 and backward at 2, bracket 2 at 3."""
    root = one_section("", bars=3, repeat=Repeat(first=1, last=2, endings=((2, 2), (3, 3))))
    found = [
        (bar.get("number"), line.get("location"), [child.tag for child in line])
        for bar in root.findall(".//measure")
        for line in bar.findall("barline")
    ]
    assert found == [
        ("1", "left", ["repeat"]),
        ("2", "left", ["ending"]),
        ("2", "right", ["ending", "repeat"]),
        ("3", "left", ["ending"]),
        ("3", "right", ["ending"]),
    ]


def test_a_beat_names_its_spot() -> None:
    """A beat on a spot is an unpitched note whose instrument carries the spot's name."""
    root = one_section("@lid:4")
    note = root.find(".//note[unpitched]")
    assert note is not None
    instrument = note.find("instrument")
    assert instrument is not None
    named = root.find(f".//score-instrument[@id='{instrument.get('id')}']/instrument-name")
    assert named is not None and named.text == "lid"
