"""Figure sheets: one row a figure. The format is documented in docs/figure-sheet.md."""

from __future__ import annotations

from pathlib import Path

import pytest

from rimside.errors import BadInput
from rimside.pitch import LabelScheme
from rimside.score.model import Mute, Technique, Touch
from rimside.score.read_sheet import COLUMNS, read_sheet, template_csv
from rimside.score.result import Reading
from tests.score.build import VOCABULARY

HEAD = "#tempo,60\n#meter,4/4\nstart,length,technique,pitches,rhythm,times,part,spot,touch,mute,essential\n"
DOCS = Path(__file__).parents[2] / "docs"


def read(*rows: str, head: str = HEAD, scheme: LabelScheme = LabelScheme.SCIENTIFIC) -> Reading:
    return read_sheet((head + "\n".join(rows)).encode(), "score.csv", VOCABULARY, scheme)


def test_a_rhythm_is_equal_shares_of_the_length() -> None:
    """x..x..x. over four beats at 60: strokes at 0, 1.5 and 3 s, each ringing to the next."""
    (figure,) = read("1:1,4 beats,col legno,E3 G3,x..x..x.").figures
    assert [(stroke.onset_s, stroke.until_s, stroke.key) for stroke in figure.strokes] == [
        (0.0, 1.5, 32),
        (1.5, 3.0, 35),
        (3.0, 4.0, 32),
    ]
    assert (figure.technique, figure.keys, figure.end_s) == (Technique.WOOD_HAMMER, (32, 35), 4.0)


def test_times_repeats_the_length() -> None:
    """Sixteen times one beat: sixteen strokes, sixteen cycles, sixteen seconds."""
    (figure,) = read("2:1,1 beats,pizz.,C4,x,16").figures
    assert (figure.start_s, figure.end_s, len(figure.strokes), figure.cycles) == (4.0, 20.0, 16, 16)
    assert (figure.bar, float(figure.beat)) == ("2", 1.0)


def test_chords_with_plus() -> None:
    """C4+E4 is struck together."""
    (figure,) = read("1:1,1 bars,pizz.,C4+E4,x...").figures
    assert [stroke.key for stroke in figure.strokes] == [40, 44]
    assert figure.onsets_s == (0.0,)


def test_seconds_need_no_bars() -> None:
    """Rows in seconds stand without tempo and meter."""
    (figure,) = read("83.5s,3.5s,line bow,A2,sustained", head=HEAD.split("\n", 2)[2]).figures
    assert (figure.start_s, figure.end_s) == (83.5, 87.0)


def test_touch_mute_spot_tremolo_and_essential() -> None:
    """The optional columns, and the part that the technique names when it is empty."""
    touched, beaten = read(
        "1:1,1 bars,pizz.,C4,tremolo,1,,,1/3,finger mute,yes", "2:1,1 bars,beater,,x.x.,1,Frame,frame"
    ).figures
    assert (touched.touch, touched.mute, touched.tremolo, touched.essential, touched.part) == (
        Touch(k=1, n=3),
        Mute.FINGER,
        True,
        True,
        "finger pluck",
    )
    assert (beaten.spot, beaten.keys, beaten.part, beaten.id) == ("frame", (), "Frame", "F-01")


@pytest.mark.parametrize(
    ("cell", "n"), [("partial 3", 3), ("3rd harmonic", 3), ("sounds G5", 3), ("sounds C5", 2), ("Sounds A#6", 7)]
)
def test_a_partial_at_any_node(cell: str, n: int) -> None:
    """By its number or by the pitch that sounds (the seventh is written as the nearest note), on C4."""
    (touched,) = read(f"1:1,1 bars,pizz.,C4,x...,1,,,{cell},").figures
    assert touched.touch == Touch(k=1, n=n, loose=True)
    assert touched.motif.split()[-2:-1] == [str(n)]


def test_a_sounding_pitch_is_in_the_sheets_labels() -> None:
    """With ordinal labels, A5 is 440 Hz: the octave of A4."""
    (touched,) = read("1:1,1 bars,pizz.,A4,x...,1,,,sounds A5,", scheme=LabelScheme.ORDINAL).figures
    assert touched.touch == Touch(k=1, n=2, loose=True)


def test_tempo_and_meter_change() -> None:
    """From bar 3 on: 120 and 3/4. Bar 5 begins after two bars of 4 s and two of 1.5 s; a length goes through."""
    head = "#tempo,60\n#tempo,120,3\n#meter,4/4\n#meter,3/4,3\n" + HEAD.split("\n", 2)[2]
    late, across = sorted(
        read("5:1,1 bars,pizz.,C4,x", "2:1,8 beats,line bow,C4,sustained", head=head).figures,
        key=lambda figure: -figure.start_s,
    )
    assert (late.start_s, late.end_s) == (11.0, 12.5)
    assert (across.start_s, across.end_s) == (4.0, 4.0 + 4.0 + 2.0)


def test_the_label_scheme_of_the_sheet_wins() -> None:
    """#labels says which scheme; without it the caller's holds. A5 ordinal and A4 scientific are key 49."""
    row = "1:1,1 bars,pizz.,{},x"
    assert read(row.format("A5"), head="#labels,ordinal\n" + HEAD).figures[0].keys == (49,)
    assert read(row.format("a'"), scheme=LabelScheme.HELMHOLTZ).figures[0].keys == (49,)
    assert read(row.format("A4")).figures[0].keys == (49,)


@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_semicolons_tabs_and_a_byte_order_mark(delimiter: str) -> None:
    """What spreadsheets of other countries save is read too."""
    text = (HEAD + "1:1,1 bars,pizz.,C4,x").replace(",", delimiter)
    assert len(read_sheet(b"\xef\xbb\xbf" + text.encode(), "s.csv", VOCABULARY, LabelScheme.SCIENTIFIC).figures) == 1


def test_notes_come_with_the_figures() -> None:
    """The score of a sheet holds each stroke as a note, in quarters and seconds, with bars and beats."""
    reading = read("1:3,2 beats,pizz.,C4 D4,xx")
    assert [
        (n.midi, float(n.onset_quarters), float(n.duration_quarters), n.bar, float(n.beat)) for n in reading.score.notes
    ] == [
        (60.0, 2, 1, "1", 3),
        (62.0, 3, 1, "1", 4),
    ]


def test_the_template_is_a_sheet() -> None:
    """The commented template names every column and can be read as it stands."""
    reading = read_sheet(template_csv().encode(), "score.csv", VOCABULARY, LabelScheme.SCIENTIFIC)
    assert len(reading.figures) == 5
    assert reading.score.title == "Name of the piece"
    assert all(f"#   {name}" in template_csv() for name in COLUMNS)


@pytest.mark.parametrize(("cell", "dry"), [("yes", True), ("secco", True), ("", False), ("no", False), ("l.v.", False)])
def test_a_row_may_be_dry(cell: str, dry: bool) -> None:
    """Yes, no, or a word of the vocabulary; the notes say it too."""
    reading = read(
        f"1:1,1 beats,pizz.,C4,x,{cell}", head="#tempo,60\n#meter,4/4\nstart,length,technique,pitches,rhythm,dry\n"
    )
    assert [one.dry for one in reading.figures] == [one.dry for one in reading.score.notes] == [dry]
    with pytest.raises(BadInput, match="dry"):
        read("1:1,1 beats,pizz.,C4,x,loud", head="#tempo,60\n#meter,4/4\nstart,length,technique,pitches,rhythm,dry\n")


def test_a_row_too_fast_for_one_player_is_split() -> None:
    """Sixteen strokes in one second: two threads, each every second stroke, with bar and beat of its own."""
    first, second = read("1:1,1 beats,col legno,C4,xxxxxxxxxxxxxxxx").figures
    assert [len(one.strokes) for one in (first, second)] == [8, 8]
    assert first.weave == second.weave == first.id
    assert (first.thread, second.thread, first.threads) == (1, 2, 2)
    assert (second.bar, float(second.beat)) == ("1", 1.0625)


def test_the_documentation_names_every_column() -> None:
    """docs/figure-sheet.md explains each column and each setting."""
    text = (DOCS / "figure-sheet.md").read_text(encoding="utf-8")
    assert [name for name in COLUMNS if f"`{name}`" not in text] == []
    assert [name for name in ("#tempo", "#meter", "#title", "#labels") if name not in text] == []


@pytest.mark.parametrize(
    ("row", "column", "what"),
    [
        ("1,4 beats,pizz.,C4,x", "start", "not a start"),
        ("1:9,4 beats,pizz.,C4,x", "start", "the bar has no such beat"),
        ("0:1,4 beats,pizz.,C4,x", "start", "no such bar"),
        ("1:1,4,pizz.,C4,x", "length", "the length has no unit"),
        ("1:1,0 beats,pizz.,C4,x", "length", "not a length"),
        ("1:1,-4 beats,pizz.,C4,x", "length", "not a length"),
        ("1:1,,pizz.,C4,x", "length", "the cell is empty"),
        ("1:1,4 beats,scratch,C4,x", "technique", "unknown technique"),
        ("1:1,4 beats,pizz.,H4,x", "pitches", "not a scientific label"),
        ("1:1,4 beats,pizz.,C9,x", "pitches", "pitch is outside the piano"),
        ("1:1,4 beats,pizz.,,x", "pitches", "a row has pitches or a spot, not both and not neither"),
        ("1:1,4 beats,line bow,C4 D4,sustained", "pitches", "line bow takes at most 1 a row"),
        ("1:1,4 beats,pizz.,C4 D4,sustained", "pitches", "sustained pitches sound together"),
        ("1:1,4 beats,beater,C4,x", "technique", "beaters play spots, everything else plays strings"),
        ("1:1,4 beats,pizz.,C4,xox", "rhythm", "not a rhythm"),
        ("1:1,4 beats,pizz.,C4,...", "rhythm", "the rhythm has no stroke"),
        ("1:1,4 beats,pizz.,C4,x,0", "times", "not a number of times"),
        ("1:1,4 beats,pizz.,C4,x,1,,,2/4", "touch", "not a node"),
        ("1:1,4 beats,pizz.,C4,x,1,,,partial 17", "touch", "not a node"),
        ("1:1,4 beats,pizz.,C4,x,1,,,sounds F5", "touch", "no partial of the course sounds there"),
        ("1:1,4 beats,pizz.,C4 D4,x.,1,,,sounds G5", "touch", "a sounding pitch is for one course"),
        ("1:1,4 beats,pizz.,C4,x,1,,,sounds high", "touch", "not a scientific label"),
        ("1:1,4 beats,pizz.,C4,x,1,,,,glove", "mute", "unknown mute"),
        ("1:1,4 beats,pizz.,C4,x,1,,,,,maybe", "essential", "neither yes nor no"),
    ],
)
def test_bad_cells(row: str, column: str, what: str) -> None:
    """Each names file, line, column, value and what is allowed."""
    with pytest.raises(BadInput) as caught:
        read(row)
    assert caught.value.what == what
    assert caught.value.where.startswith("score.csv, line 4")
    assert column in caught.value.where
    assert caught.value.allowed


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", "the sheet has no row of column names"),
        ("start,length\n", "columns are missing"),
        (HEAD.replace("touch", "tuoch"), "unknown column"),
        ("#tempo,fast\n" + HEAD, "not a tempo"),
        ("#meter,4/5\n" + HEAD, "not a meter"),
        ("#labels,english\n" + HEAD, "unknown label scheme"),
        ("#temp,60\n" + HEAD, "unknown setting"),
        (HEAD + "1:1,4 beats,pizz.,C4,x,1,,,,,,,,extra", "the row has more cells than there are columns"),
        (HEAD.replace("#tempo,60\n", "") + "1:1,4 beats,pizz.,C4,x", "bars and beats need a tempo and a meter"),
    ],
)
def test_bad_sheets(text: str, what: str) -> None:
    """Head, settings and shape of the sheet are checked."""
    with pytest.raises(BadInput) as caught:
        read(head=text)
    assert caught.value.what == what


def test_a_sheet_in_another_encoding_is_refused() -> None:
    """Latin-1 is refused with the byte and a hint."""
    with pytest.raises(BadInput, match="not UTF-8"):
        read_sheet("Schlägel".encode("latin-1"), "score.csv", VOCABULARY, LabelScheme.SCIENTIFIC)
