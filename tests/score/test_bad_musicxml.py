"""Bad MusicXML: each gives one BadInput that names file, place, value and what is allowed, and nothing else."""

from __future__ import annotations

import io
import zipfile

import pytest

from rimside.errors import BadInput
from rimside.score import musicxml_safe
from rimside.score.read_musicxml import read_musicxml
from tests.score.build import START, VOCABULARY, bars, file_of, note

CONTAINER = b'<container><rootfiles><rootfile full-path="score.xml"/></rootfiles></container>'
GOOD = file_of(bars(note()))


def refused(data: bytes, filename: str = "broken.musicxml") -> BadInput:
    with pytest.raises(BadInput) as caught:
        read_musicxml(data, filename, VOCABULARY)
    assert filename in caught.value.where
    assert "\n" not in str(caught.value)
    return caught.value


def packed(score: bytes, *, container: bytes | None = CONTAINER, name: str = "score.xml") -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        if container is not None:
            archive.writestr("META-INF/container.xml", container)
        archive.writestr(name, score)
    return buffer.getvalue()


@pytest.mark.parametrize("kept", [0.3, 0.6, 0.95])
def test_truncated_xml(kept: float) -> None:
    """A file cut short is refused whole, never read in part."""
    error = refused(GOOD[: int(len(GOOD) * kept)])
    assert "not well-formed" in error.what
    assert "cut short" in error.hint


def test_wrong_encoding() -> None:
    """Latin-1 bytes in a file that says UTF-8 are refused."""
    text = GOOD.decode().replace("Part 1", "Schlägel")
    error = refused(b'<?xml version="1.0" encoding="UTF-8"?>' + text.encode("latin-1"))
    assert "not well-formed" in error.what
    assert "encoding" in error.allowed


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_entities_are_refused(encoding: str) -> None:
    """Declared entities (a bomb needs them) are refused before anything is expanded, in any encoding."""
    levels = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10}">' for n in range(1, 10))
    doctype = f'<?xml version="1.0" encoding="{encoding}"?><!DOCTYPE score-partwise [<!ENTITY e0 "x">{levels}]>'
    bomb = doctype + GOOD.decode().replace("Part 1", "&e9;")
    assert "declares entities" in refused(bomb.encode(encoding)).what


def test_external_entities_are_refused() -> None:
    """A file that asks for another file is refused."""
    doctype = b'<!DOCTYPE score-partwise [<!ENTITY other SYSTEM "file:///etc/hostname">]>'
    assert "declares entities" in refused(doctype + GOOD.replace(b"Part 1", b"&other;")).what


def test_the_usual_doctype_is_fine() -> None:
    """The public identifier that exporters write declares nothing and is not fetched."""
    doctype = (
        b'<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
        b'"http://www.musicxml.org/dtds/partwise.dtd">'
    )
    assert len(read_musicxml(doctype + GOOD, "fine.musicxml", VOCABULARY).notes) == 1


@pytest.mark.parametrize("data", [b"", b"   ", b"hello", b"<html/>", b"\xff\xfe\x00"])
def test_not_musicxml(data: bytes) -> None:
    """Anything else is named for what it is not."""
    assert refused(data).what in ("the file is not well-formed XML", "not a MusicXML score")


def test_zip_bomb(monkeypatch: pytest.MonkeyPatch) -> None:
    """A container whose directory promises 1000 times its size is refused unread."""

    def never(*_: object, **__: object) -> bytes:
        raise AssertionError("the bomb was unpacked")

    data = packed(b"<score-partwise>" + b" " * 20_000_000)
    real = zipfile.ZipFile.open

    def guarded(self: zipfile.ZipFile, name: zipfile.ZipInfo, *rest: str) -> object:
        return never() if name.file_size > 1_000_000 else real(self, name, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(zipfile.ZipFile, "open", guarded)
    error = refused(data, "bomb.mxl")
    assert "unreasonable size" in error.what
    assert "score.xml" in error.where


def test_a_lying_zip_directory_is_caught() -> None:
    """More bytes than the directory says, or another checksum, is damage."""
    data = bytearray(packed(GOOD))
    at = data.rindex(b"PK\x01\x02") + 24  # offset of the uncompressed size in the last central directory record
    data[at : at + 4] = (50).to_bytes(4, "little")
    assert refused(bytes(data), "liar.mxl")


@pytest.mark.parametrize("kept", [40, 200])
def test_truncated_container(kept: int) -> None:
    """A container cut short is refused."""
    assert "damaged" in refused(packed(GOOD)[:kept], "short.mxl").what


def test_container_without_a_score() -> None:
    """A container that names nothing that it holds is refused, and says what it holds."""
    error = refused(packed(b"<x/>", container=None, name="notes.txt"), "empty.mxl")
    assert "no score" in error.what
    assert "notes.txt" in str(error)


def test_container_without_its_list_is_still_read() -> None:
    """One score and no META-INF leaves no doubt."""
    assert len(read_musicxml(packed(GOOD, container=None), "plain.mxl", VOCABULARY).notes) == 1


def test_too_large(monkeypatch: pytest.MonkeyPatch) -> None:
    """A plain file above the limit is refused before parsing."""
    monkeypatch.setattr(musicxml_safe, "MOST_XML_BYTES", 100)
    assert "too large" in refused(GOOD).what


def test_deep_nesting_is_refused() -> None:
    """Ten thousand elements inside each other are no score."""
    assert "not well-formed" in refused(b"<score-partwise>" + b"<a>" * 10_000 + b"</a>" * 10_000).what


def test_an_empty_part_is_refused() -> None:
    """A part without a bar is named."""
    error = refused(file_of("", names=["Keys"]))
    assert (error.what, "Keys" in error.where) == ("the part is empty", True)


def test_no_part_at_all_is_refused() -> None:
    """A score needs a part."""
    assert refused(b"<score-partwise><part-list/></score-partwise>").what == "the score has no part"


@pytest.mark.parametrize(("step", "octave"), [("G", 0), ("D", 8), ("C", 20)])
def test_a_note_off_the_piano_is_refused(step: str, octave: int) -> None:
    """Below A0 or above C8: file, part, bar, pitch and what is allowed."""
    error = refused(file_of(bars(note(), note(step, octave)), names=["Hammers"]))
    assert error.where == "broken.musicxml, part Hammers, bar 2"
    assert f"{step}{octave}" in str(error.value)
    assert "A0 to C8" in error.allowed


def test_the_ends_of_the_piano_are_on_it() -> None:
    """A0 and C8 themselves are read."""
    data = file_of(bars(note("A", 0), note("C", 8)))
    assert [one.midi for one in read_musicxml(data, "ends.xml", VOCABULARY).notes] == [21.0, 108.0]


@pytest.mark.parametrize(
    ("inside", "what"),
    [
        ("", "<note> has no <duration>"),
        ("<duration>-4</duration>", "<duration> of <note> is out of range"),
        ("<duration>four</duration>", "<duration> of <note> is not a number"),
        ("<duration>1e9</duration>", "<duration> of <note> is out of range"),
        ("<duration>1/0</duration>", "<duration> of <note> is not a number"),
        ("<duration>NaN</duration>", "<duration> of <note> is not a number"),
    ],
)
def test_lengths(inside: str, what: str) -> None:
    """Missing, negative, unreadable or endless lengths are refused with part and bar."""
    bad = f"<note><pitch><step>C</step><octave>4</octave></pitch>{inside}</note>"
    error = refused(file_of(bars(note(), bad), names=["Keys"]))
    assert error.what == what
    assert error.where == "broken.musicxml, part Keys, bar 2"
    assert error.allowed


@pytest.mark.parametrize("divisions", ["0", "-4", "many"])
def test_divisions(divisions: str) -> None:
    """Divisions that cannot divide are refused."""
    first = START.replace("<divisions>4", f"<divisions>{divisions}")
    assert "<divisions>" in refused(file_of(bars(note(), first=first))).what


@pytest.mark.parametrize(("step", "octave"), [("H", "4"), ("", "4"), ("C", "four"), ("C", "")])
def test_unreadable_pitches(step: str, octave: str) -> None:
    """A letter outside A to G or an octave that is no number is refused."""
    bad = f"<note><pitch><step>{step}</step><octave>{octave}</octave></pitch><duration>4</duration></note>"
    assert refused(file_of(bars(bad))).where == "broken.musicxml, part Part 1, bar 1"


def test_a_note_without_any_pitch_is_refused() -> None:
    """A note is pitched, unpitched or a rest."""
    assert refused(file_of(bars("<note><duration>4</duration></note>"))).what == "<note> has no pitch"
