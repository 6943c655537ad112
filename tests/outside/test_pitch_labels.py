"""Keys, MIDI numbers, frequencies and labels against published conventions.

Frequencies: ISO 16:1975 (440 Hz) and equal temperament, f = 440 * 2^((k - 49) / 12); the table below is the usual one,
computed to 5 decimals (a published table gives the same to 2 or 3). Labels: scientific pitch notation (American
National Standard, C4 is middle C), English Helmholtz notation; the ordinal scheme from usage ("A5" for 440 Hz when the
lowest A is A1), technicians' letter + key number from piano technicians' lists (C40 is middle C).
"""

from __future__ import annotations

import pytest

from rimside.errors import BadInput
from rimside.pitch import Key, LabelScheme, key_of_midi, label, midi_of_key, parse
from rimside.units import key_hz

# key, MIDI, scientific, Helmholtz (English), Hz
TABLE = (
    (1, 21, "A0", "A,,", 27.50000),
    (4, 24, "C1", "C,", 32.70320),
    (16, 36, "C2", "C", 65.40639),
    (21, 41, "F2", "F", 87.30706),
    (28, 48, "C3", "c", 130.81278),
    (40, 60, "C4", "c'", 261.62557),
    (49, 69, "A4", "a'", 440.00000),
    (52, 72, "C5", "c''", 523.25113),
    (64, 84, "C6", "c'''", 1046.50226),
    (76, 96, "C7", "c''''", 2093.00452),
    (88, 108, "C8", "c'''''", 4186.00904),
)
# A list of all C's as piano technicians write them (public forum archive): letter + key number.
TECHNICIANS = ("C88", "C76", "C64", "C52", "C40", "C28", "C16", "C4", "A1")
# From usage: A, A-sharp and B are one higher than scientific, C to G-sharp the same.
ORDINAL = (
    (1, "A1"),
    (2, "A♯1"),
    (3, "B1"),
    (4, "C1"),
    (12, "G♯1"),
    (13, "A2"),
    (49, "A5"),
    (51, "B5"),
    (52, "C5"),
    (85, "A8"),
    (87, "B8"),
    (88, "C8"),
)


@pytest.mark.parametrize(("key", "midi", "scientific", "helmholtz", "hertz"), TABLE)
def test_the_frequency_table(key: int, midi: int, scientific: str, helmholtz: str, hertz: float) -> None:
    """Each row holds in every direction."""
    assert key_of_midi(midi) == key
    assert midi_of_key(Key(key)) == midi
    assert key_hz(key) == pytest.approx(hertz, abs=5e-6)
    assert label(Key(key), LabelScheme.SCIENTIFIC) == scientific
    assert label(Key(key), LabelScheme.HELMHOLTZ) == helmholtz
    assert parse(scientific, LabelScheme.SCIENTIFIC) == key
    assert parse(helmholtz, LabelScheme.HELMHOLTZ) == key
    assert parse(str(key), LabelScheme.KEY_NUMBER) == key


@pytest.mark.parametrize("written", TECHNICIANS)
def test_technicians_labels(written: str) -> None:
    """Letter and key number; the same text is another key in scientific pitch, where it exists at all."""
    key = parse(written, LabelScheme.TECHNICIAN)
    assert key == int(written[1:])
    assert label(key, LabelScheme.TECHNICIAN) == written


def test_c4_is_ambiguous_and_never_guessed() -> None:
    """Middle C in scientific pitch, the lowest C to a technician."""
    assert parse("C4", LabelScheme.SCIENTIFIC) == 40
    assert parse("C4", LabelScheme.TECHNICIAN) == 4
    with pytest.raises(BadInput, match="letter and key number disagree"):
        parse("C5", LabelScheme.TECHNICIAN)


@pytest.mark.parametrize(("key", "written"), ORDINAL)
def test_ordinal_labels(key: int, written: str) -> None:
    """Each letter counted from its lowest occurrence on the instrument."""
    assert label(Key(key), LabelScheme.ORDINAL) == written
    assert parse(written, LabelScheme.ORDINAL) == key


def test_the_ordinal_scheme_is_counting() -> None:
    """A slow twin: walk up the keyboard and count how often each letter name has come."""
    names = ("A", "A♯", "B", "C", "C♯", "D", "D♯", "E", "F", "F♯", "G", "G♯")
    seen = dict.fromkeys(names, 0)
    for key in range(1, 89):
        name = names[(key - 1) % 12]
        seen[name] += 1
        assert label(Key(key), LabelScheme.ORDINAL) == f"{name}{seen[name]}"


@pytest.mark.parametrize("scheme", list(LabelScheme))
def test_every_key_comes_back_from_its_label(scheme: LabelScheme) -> None:
    """All 88 labels of a scheme are different and read back to their key."""
    labels = [label(Key(key), scheme) for key in range(1, 89)]
    assert len(set(labels)) == 88
    assert [parse(written, scheme) for written in labels] == list(range(1, 89))


@pytest.mark.parametrize(
    ("written", "scheme", "key"),
    [
        ("Bb4", LabelScheme.SCIENTIFIC, 50),
        ("B♭4", LabelScheme.SCIENTIFIC, 50),
        ("A#4", LabelScheme.SCIENTIFIC, 50),
        ("Cb4", LabelScheme.SCIENTIFIC, 39),  # C-flat 4 is B3: the octave belongs to the letter
        ("B#3", LabelScheme.SCIENTIFIC, 40),
        ("Bb1", LabelScheme.ORDINAL, 2),
        ("c′", LabelScheme.HELMHOLTZ, 40),
        ("c#''", LabelScheme.HELMHOLTZ, 53),
        ("B,,", LabelScheme.HELMHOLTZ, 3),
    ],
)
def test_spellings(written: str, scheme: LabelScheme, key: int) -> None:
    """Sharps, flats and their signs."""
    assert parse(written, scheme) == key


@pytest.mark.parametrize(
    ("written", "scheme"),
    [
        ("H4", LabelScheme.SCIENTIFIC),  # German B natural is not guessed
        ("G0", LabelScheme.SCIENTIFIC),
        ("C9", LabelScheme.SCIENTIFIC),
        ("C", LabelScheme.SCIENTIFIC),
        ("", LabelScheme.SCIENTIFIC),
        ("C4", LabelScheme.HELMHOLTZ),
        ("C'", LabelScheme.HELMHOLTZ),
        ("c,", LabelScheme.HELMHOLTZ),
        ("0", LabelScheme.KEY_NUMBER),
        ("89", LabelScheme.KEY_NUMBER),
        ("A4", LabelScheme.KEY_NUMBER),
    ],
)
def test_what_is_no_label(written: str, scheme: LabelScheme) -> None:
    """Refused, never guessed."""
    with pytest.raises(BadInput):
        parse(written, scheme)
