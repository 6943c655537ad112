"""From notes to figures: each rule of `rimside.score.figures` with a case that keeps it and one that breaks it."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from rimside.pitch import Key, key_of_midi
from rimside.score.figures import GRACE_S, LIMITS, make_figures
from rimside.score.model import BarStart, Figure, Mute, Note, NotUnderstood, Score, Stroke, Technique, Touch
from rimside.score.motifs import cycles, figure_ids, motif


def note(midi: float | None = 60.0, at_s: float = 0.0, lasts_s: float = 1.0, **changes: object) -> Note:
    """A note at one quarter a second, in 4/4."""
    onset = Fraction(at_s).limit_denominator(10_000)
    made = Note(
        part="Hands",
        voice="1",
        midi=midi,
        onset_quarters=onset,
        duration_quarters=Fraction(lasts_s).limit_denominator(10_000),
        onset_s=at_s,
        duration_s=lasts_s,
        bar=str(int(onset // 4) + 1),
        beat=onset % 4 + 1,
        technique=Technique.FELT_HAMMER,
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def figures(*notes: Note) -> tuple[Figure, ...]:
    found, problems = cut(*notes)
    assert problems == ()
    return found


def cut(*notes: Note) -> tuple[tuple[Figure, ...], tuple[NotUnderstood, ...]]:
    parts = tuple(dict.fromkeys(one.part for one in notes))
    bars = (BarStart(bar="1", pass_number=1, start_quarters=Fraction(0), start_s=0.0),)
    ordered = tuple(sorted(notes, key=lambda one: one.onset_quarters))
    return make_figures(Score(title="", parts=parts, notes=ordered, bars=bars, end_s=max(n.end_s for n in notes)))


def shape(found: tuple[Figure, ...]) -> list[tuple[float, float, tuple[Key, ...]]]:
    return [(one.start_s, one.end_s, one.keys) for one in found]


def bowed(midi: float = 60.0, at_s: float = 0.0, lasts_s: float = 1.0, **changes: object) -> Note:
    return note(midi, at_s, lasts_s, technique=Technique.LINE_BOW, **changes)


def test_every_technique_has_its_limits() -> None:
    """The table leaves no technique out, and each row says where it comes from."""
    assert set(LIMITS) == set(Technique)
    assert all(row.source for row in LIMITS.values())


def test_each_bowed_pitch_is_its_own_figure() -> None:
    """A chord of three line bows is three figures."""
    assert shape(figures(bowed(60), bowed(64), bowed(67))) == [(0, 1, (47,)), (0, 1, (44,)), (0, 1, (40,))]


def test_bowed_notes_of_one_pitch_join_over_short_gaps() -> None:
    """Gaps under 2 s join to one figure with several strokes; 2 s part."""
    joined = figures(bowed(at_s=0.0), bowed(at_s=2.9))
    assert [(one.end_s, len(one.strokes)) for one in joined] == [(3.9, 2)]
    assert len(figures(bowed(at_s=0.0), bowed(at_s=3.0))) == 2


def test_a_long_bowed_line_is_cut_at_a_bar_line() -> None:
    """Strokes of 3 s for 36 s: cut before the stroke at 24 s, where a bar begins, not at 30 s or 27 s."""
    found = figures(*(bowed(at_s=3.0 * number, lasts_s=3.0) for number in range(12)))
    assert [(one.start_s, one.end_s) for one in found] == [(0.0, 24.0), (24.0, 36.0)]


def test_one_long_note_stays_whole() -> None:
    """A single stroke of 40 s cannot be cut."""
    assert shape(figures(bowed(lasts_s=40.0))) == [(0.0, 40.0, (40,))]


def test_a_touch_or_essential_mark_parts_bowed_notes() -> None:
    """A figure has one touch, one mute, and is essential or not."""
    for change in ({"touch": Touch(k=1, n=2)}, {"mute": Mute.MOULDED}, {"essential": True}, {"tremolo_strokes": 3}):
        assert len(figures(bowed(at_s=0.0), bowed(at_s=1.0, **change))) == 2


def test_a_bowed_line_goes_on_through_a_rehearsal_mark() -> None:
    """A held pitch is not handed over because a letter stands there."""
    assert len(figures(bowed(at_s=0.0, section="A"), bowed(at_s=1.0, section="B"))) == 1


def test_a_stick_bow_takes_neighbouring_keys_together() -> None:
    """Two neighbouring keys that begin and end together are one figure; a whole tone, or another length, is not."""

    def stick(midi: float, lasts_s: float = 1.0) -> Note:
        return note(midi, 0.0, lasts_s, technique=Technique.STICK_BOW)

    assert shape(figures(stick(60), stick(61))) == [(0, 1, (41, 40))]
    assert len(figures(stick(60), stick(62))) == 2
    assert len(figures(stick(60), stick(61, 2.0))) == 2
    assert len(figures(stick(60), stick(61), stick(62))) == 2


def test_struck_notes_of_one_voice_are_one_run() -> None:
    """Notes within reach, close in time, are one figure with its strokes in order."""
    (run,) = figures(note(60, 0.0), note(64, 1.0), note(60, 2.0))
    assert run.keys == (40, 44)
    assert [(stroke.onset_s, stroke.until_s, stroke.key) for stroke in run.strokes] == [
        (0.0, 1.0, 40),
        (1.0, 2.0, 44),
        (2.0, 3.0, 40),
    ]


@pytest.mark.parametrize(
    ("second", "why"),
    [
        (note(60, 1.8), "a silence of 0.8 s"),
        (note(60, 1.0, technique=Technique.WOOD_HAMMER), "another technique"),
        (note(60, 1.0, touch=Touch(k=1, n=2)), "a touch"),
        (note(60, 1.0, mute=Mute.FINGER), "a mute"),
        (note(60, 1.0, section="B"), "a rehearsal mark"),
        (note(60, 1.0, essential=True), "an essential mark"),
        (note(60, 1.0, tremolo_strokes=3), "a tremolo"),
        (note(79, 1.0), "20 keys from lowest to highest"),
        (note(60, 1.0, voice="2"), "another voice"),
        (note(60, 1.0, part="Other"), "another part"),
    ],
)
def test_what_ends_a_run(second: Note, why: str) -> None:
    """Each of these begins a new figure."""
    assert len(figures(note(60, 0.0), second)) == 2, why


@pytest.mark.parametrize("second", [note(60, 1.79), note(78, 1.0), note(60, 1.0, dynamic="p")])
def test_what_does_not_end_a_run(second: Note) -> None:
    """A shorter silence, 19 keys, another dynamic: the run goes on."""
    assert len(figures(note(60, 0.0), second)) == 1


def test_chords_are_dealt_from_the_top_down() -> None:
    """Struck chords of three, two and three make layers; the lowest layer rests in between and is cut by it."""
    chords = [(67, 64, 60), (65, 62), (67, 64, 60)]
    found = figures(*(note(midi, float(at)) for at, chord in enumerate(chords) for midi in chord))
    assert sorted((len(one.strokes), one.keys) for one in found) == [
        (1, (40,)),
        (1, (40,)),
        (3, (44, 42)),
        (3, (47, 45)),
    ]


def test_a_unison_of_two_voices_is_one_stroke() -> None:
    """The same course at the same moment in two voices of a part is struck once, for the longer time."""
    assert shape(figures(note(60, 0.0, 1.0), note(60, 0.0, 2.0, voice="2"))) == [(0.0, 2.0, (40,))]


def test_keys_keep_their_chords() -> None:
    """A chord of both hands, in two voices, is one figure; more than 28 keys are two."""

    def key(midi: float, voice: str = "1") -> Note:
        return note(midi, technique=Technique.KEYS, voice=voice)

    assert shape(figures(key(60), key(64), key(40, "5"))) == [(0, 1, (44, 40, 20))]
    assert len(figures(key(60), key(33))) == 1
    assert len(figures(key(60), key(32))) == 2


def test_a_long_run_is_cut_at_30_s_at_the_latest() -> None:
    """Off every bar line, the run is cut at its widest gap in the last 10 s."""
    beats = [0.25 + 0.5 * number for number in range(80)]
    found = figures(*(note(60, at, 0.4 if at != 24.25 else 0.1) for at in beats))
    assert found[0].end_s == pytest.approx(24.35)
    assert all(one.end_s - one.start_s <= 30.0 + 1e-9 for one in found)
    assert sum(len(one.strokes) for one in found) == 80


def test_strokes_too_fast_for_one_player_interlock() -> None:
    """Sixteen strokes a second on one course: two players take every second one; twelve a second is one player's."""
    fast = figures(*(note(60, number / 16, 1 / 16) for number in range(8)))
    assert [[round(stroke.onset_s * 16) for stroke in one.strokes] for one in fast] == [[0, 2, 4, 6], [1, 3, 5, 7]]
    assert [(one.id, one.weave, one.thread, one.threads) for one in fast] == [
        ("H-01", "H-01", 1, 2),
        ("H-02", "H-01", 2, 2),
    ]
    assert [(one.start_s, one.end_s, one.cycles) for one in fast] == [(0.0, 7 / 16, 4), (1 / 16, 0.5, 4)]
    (slow,) = figures(*(note(60, number / 12, 1 / 12) for number in range(8)))
    assert (slow.weave, slow.thread, slow.threads) == ("", 0, 0)


def test_a_finger_on_the_string_leaves_one_hand_to_strike() -> None:
    """Eight a second is one player's with two hands, two players' when each has a finger at a node."""
    assert len(figures(*(note(60, number / 8, 1 / 8) for number in range(8)))) == 1
    touched = figures(*(note(60, number / 8, 1 / 8, touch=Touch(k=1, n=2)) for number in range(8)))
    assert [one.threads for one in touched] == [2, 2]


def test_a_tremolo_counts_its_notes_as_strokes() -> None:
    """As rule H10 does: sixteen tremolo notes a second are two players'."""
    assert len(figures(*(note(60, number / 16, 1 / 16, tremolo_strokes=3) for number in range(8)))) == 2


def test_a_thread_that_begins_later_says_where() -> None:
    """Bar and beat of its own first stroke; a weave in the next section is a weave of its own with the same motifs."""
    notes = [note(60, at / 16, 1 / 16, section="A" if at < 8 else "B") for at in range(64 - 8, 64 + 8)]
    found = figures(*notes)
    assert [(one.bar, float(one.beat)) for one in found[:2]] == [("1", 4.5), ("1", 4.5625)]


def test_beaters_keep_their_spot() -> None:
    """One run for each spot; two spots are two figures, even in one voice."""

    def hit(spot: str, at_s: float, lasts_s: float = 1.0) -> Note:
        return note(None, at_s, lasts_s, spot=spot, technique=Technique.BEATER)

    found = figures(hit("frame", 0.0), hit("case", 1.0), hit("frame", 1.0, 0.5))
    assert [(one.spot, len(one.strokes), one.keys) for one in found] == [("frame", 2, ()), ("case", 1, ())]


def test_grace_notes_come_before_what_they_lean_on() -> None:
    """Two grace notes at 1 s are struck at 0.8 and 0.9 s; at the very start they push the main note back."""
    graces = [note(62, 1.0, 0.0, grace=True), note(64, 1.0, 0.0, grace=True)]
    (run,) = figures(note(67, 0.0), *graces, note(62, 1.0))
    assert [stroke.onset_s for stroke in run.strokes] == pytest.approx([0.0, 1 - 2 * GRACE_S, 1 - GRACE_S, 1.0])
    (start,) = figures(note(62, 0.0, 0.0, grace=True), note(65, 0.0))
    assert [(stroke.onset_s, stroke.key) for stroke in start.strokes] == [(0.0, 42), (GRACE_S, 45)]


@pytest.mark.parametrize(
    ("one", "text"),
    [
        (note(60, technique=None), "no word or part name says how to play this"),
        (note(60.5), "no course sounds MIDI 60.5, between two keys"),
        (note(None, spot="frame"), "only a beater plays a spot, not felt hammer: frame"),
        (note(60, technique=Technique.BEATER), "a beater plays spots, not strings"),
    ],
)
def test_notes_that_can_be_no_figure_are_listed(one: Note, text: str) -> None:
    """With part and first bar, and how many they are."""
    found, problems = cut(one)
    assert (found, problems) == ((), (NotUnderstood(bar="1", part="Hands", text=text),))
    again = replace(one, onset_quarters=Fraction(8), bar="3")
    assert cut(one, again)[1] == (NotUnderstood(bar="1", part="Hands", text=f"{text} (2 notes)"),)


def test_a_figure_tells_bar_beat_dynamic_section_and_words() -> None:
    """It takes them from its first note."""
    (run,) = figures(note(60, 6.0, dynamic="pp", section="C"), note(60, 7.0, dynamic="f", section="C"))
    assert (run.bar, float(run.beat), run.dynamic, run.section) == ("2", 3.0, "pp", "C")


def strokes(*rows: tuple[float, int]) -> tuple[Stroke, ...]:
    return tuple(Stroke(onset_s=at, until_s=at + 0.1, key=Key(key)) for at, key in rows)


@pytest.mark.parametrize(
    ("rows", "times"),
    [
        ([(0.0, 40)], 1),
        ([(0.5 * n, 40) for n in range(16)], 16),
        ([(0.5 * n, 40 + n % 2) for n in range(16)], 8),
        ([(0.5 * n, 40 + n % 3) for n in range(7)], 1),
        ([(n + offset, 40) for n in range(3) for offset in (0.0, 0.25)], 3),
        ([(0.0, 40), (0.5, 40), (1.002, 40)], 1),
        ([(0.0, 40), (0.5, 40), (1.0005, 40)], 3),
    ],
)
def test_cycles(rows: list[tuple[float, int]], times: int) -> None:
    """The shortest pattern of spacings (to the ms) and keys, in whole rounds."""
    assert cycles(strokes(*rows)) == times


def test_cycles_agree_with_a_slow_twin() -> None:
    """Against trying every period by rebuilding the whole sequence, on all sequences of six strokes of two keys."""
    for code in range(64):
        keys = [40 + (code >> place & 1) for place in range(6)]
        slow = next(6 // period for period in range(1, 7) if 6 % period == 0 and keys == keys[:period] * (6 // period))
        assert cycles(strokes(*((0.5 * place, key) for place, key in enumerate(keys)))) == slow


def test_motifs() -> None:
    """The same music later is the same motif; another rhythm, key or touch is not, but a bowed course always is."""

    def of(technique: Technique, *rows: tuple[float, int], touch: Touch | None = None) -> str:
        return motif(technique, strokes(*rows), None, touch, Mute.NONE, False)

    hammer = of(Technique.FELT_HAMMER, (0.0, 40), (0.0625, 42))
    assert hammer == of(Technique.FELT_HAMMER, (100.3, 40), (100.3625, 42))
    assert hammer != of(Technique.FELT_HAMMER, (0.0, 40), (0.07, 42))
    assert hammer != of(Technique.FELT_HAMMER, (0.0, 40), (0.0625, 43))
    assert hammer != of(Technique.FELT_HAMMER, (0.0, 40), (0.0625, 42), touch=Touch(k=1, n=2))
    assert of(Technique.LINE_BOW, (0.0, 40)) == of(Technique.LINE_BOW, (7.0, 40), (9.0, 40)) == "line bow C4"


def test_ids_are_initials_and_numbers() -> None:
    """Stable, readable, and told apart when two parts share initials."""
    assert figure_ids(["Line bow 2", "Low beaters", "Line bow 2", "Lead bell"]) == (
        "LB2-01",
        "LBb-01",
        "LB2-02",
        "LB-01",
    )
    assert len(set(figure_ids([f"A{'b' * n}" for n in range(60)]))) == 60


@pytest.mark.parametrize("technique", list(Technique))
def test_nothing_is_lost_and_no_limit_is_passed(technique: Technique) -> None:
    """200 notes thrown at random: each stroke is in exactly one figure, and every figure keeps its table's limits."""
    chance = random.Random(technique.value)
    notes = [
        note(
            None if technique is Technique.BEATER else float(chance.randint(21, 108)),
            chance.randint(0, 960) / 8,
            chance.choice([0.125, 0.5, 1.0, 4.0]),
            spot=chance.choice(["frame", "case"]) if technique is Technique.BEATER else None,
            technique=technique,
            voice=chance.choice("12"),
            section="AB"[number % 2],
        )
        for number in range(200)
    ]
    found = figures(*notes)
    strokes = [(stroke.onset_s, stroke.key, one.spot) for one in found for stroke in one.strokes]
    written = {(one.onset_s, key_of_midi(one.midi) if one.midi else None, one.spot) for one in notes}
    assert sorted(strokes, key=str) == sorted(written, key=str)
    limits = LIMITS[technique]
    for one in found:
        assert len(one.onsets_s) == 1 or one.end_s - one.start_s <= limits.longest_s + 1e-6
        assert not limits.span_keys or max(one.keys) - min(one.keys) < limits.span_keys
        assert limits.by != "pitch" or len(one.keys) <= (2 if technique is Technique.STICK_BOW else 1)
        assert one.end_s == max(stroke.until_s for stroke in one.strokes)
        if limits.fastest_hz:
            gaps = [b - a for a, b in pairwise(one.onsets_s)]
            assert all(gap >= 1 / limits.fastest_hz - 1e-6 for gap in gaps)
