"""Which words govern which notes: the page is read from left to right, part by part."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from operator import attrgetter

from rimside.score.model import Mute, NotUnderstood, Technique, Touch
from rimside.score.words import Meaning, Vocabulary
from rimside.score.written import Page, Spot, WrittenBar, WrittenNote, WrittenPart, WrittenPedal, WrittenWords

Problems = list[NotUnderstood]


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """What governs a part at one place of the page."""

    technique: Technique | None = None
    touch: Touch | None = None
    choir: int = 1
    mute: Mute = Mute.NONE
    spot: str | None = None
    essential: bool = False
    dry: bool = False
    dynamic: str = ""

    def after(self, meaning: Meaning) -> State:
        """The state once a phrase is read. A technique word ends a touch; a mute stays until it is lifted."""
        state = self
        if meaning.technique is not None:
            state = replace(state, technique=meaning.technique, touch=None)
        if meaning.touch is not None or meaning.touch_off:
            state = replace(state, touch=meaning.touch)
        if meaning.choir is not None:
            state = replace(state, choir=meaning.choir)
        if meaning.mute is not None:
            state = replace(state, mute=meaning.mute)
        if meaning.spot is not None:
            state = replace(state, spot=meaning.spot)
        if meaning.dynamic:
            state = replace(state, dynamic=meaning.dynamic)
        if meaning.essential is not None:
            state = replace(state, essential=meaning.essential)
        if meaning.dry is not None:
            state = replace(state, dry=meaning.dry)
        return state


@dataclass(frozen=True, slots=True, kw_only=True)
class GovernedNote:
    """A written note with everything that governs it."""

    note: WrittenNote
    state: State
    section: str
    spot: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenCue:
    """A sign for the players on the page."""

    at: Spot
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GovernedPart:
    """One part with its notes governed, and what else its words said."""

    name: str
    notes: tuple[GovernedNote, ...]
    cues: tuple[WrittenCue, ...]
    pedals: tuple[WrittenPedal, ...]
    not_understood: tuple[NotUnderstood, ...]


def govern(page: Page, part: WrittenPart, vocabulary: Vocabulary) -> GovernedPart:
    """Read one part's words and dynamics into its notes. A word holds for its part from where it stands."""
    problems: Problems = []
    read = _read_words(part, page.bars, vocabulary, problems)
    context = _context(page, part, vocabulary, read)
    notes = tuple(_governed(note, context, problems) for note in part.notes)
    return GovernedPart(
        name=part.name,
        notes=notes,
        cues=tuple(WrittenCue(at=words.at, text=one.cue) for words, one in read if one.cue),
        pedals=tuple(
            WrittenPedal(at=words.at, pedal=one.pedal[0], down=one.pedal[1]) for words, one in read if one.pedal
        ),
        not_understood=tuple(dict.fromkeys(problems)),
    )


def _read_words(
    part: WrittenPart, bars: Sequence[WrittenBar], vocabulary: Vocabulary, problems: Problems
) -> list[tuple[WrittenWords, Meaning]]:
    read = []
    for words in sorted(part.words, key=attrgetter("at")):
        for phrase, meaning in vocabulary.meanings(words.text):
            if meaning is None or (meaning.tempo and not words.tempo_given):
                problems.append(NotUnderstood(bar=bars[words.at[0]].name, part=part.name, text=phrase))
            else:
                read.append((words, meaning))
    return read


def _states(
    part: WrittenPart, read: Iterable[tuple[WrittenWords, Meaning]], vocabulary: Vocabulary
) -> list[tuple[Spot, State]]:
    """The state from each place on; the part's name gives the first."""
    events: list[tuple[Spot, Meaning | str]] = [(words.at, meaning) for words, meaning in read]
    events += [(mark.at, mark.mark) for mark in part.dynamics]
    state = State(technique=vocabulary.part_technique(part.name))
    states: list[tuple[Spot, State]] = [((-1, Fraction(0)), state)]
    for at, event in sorted(events, key=lambda pair: pair[0]):
        state = replace(state, dynamic=event) if isinstance(event, str) else state.after(event)
        states.append((at, state))
    return states


@dataclass(frozen=True, slots=True, kw_only=True)
class _Context:
    """What every note of a part is looked up in: states and rehearsal marks with their places, ascending."""

    part: str
    bars: Sequence[WrittenBar]
    vocabulary: Vocabulary
    places: Sequence[Spot]
    states: Sequence[State]
    mark_places: Sequence[Spot]
    mark_names: Sequence[str]

    def state_at(self, at: Spot) -> State:
        return self.states[bisect_right(self.places, at) - 1]

    def section_at(self, at: Spot) -> str:
        mark = bisect_right(self.mark_places, at)
        return self.mark_names[mark - 1] if mark else ""

    def problem(self, note: WrittenNote, text: str) -> NotUnderstood:
        return NotUnderstood(bar=self.bars[note.at[0]].name, part=self.part, text=text)


def _context(
    page: Page, part: WrittenPart, vocabulary: Vocabulary, read: Iterable[tuple[WrittenWords, Meaning]]
) -> _Context:
    states = _states(part, read, vocabulary)
    marks = sorted(page.sections, key=attrgetter("at"))
    return _Context(
        part=part.name,
        bars=page.bars,
        vocabulary=vocabulary,
        places=[at for at, _ in states],
        states=[state for _, state in states],
        mark_places=[mark.at for mark in marks],
        mark_names=[mark.name for mark in marks],
    )


def _governed(note: WrittenNote, context: _Context, problems: Problems) -> GovernedNote:
    state = _with_marks(note, context, problems)
    spot = _spot(note, state, context.vocabulary)
    if spot is not None and state.technique is None:
        # Only beaters fit spots (rimside.kit), so an unpitched note without a technique word is theirs.
        state = replace(state, technique=Technique.BEATER)
    return GovernedNote(note=note, state=state, section=context.section_at(note.at), spot=spot)


def _with_marks(note: WrittenNote, context: _Context, problems: Problems) -> State:
    """What governs a note, with what is written at this note alone."""
    state = context.state_at(note.at)
    for phrase in note.marks:
        meaning = context.vocabulary.meaning(phrase)
        if meaning is not None:
            state = state.after(meaning)
        elif note.midi is not None or not context.vocabulary.spot_named(phrase):
            problems.append(context.problem(note, phrase))
    if note.harmonic and note.touch is None and state.touch is None:
        problems.append(context.problem(note, "harmonic without its node (write touch k/n)"))
    if note.technique is not None:
        state = replace(state, technique=note.technique)
    return replace(state, touch=note.touch) if note.touch is not None else state


def _spot(note: WrittenNote, state: State, vocabulary: Vocabulary) -> str | None:
    """Where an unpitched note sounds: the word in force, a name the vocabulary knows, else the first name as it is."""
    if note.midi is not None:
        return None
    named = vocabulary.spot_named(*note.marks, *note.names)
    return state.spot or named or next((name for name in note.names if name.strip()), "unnamed spot")
