"""The MIDI reader on files written byte by byte. Authority: Standard MIDI Files 1.0, MIDI 1.0."""

from __future__ import annotations

import pytest

from rimside.errors import BadInput
from rimside.score.model import Pedal, Score, Technique
from rimside.score.read_midi import read_midi
from tests.score.build import VOCABULARY, listed
from tests.score.midi_bytes import METER_3_4, TEMPO_60, after, header, text, track

ON, OFF, CONTROL = 0x90, 0x80, 0xB0


def read(*chunks: bytes, kind: int = 1, division: int = 96) -> Score:
    return read_midi(header(kind, len(chunks), division) + b"".join(chunks), "small.mid", VOCABULARY)


def test_notes_in_quarters_and_seconds() -> None:
    """Two notes of 96 and 48 ticks at 96 ticks a quarter and 60 quarters a minute; a note-on of velocity 0 ends one."""
    notes = track(
        TEMPO_60,
        after(0, ON, 60, 64),  # C4 at once
        after(96, OFF, 60, 0),  # ... a quarter long
        after(48, ON, 62, 100),  # D4 after half a quarter's silence
        after(48, ON, 62, 0),  # ... half a quarter long
    )
    found = [
        (n.midi, float(n.onset_quarters), float(n.duration_quarters), n.onset_s, n.duration_s)
        for n in read(notes).notes
    ]
    assert found == [(60.0, 0, 1, 0.0, 1.0), (62.0, 1.5, 0.5, 1.5, 0.5)]


def test_running_status() -> None:
    """Messages without a status byte repeat the last one."""
    notes = track(TEMPO_60, after(0, ON, 60, 64), after(96, 60, 0))
    assert [n.duration_quarters for n in read(notes).notes] == [1]


def test_bars_and_beats_from_the_time_signature() -> None:
    """In 3/4 the fifth quarter is bar 2, beat 2."""
    notes = track(TEMPO_60, METER_3_4, after(384, ON, 60, 64), after(96, OFF, 60, 0))
    assert [(n.bar, float(n.beat)) for n in read(notes).notes] == [("2", 2)]


def test_a_time_signature_inside_a_bar_begins_a_new_one() -> None:
    """3/4 after one quarter of 4/4: the first bar is one quarter long."""
    notes = track(TEMPO_60, after(96, *METER_3_4[1:]), after(0, ON, 60, 64), after(96, OFF, 60, 0))
    assert [(n.bar, float(n.beat)) for n in read(notes).notes] == [("2", 1)]


def test_tracks_are_parts_and_words_govern() -> None:
    """Track names decide techniques, text events change them, words in a track without notes hold for all."""
    conductor = track(text(0x03, "A piece"), TEMPO_60, text(0x06, "A"), text(0x01, "essential", 96))
    first = track(
        text(0x03, "Line bow"), after(0, ON, 60, 64), after(96, OFF, 60, 0), after(0, ON, 60, 64), after(96, OFF, 60, 0)
    )
    second = track(text(0x03, "Keys"), text(0x01, "Schlägel gesucht"), after(96, ON, 64, 64), after(96, OFF, 64, 0))
    score = read(conductor, first, second)
    assert (score.title, score.parts) == ("A piece", ("Line bow", "Keys"))
    assert [(n.part, n.technique, n.essential, n.section) for n in score.notes] == [
        ("Line bow", Technique.LINE_BOW, False, "A"),
        ("Line bow", Technique.LINE_BOW, True, "A"),
        ("Keys", Technique.KEYS, True, "A"),
    ]
    assert listed(score) == ["Schlägel gesucht"]


def test_dry_words_in_text_events() -> None:
    """ "secco" holds from where it stands until "l.v."."""
    notes = [after(0, ON, 60, 64), after(96, OFF, 60, 0)]
    score = read(track(text(0x03, "Keys"), TEMPO_60, *notes, text(0x01, "secco"), *notes, text(0x01, "l.v."), *notes))
    assert [note.dry for note in score.notes] == [False, True, False]


def test_cue_points_are_cues() -> None:
    """Meta event 07 is a sign for the players."""
    score = read(track(TEMPO_60, text(0x07, "lid up", 96), after(0, ON, 60, 64), after(96, OFF, 60, 0)))
    assert [(cue.text, cue.onset_s) for cue in score.cues] == [("lid up", 1.0)]


def test_pedals() -> None:
    """Controllers 64, 66 and 67; values from 64 on are down, a pedal left down stays to the end."""
    pedals = track(
        TEMPO_60,
        after(0, CONTROL, 64, 127),  # damper down
        after(96, CONTROL, 66, 64),  # sostenuto down at the least value that is
        after(96, CONTROL, 64, 63),  # damper up at the greatest value that is
        after(0, CONTROL, 67, 100),  # una corda down, for good
        after(0, ON, 60, 64),
        after(96, OFF, 60, 0),
        after(0, CONTROL, 66, 0),
    )
    assert [(span.pedal, span.down_s, span.up_s) for span in read(pedals).pedals] == [
        (Pedal.DAMPER, 0.0, 2.0),
        (Pedal.SOSTENUTO, 1.0, 3.0),
        (Pedal.UNA_CORDA, 2.0, 4.0),
    ]


def test_one_track_is_split_by_channel() -> None:
    """Format 0: each channel is a part; the tenth is percussion, its notes spots."""
    notes = track(
        TEMPO_60,
        after(0, ON, 60, 64),
        after(0, ON | 9, 36, 64),
        after(96, OFF, 60, 0),
        after(0, OFF | 9, 36, 0),
    )
    score = read(notes, kind=0)
    assert [(n.part, n.midi, n.spot) for n in score.notes] == [
        ("Channel 1", 60.0, None),
        ("Channel 10", None, "percussion 36"),
    ]


def test_a_note_that_never_ends_is_listed() -> None:
    """It lasts to the end of its part, and a person hears of it."""
    score = read(track(TEMPO_60, after(0, ON, 60, 64), after(96, CONTROL, 1, 0)))
    assert [n.duration_quarters for n in score.notes] == [1]
    assert listed(score) == ["MIDI note 60 is never let go"]


# Time signature 1/64 and a note of 2 097 024 ticks, 21 844 quarters at 96 ticks: 349 504 bars.
TINY_BARS, TOO_MANY = METER_3_4.replace(b"\x03\x02", b"\x01\x06"), "the file has too many bars"
GOOD = header() + track(TEMPO_60, after(0, ON, 60, 64), after(96, OFF, 60, 0))


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"", "not a Standard MIDI File"),
        (b"MThd\x00\x00", "not a Standard MIDI File"),
        (b"RIFF" + GOOD, "not a Standard MIDI File"),
        (GOOD[:-6], "the MIDI file is damaged"),
        (GOOD[:20], "the MIDI file is damaged"),
        (GOOD.replace(b"MTrk", b"MTrx"), "the MIDI file is damaged"),
        (GOOD.replace(bytes([OFF, 60, 0]), bytes([OFF, 0x3C, 0xFF])), "the MIDI file is damaged"),
        (header(kind=2) + track(), "MIDI format is not read"),
        (header(division=0xE728) + track(), "time is divided by SMPTE frames"),
        (header(division=0) + track(), "no ticks in a quarter"),
        (header() + track(after(0, ON, 60, 64), b"\xff\xff\xff\x7f" + bytes([OFF, 60, 0])), "the file is too long"),
        (header() + track(METER_3_4.replace(b"\x03\x02", b"\x03\xc8")), "time signature is out of range"),
        (header() + track(TINY_BARS, after(0, ON, 60, 64), b"\xff\xff\x00" + bytes([OFF, 60, 0])), TOO_MANY),
    ],
)
def test_damaged_files(data: bytes, what: str) -> None:
    """Each kind of damage gives one message with file, value and what is allowed."""
    with pytest.raises(BadInput) as caught:
        read_midi(data, "broken.mid", VOCABULARY)
    assert caught.value.what == what
    assert "broken.mid" in caught.value.where
    assert caught.value.allowed


@pytest.mark.parametrize("cut", range(14, len(GOOD)))
def test_every_truncation_is_refused(cut: int) -> None:
    """Wherever the file ends too early, it is refused and never read in part."""
    with pytest.raises(BadInput, match=r"broken\.mid"):
        read_midi(GOOD[:cut], "broken.mid", VOCABULARY)


def test_a_note_off_the_piano_is_refused() -> None:
    """MIDI 20 is below the lowest A: part, bar, value, allowed."""
    with pytest.raises(BadInput) as caught:
        read(track(text(0x03, "Keys"), after(0, ON, 20, 64), after(96, OFF, 20, 0)))
    assert caught.value.where == "small.mid, part Keys, bar 1"
    assert "21 to 108" in caught.value.allowed
