"""What the MusicXML reader takes out of the W3C elements. Authority: MusicXML 4.0, the element named in each test."""

from __future__ import annotations

from fractions import Fraction

import pytest

from rimside.score.model import Mute, Pedal, Technique, Touch
from rimside.score.read_musicxml import read_musicxml
from rimside.score.reading import read
from rimside.score.to_json import reading_json
from tests.score.build import (
    START,
    TEMPO_60,
    VOCABULARY,
    bar_order,
    bars,
    file_of,
    listed,
    note,
    played,
    rest,
    score_of,
    words,
)

TIE_ON, TIE_OFF = '<tie type="start"/>', '<tie type="stop"/>'
HALF_OF_THREE = "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>"


def test_tied_notes_are_one() -> None:
    """tie: three tied heads over two bar lines are one note of 12 quarters."""
    score = score_of(bars(note(after=TIE_ON), note(after=TIE_OFF + TIE_ON), note(after=TIE_OFF)))
    assert played(score) == [(40, 0.0, 12.0)]


def test_ties_across_a_repeat_join_what_is_played_next() -> None:
    """A tie into a second ending joins the note there, on the second pass."""
    back = '<barline location="right"><ending number="1" type="stop"/><repeat direction="backward"/></barline>'
    first = '<barline location="left"><ending number="1" type="start"/></barline>'
    second = '<barline location="left"><ending number="2" type="start"/></barline>'
    score = score_of(bars(note(after=TIE_ON), first + note(after=TIE_OFF) + back, second + note(after=TIE_OFF)))
    assert played(score) == [(40, 0.0, 8.0), (40, 8.0, 8.0)]


def test_tied_chords_join_pitch_by_pitch() -> None:
    """chord, tie: only the tied pitch of a chord goes on."""
    chord = note("C", after=TIE_ON) + note("E", inside="<chord/>")
    score = score_of(bars(chord, note("C", after=TIE_OFF) + note("E", inside="<chord/>")))
    assert sorted(played(score)) == [(40, 0.0, 8.0), (44, 0.0, 4.0), (44, 4.0, 4.0)]


def test_a_tie_start_without_a_stop_ends_there() -> None:
    """tie: both ends must be written; one alone joins nothing."""
    assert len(score_of(bars(note(after=TIE_ON), note())).notes) == 2


def test_duration_beats_type() -> None:
    """note: `<duration>` is the sounding length, `<type>` only what is printed."""
    assert played(score_of(bars(note(duration=6, after="<type>whole</type>")))) == [(40, 0.0, 1.5)]


def test_tuplets_stay_exact() -> None:
    """duration, divisions: three in the time of two are thirds of a half, exactly."""
    thirds = "".join(note(step, duration=8, after=HALF_OF_THREE) for step in "CDE")
    first = START.replace("<divisions>4", "<divisions>6") + TEMPO_60
    score = score_of(bars(thirds, first=first))
    assert [one.onset_quarters for one in score.notes] == [Fraction(0), Fraction(4, 3), Fraction(8, 3)]


def test_grace_notes_have_no_length_and_the_place_of_the_next_note() -> None:
    """grace: no duration; it stands where the note that it leans on stands."""
    grace = "<note><grace/><pitch><step>D</step><octave>5</octave></pitch></note>"
    score = score_of(bars(note(duration=8) + grace + note("E", duration=8)))
    found = [(one.grace, float(one.onset_quarters), float(one.duration_quarters)) for one in score.notes]
    assert found == [(False, 0.0, 2.0), (True, 2.0, 0.0), (False, 2.0, 2.0)]


def test_backup_and_forward() -> None:
    """backup, forward: a second voice goes back and may begin later."""
    second = "<backup><duration>16</duration></backup><forward><duration>8</duration></forward>"
    score = score_of(bars(note() + second + note("E", duration=8)))
    assert sorted(played(score)) == [(40, 0.0, 4.0), (44, 2.0, 2.0)]


def test_a_forward_ends_a_bar_only_when_it_is_not_implicit() -> None:
    """measure, implicit: a pickup bar filled up with a forward is as long as its notes."""
    filled = note(duration=4) + "<forward><duration>12</duration></forward>"
    pickup = f'<measure number="0" implicit="yes">{START}{TEMPO_60}{filled}</measure>'
    full = f'<measure number="1">{START}{TEMPO_60}{filled}</measure>'
    after = f'<measure number="2">{note("D")}</measure>'
    assert [one[1] for one in played(score_of(pickup + after))] == [0.0, 1.0]
    assert [one[1] for one in played(score_of(full + after))] == [0.0, 4.0]


def test_a_pickup_counts_its_beats_from_the_end() -> None:
    """A pickup of one quarter in 4/4 is beat 4; time begins with it."""
    pickup = f'<measure number="0" implicit="yes">{START}{TEMPO_60}{note(duration=4)}</measure>'
    score = score_of(pickup + f'<measure number="1">{note("D")}</measure>')
    assert [(one.bar, float(one.beat), one.onset_s) for one in score.notes] == [("0", 4, 0.0), ("1", 1, 1.0)]


def test_one_grid_for_parts_whose_bars_differ() -> None:
    """The longest bar rules for all parts, and the odd one is named."""
    score = score_of(bars(note(duration=12), note("D")), bars(note("E"), note("F")))
    assert [one.onset_quarters for one in score.notes if one.part == "Part 1"] == [0, 4]
    assert "the bar holds 3 quarters here, 4 elsewhere" in listed(score)


def test_transposition_and_its_change() -> None:
    """transpose: sounding pitch is written pitch plus chromatic and octave-change, from where it stands."""
    b_flat = "<attributes><transpose><chromatic>-2</chromatic></transpose></attributes>"
    bass = "<attributes><transpose><chromatic>-9</chromatic><octave-change>-1</octave-change></transpose></attributes>"
    score = score_of(bars(b_flat + note(), bass + note()))
    assert [one.midi for one in score.notes] == [58.0, 39.0]


def test_transposition_by_staff() -> None:
    """transpose, number: one staff of a part may transpose alone."""
    octave_down = "<chromatic>0</chromatic><octave-change>-1</octave-change>"
    one_staff = f'<attributes><transpose number="2">{octave_down}</transpose></attributes>'
    below = "<backup><duration>16</duration></backup>" + note("E", after="<staff>2</staff>")
    score = score_of(bars(one_staff + note(after="<staff>1</staff>") + below))
    assert sorted(one.midi or 0 for one in score.notes) == [52.0, 60.0]


def test_quarter_tones_keep_their_fraction() -> None:
    """alter: 0.5 is a quarter-tone sharp."""
    half = "<note><pitch><step>C</step><alter>0.5</alter><octave>4</octave></pitch><duration>16</duration></note>"
    assert score_of(bars(half)).notes[0].midi == 60.5


def test_tempo_in_sound_and_metronome() -> None:
    """sound tempo is quarters a minute; a metronome mark counts its own beat unit, dots and all."""
    dotted = (
        "<direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit-dot/>"
        "<per-minute>60</per-minute></metronome></direction-type></direction>"
    )
    score = score_of(bars(note(), dotted + note(), note()))
    assert [one.onset_s for one in score.notes] == pytest.approx([0.0, 4.0, 4.0 + 4 / 90 * 60])


def test_playback_tempo_beats_the_printed_one() -> None:
    """sound: its tempo is the playback value, whatever the mark beside it prints."""
    both = (
        "<direction><direction-type><metronome><beat-unit>quarter</beat-unit><per-minute>120</per-minute>"
        '</metronome></direction-type><sound tempo="30"/></direction>'
    )
    assert score_of(bars(both + note(), first=START)).notes[0].duration_s == 8.0


def test_metric_modulation() -> None:
    """metronome with two beat units: a quarter before lasts as long as a dotted quarter from now on."""
    modulation = (
        "<direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit>quarter</beat-unit>"
        "<beat-unit-dot/></metronome></direction-type></direction>"
    )
    score = score_of(bars(note(), modulation + note()))
    assert [one.duration_s for one in score.notes] == pytest.approx([4.0, 4 / 1.5])


def test_metric_modulation_written_in_notes() -> None:
    """metronome-note: the eighths before last as long as triplet eighths from now on, two to three."""
    eighth = "<metronome-note><metronome-type>eighth</metronome-type>{}</metronome-note>"
    triplet = "<metronome-tuplet><actual-notes>3</actual-notes><normal-notes>2</normal-notes></metronome-tuplet>"
    mark = (
        f"<direction><direction-type><metronome>{eighth.format('')}<metronome-relation>equals</metronome-relation>"
        f"{eighth.format(triplet)}</metronome></direction-type></direction>"
    )
    score = score_of(bars(note(), mark + note()))
    assert score.notes[1].duration_s == pytest.approx(4.0 * 3 / 2)


@pytest.mark.parametrize("text", ["Lento (♩ = 30)", "quarter = 30", "Adagio ♩=c. 30"])
def test_metronome_values_in_words(text: str) -> None:
    """Tempo words with a value set the tempo and are not listed."""
    score = score_of(bars(words(text) + note(), first=START))
    assert score.notes[0].duration_s == 8.0
    assert listed(score) == []


def test_tempo_words_without_a_value_are_listed() -> None:
    """A bare rit. moves the clock by nobody knows how much, so that a person decides."""
    assert listed(score_of(bars(note(), words("rit.") + note()))) == ["rit."]


def test_no_tempo_at_all_is_said() -> None:
    """120 quarters a minute are taken, and said."""
    score = score_of(bars(note(), first=START))
    assert score.notes[0].duration_s == 2.0
    assert "no tempo at the start: 120 quarters a minute taken" in listed(score)


def test_going_back_goes_back_to_the_tempo_of_the_page() -> None:
    """A repeat whose end is faster starts again in the tempo of its start."""
    back = '<barline location="right"><repeat direction="backward"/></barline>'
    score = score_of(bars(note(), '<sound tempo="120"/>' + note() + back))
    assert [one.duration_s for one in score.notes] == [4.0, 2.0, 4.0, 2.0]


def test_words_govern_from_where_they_stand() -> None:
    """A technique word holds for its part until the next, and dynamics likewise."""
    piano = "<direction><direction-type><dynamics><p/></dynamics></direction-type></direction>"
    score = score_of(
        bars(words("arco") + note(duration=8) + words("pizz.") + piano + note(duration=8), note()), bars(note())
    )
    first = [(one.technique, one.dynamic) for one in score.notes if one.part == "Part 1"]
    assert first == [(Technique.LINE_BOW, ""), (Technique.FINGER_PLUCK, "p"), (Technique.FINGER_PLUCK, "p")]
    assert [one.technique for one in score.notes if one.part == "Part 2"] == [None]


def test_an_offset_moves_words() -> None:
    """offset: the word stands two quarters later than the cursor."""
    later = words("col legno", inside="<offset>8</offset>")
    score = score_of(bars(words("pizz.") + later + note(duration=8) + note(duration=8)))
    assert [one.technique for one in score.notes] == [Technique.FINGER_PLUCK, Technique.WOOD_HAMMER]


def test_part_names_decide_when_no_word_does() -> None:
    """A part called "Line bow 2" is bowed with lines until a word says otherwise."""
    score = score_of(bars(note(), words("pizz.") + note()), names=["Line bow 2"])
    assert [one.technique for one in score.notes] == [Technique.LINE_BOW, Technique.FINGER_PLUCK]


def test_unknown_words_are_listed_with_bar_and_part() -> None:
    """Nothing is guessed: bar, part and text of what was not understood."""
    score = score_of(bars(note(), words("with a feather") + note()), names=["Keys"])
    assert [(one.bar, one.part, one.text) for one in score.not_understood] == [("2", "Keys", "with a feather")]


def test_cues_and_sections() -> None:
    """rehearsal marks name sections; words that start with cue: are signs."""
    mark = "<direction><direction-type><rehearsal>B</rehearsal></direction-type></direction>"
    score = score_of(bars(note(), mark + words("cue: all breathe") + note()))
    assert [one.section for one in score.notes] == ["", "B"]
    assert [(cue.text, cue.onset_s, cue.bar) for cue in score.cues] == [("all breathe", 4.0, "2")]


def test_pedals() -> None:
    """pedal: start and sostenuto press, change lifts and presses, stop lifts the pedal of its number."""

    def sign(kind: str, number: int = 1) -> str:
        return f'<direction><direction-type><pedal type="{kind}" number="{number}"/></direction-type></direction>'

    score = score_of(
        bars(
            sign("start") + note(),
            sign("change") + sign("sostenuto", 2) + note(),
            sign("stop") + note() + sign("stop", 2),
        )
    )
    spans = [(span.pedal, span.down_s, span.up_s) for span in score.pedals]
    assert spans == [(Pedal.DAMPER, 0.0, 4.0), (Pedal.DAMPER, 4.0, 8.0), (Pedal.SOSTENUTO, 4.0, 12.0)]


def test_una_corda_in_words() -> None:
    """una corda and tre corde work the left pedal."""
    score = score_of(bars(words("una corda") + note(), words("tre corde") + note()))
    assert [(span.pedal, span.down_s, span.up_s) for span in score.pedals] == [(Pedal.UNA_CORDA, 0.0, 4.0)]


def test_tremolo_strokes() -> None:
    """tremolo: the number of beams; start and stop of a two-note tremolo alike."""
    mark = '<notations><ornaments><tremolo type="single">3</tremolo></ornaments></notations>'
    assert score_of(bars(note(after=mark))).notes[0].tremolo_strokes == 3


@pytest.mark.parametrize(("step", "octave", "touch"), [("C", 5, (1, 2)), ("G", 4, (1, 3)), ("F", 4, (1, 4))])
def test_harmonics_written_as_string_and_touching_pitch(step: str, octave: int, touch: tuple[int, int]) -> None:
    """harmonic: octave, fifth and fourth above the string are the nodes 1/2, 1/3 and 1/4; the note is the string."""

    def mark(kind: str) -> str:
        return f"<notations><technical><harmonic><artificial/><{kind}/></harmonic></technical></notations>"

    chord = note(after=mark("base-pitch")) + note(step, octave, inside="<chord/>", after=mark("touching-pitch"))
    score = score_of(bars(chord))
    assert [(one.midi, one.touch) for one in score.notes] == [(60.0, Touch(k=touch[0], n=touch[1]))]


@pytest.mark.parametrize(("step", "octave", "n"), [("C", 5, 2), ("G", 5, 3), ("C", 6, 4), ("E", 6, 5)])
def test_harmonics_written_as_string_and_sounding_pitch(step: str, octave: int, n: int) -> None:
    """harmonic: the sounding pitch names the partial and leaves its node to the piano."""

    def mark(kind: str) -> str:
        return f"<notations><technical><harmonic><natural/><{kind}/></harmonic></technical></notations>"

    chord = note(after=mark("base-pitch")) + note(step, octave, inside="<chord/>", after=mark("sounding-pitch"))
    score = score_of(bars(chord))
    assert [(one.midi, one.touch) for one in score.notes] == [(60.0, Touch(k=1, n=n, loose=True))]


def test_a_sounding_pitch_that_no_partial_has() -> None:
    """A fourth above the string sounds no partial, so the node is still asked for."""

    def mark(kind: str) -> str:
        return f"<notations><technical><harmonic><{kind}/></harmonic></technical></notations>"

    chord = note(after=mark("base-pitch")) + note("F", 4, inside="<chord/>", after=mark("sounding-pitch"))
    assert "harmonic without its node (write touch k/n)" in listed(score_of(bars(chord)))


def test_a_bare_harmonic_needs_its_node() -> None:
    """A circle over a note does not say where to touch; with the words before it, it does."""
    circle = "<notations><technical><harmonic/></technical></notations>"
    assert listed(score_of(bars(note(after=circle)))) == ["harmonic without its node (write touch k/n)"]
    score = score_of(bars(words("touch 2/5") + note(after=circle)))
    assert score.notes[0].touch == Touch(k=2, n=5)
    assert listed(score) == []


def test_mutes_stay_until_lifted() -> None:
    """string-mute and mute words hold through technique words."""
    on = '<direction><direction-type><string-mute type="on"/></direction-type></direction>'
    score = score_of(bars(on + note(), words("pizz.") + note(), words("senza sord.") + note()))
    assert [one.mute for one in score.notes] == [Mute.MOULDED, Mute.MOULDED, Mute.NONE]


def test_unpitched_notes_take_their_spot() -> None:
    """unpitched: the instrument's name, through the vocabulary or as it is; words in force come first."""
    hit = (
        "<note><unpitched><display-step>E</display-step><display-octave>4</display-octave></unpitched>"
        '<duration>16</duration><instrument id="I1"/></note>'
    )
    named = '<score-instrument id="I1"><instrument-name>{}</instrument-name></score-instrument>'
    known = score_of(bars(hit, words("on the rim") + hit), instruments=named.format("Rahmen"))
    assert [(one.spot, one.midi, one.technique) for one in known.notes] == [
        ("frame", None, Technique.BEATER),
        ("rim", None, Technique.BEATER),
    ]
    assert score_of(bars(hit), instruments=named.format("Bell")).notes[0].spot == "Bell"


def test_bars_under_a_measure_repeat_sign_sound() -> None:
    """measure-repeat: an empty bar under the sign sounds like the one before, until its stop."""
    sign = '<attributes><measure-style><measure-repeat type="{}">1</measure-repeat></measure-style></attributes>'
    score = score_of(bars(note(), sign.format("start") + rest(), rest(), sign.format("stop") + rest()))
    assert played(score) == [(40, 0.0, 4.0), (40, 4.0, 4.0), (40, 8.0, 4.0)]


def test_cue_notes_are_silent_and_time_only_notes_wait() -> None:
    """cue: silent. note, time-only: sounds on the named passes only."""
    back = '<barline location="right"><repeat direction="backward"/></barline>'
    second = note("E").replace("<note>", '<note time-only="2">')
    score = score_of(bars(note("D", inside="<cue/>"), second + back))
    assert played(score) == [(44, 12.0, 4.0)]


def test_timewise_is_the_same_music() -> None:
    """score-timewise: bars outside, parts inside; read like partwise."""
    data = (
        '<score-timewise><part-list><score-part id="P1"><part-name>A</part-name></score-part></part-list>'
        f'<measure number="1"><part id="P1">{START}{TEMPO_60}{note()}</part></measure>'
        f'<measure number="2"><part id="P1">{note("D")}</part></measure></score-timewise>'
    )
    score = read_musicxml(data.encode(), "t.musicxml", VOCABULARY)
    assert played(score) == [(40, 0.0, 4.0), (42, 4.0, 4.0)]


@pytest.mark.parametrize("encoding", ["utf-16", "utf-8", "iso-8859-1"])
def test_encodings(encoding: str) -> None:
    """XML in UTF-16, UTF-8 or Latin-1 with its declaration is read, umlauts and all."""
    head = f'<?xml version="1.0" encoding="{encoding}"?>'
    text = file_of(bars(words("Schlägel") + note()), head=head).decode()
    score = read_musicxml(text.encode(encoding), "u.musicxml", VOCABULARY)
    assert score.notes[0].technique is Technique.BEATER


def test_bar_names_and_beats() -> None:
    """A beat is the time signature's denominator: the fourth eighth of 6/8 is beat 4."""
    first = START.replace("<beats>4", "<beats>6").replace("<beat-type>4", "<beat-type>8") + TEMPO_60
    score = score_of(bars(note(duration=6) + note("D", duration=6), first=first))
    assert [one.beat for one in score.notes] == [1, 4]
    assert bar_order(score) == "1"


def test_signs_that_change_notes_are_listed() -> None:
    """Trills, arpeggios and fermatas are not played out, and say so."""
    trill = "<notations><ornaments><trill-mark/></ornaments><fermata/></notations>"
    assert listed(score_of(bars(note(after=trill)))) == ["trill", "fermata"]


def test_dry_words_hold_until_it_may_ring() -> None:
    """ "secco" governs its part until "l.v."; figures part there, and the JSON says it."""
    data = file_of(
        bars(words("pizz.") + note(duration=4) + words("secco") + note(duration=4) + words("l.v.") + note(duration=8))
    )
    reading = read(data, "dry.musicxml", VOCABULARY)
    assert [one.dry for one in reading.score.notes] == [False, True, False]
    assert [one.dry for one in reading.figures] == [False, True, False]
    table = reading_json(reading)
    assert [row["dry"] for row in table["notes"]] == [row["dry"] for row in table["figures"]] == [False, True, False]
    assert reading.score.not_understood == ()
