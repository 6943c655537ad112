"""Which reader takes a file, and the plain data of `rimside read --json`."""

from __future__ import annotations

import json

import pytest

from rimside.errors import BadInput
from rimside.score.read_sheet import template_csv
from rimside.score.reading import read
from rimside.score.to_json import reading_json
from tests.score.build import VOCABULARY, bars, file_of, note, words
from tests.score.midi_bytes import TEMPO_60, after, header, track

XML = file_of(bars(words("pizz.") + note(), note("E")), names=["Keys"])
MIDI = header() + track(TEMPO_60, after(0, 0x90, 60, 64), after(96, 0x80, 60, 0))


@pytest.mark.parametrize(
    ("data", "filename", "notes"),
    [
        (XML, "score.musicxml", 2),
        (XML, "score.XML", 2),
        (XML, "score", 2),
        ("\n<?xml version='1.0'?>".strip().encode() + XML, "score.mxl", 2),
        (XML.decode().encode("utf-16"), "score.xml", 2),
        (MIDI, "score.mid", 1),
        (MIDI, "score", 1),
        (template_csv().encode(), "score.csv", 1 + 6 + 16 + 1 + 24),
    ],
)
def test_the_bytes_or_the_name_choose_the_reader(data: bytes, filename: str, notes: int) -> None:
    """MusicXML, MIDI and sheets are told apart by their first bytes, by their suffix where those are silent."""
    assert len(read(data, filename, VOCABULARY).score.notes) == notes


@pytest.mark.parametrize(
    ("data", "filename", "what"),
    [
        (b"", "score.musicxml", "the file is empty"),
        (b"\x00\x01", "score.pdf", "this kind of file is not read"),
        (b"\x00\x01", "score.mid", "not a Standard MIDI File"),
        (b"\x00\x01", "score.mxl", "the file is not well-formed XML"),
        (b"\x00\x01", "score.csv", "unknown column"),
    ],
)
def test_other_files_are_refused(data: bytes, filename: str, what: str) -> None:
    """What cannot be read says why, and where."""
    with pytest.raises(BadInput) as caught:
        read(data, filename, VOCABULARY)
    assert caught.value.what == what
    assert filename in caught.value.where


def test_json_has_the_promised_shape() -> None:
    """docs/design.md section 7: notes, figures and what was not understood, in plain types."""
    data = json.loads(json.dumps(reading_json(read(XML, "score.musicxml", VOCABULARY))))
    assert {"notes", "figures", "not_understood"} <= set(data)
    first = data["notes"][0]
    promised = {
        "part": "Keys",
        "midi": 60,
        "onset_quarters": 0.0,
        "duration_quarters": 4.0,
        "onset_s": 0.0,
        "duration_s": 4.0,
        "bar": "1",
        "beat": 1.0,
        "pass": 1,
        "grace": False,
        "technique": "finger pluck",
    }
    assert {name: first[name] for name in promised} == promised
    figure = data["figures"][0]
    assert (figure["id"], figure["keys"], figure["onsets_s"]) == ("K-01", [40, 44], [0.0, 4.0])
    assert "spot" not in figure


def test_problems_of_figures_reach_the_list() -> None:
    """Notes that no figure holds are listed with the rest."""
    data = reading_json(read(file_of(bars(note())), "score.musicxml", VOCABULARY))
    assert data["figures"] == []
    assert data["not_understood"] == [
        {"bar": "1", "part": "Part 1", "text": "no word or part name says how to play this"}
    ]


def test_reading_twice_gives_the_same() -> None:
    """No clock and no chance: the same bytes give equal readings."""
    assert read(XML, "score.musicxml", VOCABULARY) == read(XML, "score.musicxml", VOCABULARY)
