"""Reading a score of any kind: the bytes, or the name where they are silent, say which reader it takes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import PurePath

from rimside.errors import BadInput
from rimside.pitch import LabelScheme
from rimside.score.figures import make_figures
from rimside.score.playing import with_problems
from rimside.score.result import Reading
from rimside.score.words import Vocabulary

__all__ = ["KINDS", "Reading", "read"]

KINDS = ".musicxml, .xml, .mxl (MusicXML), .mid, .midi (Standard MIDI File), .csv (figure sheet)"
_XML_SUFFIXES = frozenset({".musicxml", ".xml", ".mxl"})
_MIDI_SUFFIXES = frozenset({".mid", ".midi", ".smf"})
_SHEET_SUFFIXES = frozenset({".csv", ".tsv"})
_XML_STARTS = (b"PK", b"<", b"\xef\xbb\xbf<", b"\xff\xfe<", b"\xfe\xff\0<")


def read(data: bytes, filename: str, vocabulary: Vocabulary, scheme: LabelScheme = LabelScheme.SCIENTIFIC) -> Reading:
    """Read a score and make its figures.

    Parameters
    ----------
    data : the bytes of the file.
    filename : its name, for the kind of file and for messages.
    vocabulary : what the words mean.
    scheme : how pitch labels of a figure sheet name octaves, unless the sheet says it itself.

    Raises
    ------
    BadInput : nothing that can be read, with file, place, value and what is allowed.
    """
    if not data.strip():
        raise BadInput("the file is empty", where=filename, value=len(data), allowed=KINDS)
    match _kind(data, filename):
        case "sheet":
            from rimside.score.read_sheet import read_sheet

            return replace(read_sheet(data, filename, vocabulary, scheme), instead=vocabulary.instead)
        case "midi":
            from rimside.score.read_midi import read_midi

            score = read_midi(data, filename, vocabulary)
        case "xml":
            from rimside.score.read_musicxml import read_musicxml

            score = read_musicxml(data, filename, vocabulary)
        case _:
            raise BadInput(
                "this kind of file is not read", where=filename, value=PurePath(filename).suffix, allowed=KINDS
            )
    figures, problems = make_figures(score)
    return Reading(score=with_problems(score, problems), figures=figures, instead=vocabulary.instead)


def _kind(data: bytes, filename: str) -> str:
    suffix = PurePath(filename).suffix.lower()
    if data.startswith(b"MThd"):
        return "midi"
    if data.lstrip().startswith(_XML_STARTS) and suffix not in _SHEET_SUFFIXES:
        return "xml"
    kinds = (("xml", _XML_SUFFIXES), ("midi", _MIDI_SUFFIXES), ("sheet", _SHEET_SUFFIXES))
    return next((kind for kind, suffixes in kinds if suffix in suffixes), "")
