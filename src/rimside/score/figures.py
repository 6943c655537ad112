"""From notes to figures: the smallest pieces of music that are given whole to one player.

What a figure is stands in `docs/design.md` section 1. Sustained techniques give one figure for each course; struck and
plucked ones give runs that one player can reach and repeat; keys keep their chords; beaters keep their spot.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby

from rimside.pitch import Key, in_choir, key_of_midi
from rimside.score.model import Figure, Mute, Note, NotUnderstood, Score, Stroke, Technique, Touch
from rimside.score.motifs import cycles, motif
from rimside.score.weaving import Pace, with_ids, woven

ASSUMED = "our assumption"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """How one family of techniques is cut into figures.

    A run ends at a silence of `rest_s`, at `span_keys` between its lowest and highest key, and at `longest_s`.
    Strokes that follow each other faster than `fastest_hz` (both hands of one player in turn), or than a hand can leap,
    are split among players who interlock (`rimside.score.weaving`). One hand holds `hand_notes` courses at once within
    `hand_keys`. `by` says what a run follows: "pitch", "voice", "part" or "spot". `joined` runs go on through rehearsal
    marks.
    """

    by: str
    rest_s: float
    span_keys: int
    longest_s: float = 30.0
    fastest_hz: float = 0.0
    hand_keys: int = 1
    hand_notes: int = 1
    joined: bool = False
    source: str = ASSUMED


_SUSTAINED = Limits(
    by="pitch",
    rest_s=2.0,
    span_keys=0,
    joined=True,
    source="our assumption: a bow stays at its course through a short breath",
)
_STRUCK = Limits(
    by="voice",
    rest_s=0.8,
    span_keys=19,
    fastest_hz=12.0,
    source="our assumption: 19 keys are about 260 mm of strings, a forearm's swing from one place",
)
LIMITS: Mapping[Technique, Limits] = {
    Technique.LINE_BOW: _SUSTAINED,
    Technique.FRICTION_STRIP: _SUSTAINED,
    Technique.STICK_BOW: _SUSTAINED,
    Technique.MAGNET_DRIVE: _SUSTAINED,
    Technique.FELT_HAMMER: _STRUCK,
    Technique.WOOD_HAMMER: _STRUCK,
    Technique.FINGER_PLUCK: replace(_STRUCK, fastest_hz=10.0),
    Technique.PLECTRUM: replace(_STRUCK, fastest_hz=10.0),
    Technique.HANDLED_PLECTRUM: replace(_STRUCK, fastest_hz=20.0),
    Technique.KEYS: Limits(
        by="part",
        rest_s=0.8,
        span_keys=28,
        fastest_hz=12.0,
        hand_keys=14,
        hand_notes=5,
        source="two hands of 14 keys each, rimside.kit",
    ),
    Technique.BEATER: Limits(by="spot", rest_s=0.8, span_keys=0, fastest_hz=12.0),
}
"""One row for each technique; `fastest_hz` is twice the one-hand limit of `rimside.kit`."""
PAIR_KEYS_APART = 1
"""A stick bow's two sides sound the courses on its left and right: neighbouring keys."""
GRACE_S = 0.1
"""A grace note is struck this long before what it leans on, one after the other. Our assumption: the rate of two
plucking hands in turn, so that any technique can do it."""
SHORTEST_STROKE_S = 0.05
"""A stroke written shorter still takes this long. Our assumption."""
CUT_SEARCH_S = 10.0
"""A run that is too long is cut at the last bar line this near to its limit, else at its widest gap. Our assumption."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Chord:
    """Notes struck together by one voice: their keys from the top down, or a spot."""

    onset_s: float
    until_s: float
    keys: tuple[Key, ...]
    note: Note
    starts_bar: bool


_Run = list[_Chord]


def make_figures(score: Score) -> tuple[tuple[Figure, ...], tuple[NotUnderstood, ...]]:
    """Cut the notes of a score into figures, in order of start; what can be no figure is listed with its reason."""
    playable, problems = _sorted_out(_without_unisons(score.notes))
    runs: list[_Run] = []
    for _, group in groupby(sorted(playable, key=_technique_key), key=_technique_key):
        notes = list(group)
        runs += _RUNS[LIMITS[_technique(notes[0])].by](notes)
    runs.sort(key=lambda run: (run[0].onset_s, score.parts.index(run[0].note.part), -max(run[0].keys, default=0)))
    return with_ids([_woven(run) for run in runs]), problems


def pace_of(figure: Figure) -> Pace | None:
    """What one player can keep up of a figure, None where nothing is split. A finger on the string costs a hand."""
    limits = LIMITS[figure.technique]
    if not limits.fastest_hz:
        return None
    hands = 1 if figure.touch is not None or figure.mute is Mute.FINGER else 2
    return Pace(hand_hz=limits.fastest_hz / 2, hands=hands, hand_keys=limits.hand_keys, hand_notes=limits.hand_notes)


def _woven(run: _Run) -> tuple[Figure, ...]:
    figure = _figure(run)
    pace = pace_of(figure)
    notes = {chord.onset_s: chord.note for chord in run}
    return woven(figure, pace, lambda at_s: (notes[at_s].bar, notes[at_s].beat)) if pace else (figure,)


def _without_unisons(notes: Iterable[Note]) -> list[Note]:
    """Two voices of a part that strike one course at one moment are one stroke: the longer."""
    kept: dict[tuple[object, ...], Note] = {}
    for note in notes:
        course = (note.part, note.midi, note.spot, note.choir, note.technique, note.onset_quarters, note.grace)
        if course not in kept or kept[course].duration_quarters < note.duration_quarters:
            kept[course] = note
    return list(kept.values())


def _technique(note: Note) -> Technique:
    assert note.technique is not None
    return note.technique


def _technique_key(note: Note) -> tuple[str, str]:
    return note.part, _technique(note).value


def _sorted_out(notes: Iterable[Note]) -> tuple[list[Note], tuple[NotUnderstood, ...]]:
    """Notes that can be figures, and one line for each part, reason and first bar of those that cannot."""
    playable: list[Note] = []
    problems: dict[tuple[str, str], list[Note]] = defaultdict(list)
    for note in notes:
        reason = _why_not(note)
        if reason:
            problems[note.part, reason].append(note)
        else:
            playable.append(note)
    return playable, tuple(
        NotUnderstood(bar=found[0].bar, part=part, text=f"{reason} ({len(found)} notes)" if len(found) > 1 else reason)
        for (part, reason), found in problems.items()
    )


def _why_not(note: Note) -> str:
    if note.technique is None:
        return "no word or part name says how to play this"
    if note.midi is None:
        fits = note.technique is Technique.BEATER
        return "" if fits else f"only a beater plays a spot, not {note.technique.value}: {note.spot}"
    if key_of_midi(note.midi) is None:
        return f"no course sounds MIDI {note.midi:g}, between two keys"
    return "a beater plays spots, not strings" if note.technique is Technique.BEATER else ""


def _runs_by_pitch(notes: Sequence[Note]) -> list[_Run]:
    """One course, one run; a stick bow takes two neighbouring courses that start and end together."""
    pairs = _paired(notes) if notes[0].technique is Technique.STICK_BOW else [[note] for note in notes]
    by_keys: dict[tuple[Key, ...], list[_Chord]] = defaultdict(list)
    for pair in pairs:
        chord = _chord(pair)
        by_keys[chord.keys].append(chord)
    return [run for chords in by_keys.values() for run in _cut(chords)]


def _paired(notes: Sequence[Note]) -> list[list[Note]]:
    pairs: list[list[Note]] = []
    for _, group in groupby(sorted(notes, key=_together), key=_together):
        chord = sorted(group, key=lambda note: note.midi or 0)
        while chord:
            first = chord.pop(0)
            near = [note for note in chord if (note.midi or 0) - (first.midi or 0) == PAIR_KEYS_APART]
            pairs.append([first, *near[:1]])
            chord = [note for note in chord if note not in near[:1]]
    return pairs


def _together(note: Note) -> tuple[Fraction, Fraction, str, int, str, bool, bool, bool]:
    return (
        note.onset_quarters,
        note.duration_quarters,
        str(note.touch),
        note.choir,
        note.mute,
        note.tremolo_strokes > 0,
        note.essential,
        note.dry,
    )


def _runs_by_voice(notes: Sequence[Note]) -> list[_Run]:
    """Each voice is one line; chords are dealt from the top down, each layer a line of its own."""
    layers: dict[tuple[str, int], list[Note]] = defaultdict(list)
    for voice, group in groupby(sorted(notes, key=lambda note: note.voice), key=lambda note: note.voice):
        for chord in _chords(group):
            for layer, note in enumerate(chord):
                layers[voice, layer].append(note)
    return [run for line in layers.values() for run in _cut(_line(line))]


def _line(notes: Sequence[Note]) -> list[_Chord]:
    return [_chord([note]) for note in notes]


def _chords(notes: Iterable[Note]) -> list[list[Note]]:
    """Notes that begin together, from the top down; grace notes apart, before the rest and in their order."""
    chords: list[list[Note]] = []
    ordered = sorted(notes, key=lambda note: (note.onset_quarters, not note.grace))
    for (_, grace), group in groupby(ordered, key=lambda note: (note.onset_quarters, note.grace)):
        together = list(group)
        chords += [[note] for note in together] if grace else [sorted(together, key=lambda one: -(one.midi or 0))]
    return chords


def _runs_by_part(notes: Sequence[Note]) -> list[_Run]:
    """Keys: whole chords of all voices. What lies beyond two hands below the top note goes to a second line."""
    lines: dict[int, list[_Chord]] = defaultdict(list)
    for chord in _chords(notes):
        for line, hands in enumerate(_hands(chord)):
            lines[line].append(_chord(hands))
    return [run for line in lines.values() for run in _cut(line)]


def _hands(chord: Sequence[Note]) -> list[list[Note]]:
    reached: list[list[Note]] = []
    for note in chord:
        if reached and (reached[-1][0].midi or 0) - (note.midi or 0) < LIMITS[Technique.KEYS].span_keys:
            reached[-1].append(note)
        else:
            reached.append([note])
    return reached


def _runs_by_spot(notes: Sequence[Note]) -> list[_Run]:
    by_spot: dict[str, list[Note]] = defaultdict(list)
    for note in notes:
        by_spot[note.spot or ""].append(note)
    return [run for line in by_spot.values() for run in _cut(_line(line))]


_RUNS: Mapping[str, Callable[[Sequence[Note]], list[_Run]]] = {
    "pitch": _runs_by_pitch,
    "voice": _runs_by_voice,
    "part": _runs_by_part,
    "spot": _runs_by_spot,
}


def _chord(notes: Sequence[Note]) -> _Chord:
    keys = sorted(
        {
            in_choir(key, note.choir)
            for note in notes
            if note.midi is not None and (key := key_of_midi(note.midi)) is not None
        },
        reverse=True,
    )
    onset_s = notes[0].onset_s
    until_s = max(max(note.end_s for note in notes), onset_s + SHORTEST_STROKE_S)
    return _Chord(onset_s=onset_s, until_s=until_s, keys=tuple(keys), note=notes[0], starts_bar=notes[0].beat == 1)


def _cut(chords: Sequence[_Chord]) -> list[_Run]:
    """Cut one line wherever something else begins, then wherever it is too long."""
    line = _with_grace_times(chords)
    runs: list[_Run] = [line[:1]]
    for chord in line[1:]:
        if _breaks(runs[-1], chord):
            runs.append([])
        runs[-1].append(chord)
    return [piece for run in runs for piece in _not_too_long(run)]


def _with_grace_times(chords: Sequence[_Chord]) -> list[_Chord]:
    """Grace notes one after the other before what they lean on; at the very start, what they lean on comes later."""
    timed: list[_Chord] = []
    ordered = sorted(chords, key=lambda chord: (chord.note.onset_quarters, not chord.note.grace))
    for _, group in groupby(ordered, key=lambda chord: chord.note.onset_quarters):
        together = list(group)
        graces = [chord for chord in together if chord.note.grace]
        late_s = max(0.0, len(graces) * GRACE_S - together[0].onset_s)
        for number, chord in enumerate(graces):
            onset_s = chord.onset_s + late_s - (len(graces) - number) * GRACE_S
            timed.append(replace(chord, onset_s=onset_s, until_s=onset_s + GRACE_S))
        for chord in together[len(graces) :]:
            onset_s = chord.onset_s + late_s
            timed.append(replace(chord, onset_s=onset_s, until_s=max(chord.until_s, onset_s + SHORTEST_STROKE_S)))
    return timed


def _breaks(run: _Run, chord: _Chord) -> bool:
    last, limits = run[-1], LIMITS[_technique(chord.note)]
    silence_s = chord.onset_s - max(one.until_s for one in run)
    return (
        silence_s > limits.rest_s - 1e-9
        or _kind(last.note) != _kind(chord.note)
        or (last.note.section != chord.note.section and not limits.joined)
        or (limits.by != "pitch" and _span_keys([*run, chord]) > limits.span_keys > 0)
    )


def _kind(note: Note) -> tuple[Touch | None, int, Mute, bool, bool, bool]:
    return note.touch, note.choir, note.mute, note.essential, note.tremolo_strokes > 0, note.dry


def _span_keys(run: Iterable[_Chord]) -> int:
    """Keys from the lowest to the highest, both counted."""
    keys = [key for chord in run for key in chord.keys]
    return max(keys) - min(keys) + 1 if keys else 0


def _not_too_long(run: _Run) -> list[_Run]:
    pieces: list[_Run] = []
    longest_s = LIMITS[_technique(run[0].note)].longest_s
    while (cut := _where_to_cut(run, longest_s)) is not None:
        pieces.append(run[:cut])
        run = run[cut:]
    return [*pieces, run]


def _where_to_cut(run: _Run, longest_s: float) -> int | None:
    """The stroke before which a run is cut: at a late bar line, else at the widest late gap; None if short."""
    limit_s = run[0].onset_s + longest_s
    if max(chord.until_s for chord in run) <= limit_s + 1e-9 or len(run) == 1:
        return None
    # Every stroke that would still sound past the limit belongs to the next piece.
    over = next(number for number, chord in enumerate(run) if chord.until_s > limit_s + 1e-9)
    if over == 0:
        return 1
    near = [number for number in range(1, over + 1) if run[number].onset_s >= limit_s - CUT_SEARCH_S] or [over]
    at_bar_lines = [number for number in near if run[number].starts_bar]
    return (
        at_bar_lines[-1]
        if at_bar_lines
        else max(near, key=lambda number: (round(run[number].onset_s - run[number - 1].until_s, 3), number))
    )


def _figure(run: _Run) -> Figure:
    first = run[0].note
    strokes = tuple(
        Stroke(onset_s=chord.onset_s, until_s=chord.until_s, key=key)
        for chord in run
        for key in (chord.keys or (None,))
    )
    return Figure(
        id="unnamed",
        part=first.part,
        section=first.section,
        bar=first.bar,
        beat=first.beat,
        start_s=run[0].onset_s,
        end_s=max(chord.until_s for chord in run),
        technique=_technique(first),
        keys=tuple(dict.fromkeys(key for chord in run for key in chord.keys)),
        spot=first.spot,
        strokes=strokes,
        touch=first.touch,
        mute=first.mute,
        tremolo=first.tremolo_strokes > 0,
        dynamic=first.dynamic,
        cycles=cycles(strokes),
        motif=motif(_technique(first), strokes, first.spot, first.touch, first.mute, first.tremolo_strokes > 0),
        essential=first.essential,
        dry=first.dry,
    )
