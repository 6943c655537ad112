"""Our unrolled notes against music21's own expansion, and against MusicXML 4.0 where the two differ.

Pieces are read from the installed music21 wheel, never copied. Two programs that agree can both be wrong, so that the
second half works from the elements of public test files, with expectations derived by hand from the specification.
"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from rimside.score.model import Score
from rimside.score.read_musicxml import read_musicxml
from rimside.score.words import default_vocabulary

music21 = pytest.importorskip("music21")
WHEEL = Path(music21.__file__).parent
SUITE = WHEEL / "musicxml" / "lilypondTestSuite"
VOCABULARY = default_vocabulary()
# music21 warns about missing fonts, overfull bars and the like; our own warnings stay errors everywhere else.
pytestmark = pytest.mark.filterwarnings("ignore")

Sounding = Counter[tuple[float, float, float]]
"""Pitch (MIDI), onset and length in quarters, rounded to 0.001, and how often."""


def score_at(path: Path) -> Score:
    return read_musicxml(path.read_bytes(), path.name, VOCABULARY)


@cache
def our_score(name: str) -> Score:
    return score_at(WHEEL / "corpus" / name)


def ours(name: str) -> Sounding:
    return Counter(
        (round(note.midi, 3), round(float(note.onset_quarters), 3), round(float(note.duration_quarters), 3))
        for note in our_score(name).notes
        if note.midi is not None
    )


@cache
def theirs(name: str) -> Sounding:
    """music21: parse afresh, expand repeats, sounding pitch, ties stripped."""
    found: Sounding = Counter()
    parsed: Any = music21.converter.parse(WHEEL / "corpus" / name, forceSource=True)
    for part in parsed.parts:
        for element in part.expandRepeats().toSoundingPitch().stripTies().flatten().notes:
            if not isinstance(element, music21.harmony.Harmony):
                for pitch in element.pitches:
                    at, lasts = float(element.offset), float(element.quarterLength)
                    found[round(float(pitch.ps), 3), round(at, 3), round(lasts, 3)] += 1
    return found


def order(score: Score) -> str:
    return " ".join(bar.bar for bar in score.bars)


AGREED = (
    "bach/bwv66.6.mxl",  # pickup bar, implicit
    "bach/bwv281.mxl",  # pickup, split bars at phrase ends
    "bach/bwv119.9.mxl",  # implicit bars in mid-piece
    "bach/bwv42.7.mxl",  # six parts, repeats
    "bach/bwv248.23-s.mxl",  # instruments beside voices
    "leadSheet/fosterBrownHair.mxl",  # first and second endings
    "leadSheet/berlinAlexandersRagtime.mxl",  # endings, chord symbols that do not sound
    "mozart/k156/movement4.mxl",  # repeats, triplets, grace notes
    "mozart/k545/movement1_exposition.mxl",  # two staves
    "verdi/laDonnaEMobile.mxl",  # grace notes, voice and strings
    "webern/webern_dormi_jesu_op_16_no_2.mxl",  # transposing clarinet
    "schoenberg/opus19/movement2.mxl",  # chords in several voices
    "trecento/PMFC_13_01-Kyrie-Summe-Clementissime.xml",  # repeat times=
    "demos/two-parts.xml",
)


@pytest.mark.parametrize("name", AGREED)
def test_pitch_onset_and_length_agree(name: str) -> None:
    """Every note as played: the same pitch, onset and length, the same number of times."""
    assert sum(ours(name).values()) > 30
    assert ours(name) == theirs(name)


def test_a_first_ending_without_a_second_bracket() -> None:
    """Bars 1 to 16 of this rag: bar 16 stands under a first ending with an end-repeat, bar 17 under no bracket.

    MusicXML 4.0, ending: the bracket's number says on which pass its bars are played, so that the second pass leaves
    out bar 16 and goes on with 17. music21 does not repeat here; the other three strains have both brackets.
    """
    name = "joplin/maple_leaf_rag.mxl"

    def run(first: int, last: int) -> list[int]:
        return list(range(first, last + 1))

    by_hand = [
        0,
        *run(1, 16),
        *run(1, 15),
        17,
        *run(18, 33),
        *run(18, 32),
        *run(34, 50),
        *run(51, 66),
        *run(51, 65),
        67,
        *run(68, 83),
        *run(68, 82),
        84,
    ]
    assert order(our_score(name)) == " ".join(map(str, by_hand))
    assert theirs(name) != ours(name)


def test_one_bar_grid_for_all_parts() -> None:
    """In this movement single parts lack beats in bars 33, 40 and 42. MusicXML 4.0, score-partwise: measure n of each
    part is the same measure, so that a part that writes too little waits for the others. music21 lets it run ahead.
    """
    name = "haydn/opus1no1/movement4.mxl"
    odd = {(one.bar, one.part) for one in our_score(name).not_understood if "quarters here" in one.text}
    assert odd == {("33", "Cello"), ("40", "Violin I"), ("42", "Violin II")}
    assert lengths(ours(name)) == lengths(theirs(name))


def lengths(notes: Sounding) -> Counter[tuple[float, float]]:
    found: Counter[tuple[float, float]] = Counter()
    for (pitch, _, length), count in notes.items():
        found[pitch, length] += count
    return found


def test_backup_and_forward_move_the_cursor() -> None:
    """Bar 16 of the first part: 48 divisions of voice 1, backup 48, forward 24, then 23 of notes and forwards 0 and 1,
    at 24 a quarter. MusicXML 4.0, backup and forward: both voices end at 2 quarters, so that bar 17 begins at 32.
    music21 lets the bar last 2.958 quarters, in this part alone.
    """
    name = "haydn/opus1no1/movement5.mxl"
    starts = {bar.bar: bar.start_quarters for bar in our_score(name).bars if bar.pass_number == 1}
    assert starts["17"] == 32
    assert lengths(ours(name)) == lengths(theirs(name))
    assert any(round(onset % 1, 3) == 0.958 for _, onset, _ in theirs(name))


def test_tied_chord_notes_are_joined_one_by_one() -> None:
    """MusicXML 4.0, tie: ties belong to single notes. music21 leaves partly tied chords apart; what sounds of each
    pitch is the same in sum, and we have fewer, longer notes."""
    name = "schoenberg/opus19/movement6.mxl"
    ours_sum, theirs_sum = total(ours(name)), total(theirs(name))
    assert ours_sum == pytest.approx(theirs_sum)
    assert sum(ours(name).values()) < sum(theirs(name).values())


def test_cue_notes_are_silent() -> None:
    """Bars 5 and 9 of this song hold A3 and A4 as cue notes, 4 divisions at 8 a quarter.

    MusicXML 4.0, cue: "a silent note with no playback". music21 sounds them: of each pitch twice half a quarter.
    """
    name = "schumann_robert/dichterliebe_no2.xml"
    more = {pitch: length - total(ours(name)).get(pitch, 0.0) for pitch, length in total(theirs(name)).items()}
    assert {pitch: round(length, 3) for pitch, length in more.items() if abs(length) > 0.01} == {57.0: 1.0, 69.0: 1.0}


def total(notes: Sounding) -> dict[float, float]:
    found: dict[float, float] = {}
    for (pitch, _, length), count in notes.items():
        found[pitch] = found.get(pitch, 0.0) + length * count
    return found


def test_a_tie_needs_both_its_ends() -> None:
    """Into the second ending of this chorale (bars 4 and 6, the topmost B) only the tie's start is written.

    MusicXML 4.0, tie: start and stop are both written; so that the note in the ending is struck again.
    """
    name = "bach/bwv8.6.mxl"
    assert ours(name) - theirs(name) == Counter({(71.0, 35.0, 1.0): 1, (71.0, 36.0, 1.0): 1})
    assert theirs(name) - ours(name) == Counter({(71.0, 35.0, 2.0): 1})


def test_dal_segno_al_fine() -> None:
    """`<sound dalsegno>` in bar 54, `<sound segno>` in 13, `<sound fine>` in 42: 1 to 54, then 13 to 42. MusicXML 4.0,
    sound; music21 reads leaps in words only and stops at 54."""
    by_hand = [*range(1, 55), *range(13, 43)]
    assert order(our_score("handel/rinaldo/Lascia_chio_pianga.mxl")) == " ".join(map(str, by_hand))
    assert not theirs("handel/rinaldo/Lascia_chio_pianga.mxl") - ours("handel/rinaldo/Lascia_chio_pianga.mxl")


def test_da_capo_leaves_repeats_out() -> None:
    """Two repeats, trio of two repeats, `<sound dacapo>`, `<sound fine>` in bar 16. MusicXML 4.0, repeat, after-jump:
    without it repeats are not taken after the leap. music21 takes them again and plays more notes."""
    strains = [
        range(1, 9),
        range(1, 9),
        range(9, 17),
        range(9, 17),
        range(17, 25),
        range(17, 25),
        range(25, 33),
        range(25, 33),
        range(1, 17),
    ]
    by_hand = " ".join(str(bar) for strain in strains for bar in strain)
    assert order(our_score("schumann_clara/polonaise_op1n2.mxl")) == by_hand
    counts = [sum(read("schumann_clara/polonaise_op1n2.mxl").values()) for read in (ours, theirs)]
    assert counts[0] < counts[1]


# From here on: the public MusicXML test suite that the wheel carries, expectations by hand from the specification.


def suite(number: str) -> Score:
    (path,) = SUITE.glob(f"{number}-*")
    return score_at(path)


def notes_of(score: Score) -> list[tuple[float | None, Fraction, Fraction]]:
    return [(note.midi, note.onset_quarters, note.duration_quarters) for note in score.notes]


@pytest.mark.parametrize(
    ("number", "expected"),
    [
        ("45a", "1 1 1 1 1 2"),  # repeat times="5"
        ("45b", "1 2 1 3 4"),  # two endings
        ("45c", "1 " + "2 3 " * 5 + "4 5 6 7 " * 3 + "8"),  # times 5; times 3 without a start: back to the last end
        ("45e", "1 2 1 3 4 5 5 6 7 6 8 9 8 9 10"),  # endings, then a first ending alone, then a plain repeat
        ("45g", "1 2"),  # a start that nothing answers
    ],
)
def test_suite_repeats(number: str, expected: str) -> None:
    """MusicXML 4.0, repeat and ending."""
    assert order(suite(number)) == expected


@pytest.mark.parametrize(
    ("number", "starts"),
    [
        ("46d", ["0", "3/2", "7/2", "11/2"]),  # pickup of 3/8, a bar split 2/4 + 2/4, an incomplete bar of 3/4
        ("46e", ["0", "1"]),  # pickup of a quarter
        ("46f", ["0", "2", "6", "8"]),  # bars 1 and 3 hold two quarters
    ],
)
def test_suite_bar_lengths(number: str, starts: list[str]) -> None:
    """MusicXML 4.0, duration: a bar lasts as long as what stands in it."""
    assert [bar.start_quarters for bar in suite(number).bars] == [Fraction(start) for start in starts]


def test_suite_nested_tuplets() -> None:
    """23d: durations of 1/3 and 2/15 of a quarter, exactly, from `<duration>` and `<divisions>`."""
    found = [note.duration_quarters for note in suite("23d").notes]
    assert found == [Fraction(1, 3)] * 2 + [Fraction(2, 15)] * 5 + [Fraction(1, 3)] * 2


def test_suite_microtones() -> None:
    """01d: alter -1.5, -0.5, 0.5 and 1.5 on C4 D4 E4 F4 and an octave higher."""
    assert [note.midi for note in suite("01d").notes] == [58.5, 61.5, 64.5, 66.5, 70.5, 73.5, 76.5, 78.5]


def test_suite_unended_ties() -> None:
    """33i: ties start in bars 1, 3 and 4 and stop in bars 3 and 5; only 4 to 5 has both ends, one after the other."""
    expected = [
        (72.0, Fraction(0), Fraction(4)),
        (72.0, Fraction(4), Fraction(4)),
        (72.0, Fraction(8), Fraction(4)),
        (72.0, Fraction(12), Fraction(8)),
    ]
    assert notes_of(suite("33i")) == expected


def test_suite_transposition_changes() -> None:
    """72c: written C4 under chromatic +3, then -2 from bar 2 on."""
    assert [note.midi for note in suite("72c").notes] == [63.0, 58.0, 58.0]


def test_suite_metronome_marks() -> None:
    """31c, in quarters a minute: dotted quarter = 100 is 150; long = 100 is 1600; then three changes of unit.

    dotted quarter = dotted half doubles to 3200; long = dotted 32nd (16 to 3/16 quarters) gives 37.5; doubled again 75;
    dotted quarter = 77 is 115.5. Two quarters each.
    """
    tempos = [150, 1600, 3200, 37.5, 75, 115.5]
    expected = [2 * 60 / tempo / 2 for tempo in tempos for _ in range(2)]
    assert [note.duration_s for note in suite("31c").notes] == pytest.approx(expected)


def test_suite_unpitched() -> None:
    """73a: unpitched notes take the names of their instruments."""
    assert {note.spot for note in suite("73a").notes} == {None, "Cymbals", "Triangle"}


def test_suite_grace_notes_have_no_length() -> None:
    """24d: grace and after-grace notes stand at 2 and 4 quarters without length."""
    graces = [(note.onset_quarters, note.duration_quarters) for note in suite("24d").notes if note.grace]
    assert graces == [(Fraction(2), Fraction(0))] * 3 + [(Fraction(4), Fraction(0))] * 2


def test_the_whole_suite_can_be_read() -> None:
    """No file of the suite is refused or breaks the reader: real files break the schema, and are still music."""
    paths = [path for path in SUITE.iterdir() if path.suffix in (".xml", ".mxl")]
    assert len(paths) > 100
    assert sum(len(score_at(path).notes) for path in paths) > 1000
