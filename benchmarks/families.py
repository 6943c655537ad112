"""The seeded questions of the benchmarks: invented music of 3, 10 and 20 minutes, for 6, 8 or 10 players.

A piece is a chain of sections; some come back. In a section several lines sound at once, each with an instrument and a
few phrases of its own that it goes round, with a change of 0 to 2.5 s between two of them. How many lines there are
follows the density and the number of players. Everything follows from the seed.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice

from rimside.casting.options import build_problem
from rimside.casting.problem import Problem
from rimside.files.schema_piano import piano_from_toml
from rimside.kit import Kit, Stock
from rimside.people import Player
from rimside.piano.model import Piano
from rimside.piano.shipped import shipped_survey
from rimside.pitch import Key
from rimside.score.model import Figure, Mute, Pedal, PedalSpan, Stroke, Technique
from rimside.score.motifs import cycles, motif

MINUTES = (3, 10, 20)
DENSITIES = {"sparse": 0.3, "middle": 0.6, "dense": 1.0}
"""Figures against those of the dense piece of the same length."""
PLAYERS = (6, 8, 10)
PIANO = "grand_275"
FIGURES_A_MINUTE = 30.0
"""Of the dense piece with ten players."""
LINES_OF_TEN = 8.5
"""Lines at once in the dense piece with ten players, on average."""
SECTION_S = 36.0
RETURNS = 0.4
"""How often a section is one that was there before."""
CHANGES_S = (0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 2.5)
"""Between two figures of one line."""
ROOM_KEYS, ROOM_SHORT_KEYS, SHORT_FROM = 2, 6, 54
"""Courses that a section's other lines leave alone on either side; from this key on hands cannot lie one behind the
other."""
REPEAT_S = 0.5
"""At least this long until another figure takes up the same course."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """What a line plays with: how many courses a figure takes and how far apart, its strokes and how long it lasts.

    A stroke comes every one of `steps_s`, on all courses at once or on one after the other; none at all, one long one.
    """

    technique: Technique
    keys: tuple[int, ...]
    chords: tuple[tuple[int, ...], ...] = ((0,),)
    steps_s: tuple[float, ...] = ()
    in_turn: bool = False
    lasts_s: tuple[float, float]
    share: float
    tremolo: bool = False


BOWED = (28, 31, 33, 35, 36, 38, 40, 42, 43, 45, 47, 50)
"""Courses with a line bow."""
INSTRUMENTS = (
    Instrument(technique=Technique.LINE_BOW, keys=BOWED, lasts_s=(11.0, 28.0), share=0.28),
    Instrument(
        technique=Technique.STICK_BOW,
        keys=tuple(range(30, 58)),
        chords=((0,), (0, 1), (0, 5), (0, 7), (0, 1, 5)),
        steps_s=(1.0, 1.5, 2.0),
        lasts_s=(10.0, 22.0),
        share=0.22,
    ),
    Instrument(technique=Technique.FRICTION_STRIP, keys=tuple(range(3, 19)), lasts_s=(10.0, 22.0), share=0.1),
    Instrument(
        technique=Technique.FELT_HAMMER,
        keys=tuple(range(22, 74)),
        chords=((0,), (0, 3), (0, 5), (0, 4)),
        steps_s=(0.25, 0.375, 0.5),
        in_turn=True,
        lasts_s=(10.0, 22.0),
        share=0.18,
    ),
    Instrument(
        technique=Technique.WOOD_HAMMER,
        keys=tuple(range(40, 80)),
        chords=((0,), (0, 5)),
        steps_s=(0.75, 1.5),
        in_turn=True,
        lasts_s=(7.0, 16.0),
        share=0.06,
    ),
    Instrument(
        technique=Technique.FINGER_PLUCK,
        keys=tuple(range(8, 52)),
        chords=((0,), (0, 7), (0, 5)),
        steps_s=(1.0, 2.0),
        in_turn=True,
        lasts_s=(7.0, 16.0),
        share=0.08,
    ),
    Instrument(
        technique=Technique.HANDLED_PLECTRUM,
        keys=tuple(range(45, 78)),
        steps_s=(0.125,),
        lasts_s=(6.0, 14.0),
        share=0.08,
        tremolo=True,
    ),
)

STOCK = (
    Stock(
        kind="line bow",
        serves=frozenset({Technique.LINE_BOW}),
        count=1,
        per_pitch=True,
        pitches=frozenset(map(Key, BOWED)),
    ),
    Stock(kind="stick bow", serves=frozenset({Technique.STICK_BOW}), count=8, sides=2),
    Stock(kind="rubber strip", serves=frozenset({Technique.FRICTION_STRIP}), count=4),
    Stock(kind="felt hammer", serves=frozenset({Technique.FELT_HAMMER}), count=8),
    Stock(kind="wood hammer", serves=frozenset({Technique.WOOD_HAMMER}), count=4),
    Stock(kind="handled plectrum", serves=frozenset({Technique.HANDLED_PLECTRUM}), count=3),
)

NAMES = ("Arlo", "Bice", "Corin", "Dagny", "Elke", "Fenn", "Gita", "Hobb", "Iven", "Juno")
STATURES_MM = (1720.0, 1655.0, 1810.0, 1590.0, 1760.0, 1840.0, 1690.0, 1625.0, 1775.0, 1705.0)
UNSKILLED = {3: Technique.FRICTION_STRIP, 5: Technique.LINE_BOW, 8: Technique.STICK_BOW}
"""By number of player: what that one leaves to the others."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Instance:
    """One question of a family, before it is put."""

    minutes: int
    density: str
    seed: int
    figures: tuple[Figure, ...]
    piano: Piano
    players: tuple[Player, ...]
    kit: Kit
    pedals: tuple[PedalSpan, ...]

    @property
    def name(self) -> str:
        """What tables call it."""
        return f"{self.minutes} min {self.density}, {len(self.players)} players"


def instance(minutes: int, density: str, players: int, seed: int = 0) -> Instance:
    """One question: always the same for the same arguments."""
    piano = piano_from_toml(shipped_survey(PIANO), PIANO)
    figures = _Composer(rng=random.Random(f"{minutes} {density} {players} {seed}")).piece(minutes, density, players)
    end_s = max(figure.end_s for figure in figures) + 1.0
    return Instance(
        minutes=minutes,
        density=density,
        seed=seed,
        figures=figures,
        piano=piano,
        players=ensemble(players),
        kit=Kit(stock=STOCK),
        pedals=(PedalSpan(pedal=Pedal.DAMPER, down_s=0.0, up_s=end_s),),
    )


def problem(of: Instance) -> Problem:
    """The question as the search is given it."""
    return build_problem(of.figures, of.piano, of.players, of.kit, of.pedals)


def ensemble(count: int) -> tuple[Player, ...]:
    """The first `count` of ten invented players."""
    every = frozenset(Technique)
    return tuple(
        Player(
            id=name.lower(),
            name=name,
            stature_mm=stature_mm,
            colour="#000000",
            colour_name="black",
            sign=name[0],
            skills=every - {UNSKILLED[number]} if number in UNSKILLED else None,
        )
        for number, (name, stature_mm) in enumerate(zip(NAMES[:count], STATURES_MM, strict=False))
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Phrase:
    """Music of one figure, from 0 s."""

    technique: Technique
    keys: tuple[Key, ...]
    strokes: tuple[Stroke, ...]
    length_s: float
    tremolo: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Section:
    mark: str
    lines: tuple[tuple[_Phrase, ...], ...]


def _mark(number: int) -> str:
    """A to Z, then A2 to Z2."""
    turn, letter = divmod(number, 26)
    return f"{chr(ord('A') + letter)}{turn + 1 if turn else ''}"


@dataclass(slots=True, kw_only=True)
class _Composer:
    """A piece while it is written. `free_s` is when each course is free again."""

    rng: random.Random
    free_s: dict[Key, float] = field(default_factory=dict)
    figures: list[Figure] = field(default_factory=list)

    def piece(self, minutes: int, density: str, players: int) -> tuple[Figure, ...]:
        """Sections until the time is full; as many figures as the family asks for, the rest is left off."""
        share = DENSITIES[density] * players / 10.0
        wanted = round(FIGURES_A_MINUTE * minutes * share)
        known: list[_Section] = []
        count = max(2, round(60.0 * minutes / SECTION_S))
        for number in range(count):
            if len(known) > 1 and self.rng.random() < RETURNS:
                section = self.rng.choice(known[:-1])
            else:
                section = self._section(_mark(len(known)), LINES_OF_TEN * share)
                known.append(section)
            self._play(section, number * SECTION_S, SECTION_S, wanted * (number + 1) / count)
        ordered = sorted(self.figures, key=lambda figure: (figure.start_s, figure.keys))
        return tuple(replace(figure, id=f"F{number:03}") for number, figure in enumerate(ordered, start=1))

    def _section(self, mark: str, lines: float) -> _Section:
        """Lines for a section: now fewer, now more than on average, no course in two of them."""
        count = max(1, round(lines * self.rng.choice((0.75, 0.9, 1.1, 1.25))))
        taken: set[int] = set()
        tried = (self._line(instrument, taken) for instrument in self._instruments(4 * count))
        return _Section(mark=mark, lines=tuple(islice(filter(None, tried), count)))

    def _instruments(self, count: int) -> Sequence[Instrument]:
        return self.rng.choices(INSTRUMENTS, [instrument.share for instrument in INSTRUMENTS], k=count)

    def _line(self, instrument: Instrument, taken: set[int]) -> tuple[_Phrase, ...]:
        """A few phrases on courses near each other."""
        phrases: list[_Phrase] = []
        centre = self.rng.choice(instrument.keys)
        near = sorted(instrument.keys, key=lambda key: (abs(key - centre), key))
        for _ in range(self.rng.choice((2, 3, 3, 4))):
            chord = self.rng.choice(instrument.chords)
            roots = [key for key in near if taken.isdisjoint(key + step for step in chord)][:4]
            if roots:
                root = self.rng.choice(roots)
                near.remove(root)
                phrases.append(self._phrase(instrument, tuple(Key(root + step) for step in chord)))
        for phrase in phrases:
            for key in phrase.keys:
                room = ROOM_KEYS if key < SHORT_FROM else ROOM_SHORT_KEYS
                taken.update(range(key - room, key + room + 1))
        return tuple(phrases)

    def _phrase(self, instrument: Instrument, keys: tuple[Key, ...]) -> _Phrase:
        low_s, high_s = instrument.lasts_s
        length_s = float(round(self.rng.uniform(low_s, high_s)))
        step_s = self.rng.choice(instrument.steps_s) if instrument.steps_s else length_s
        count = round(length_s / step_s)
        strokes = [
            Stroke(onset_s=number * step_s, until_s=(number + 1) * step_s, key=key)
            for number in range(count)
            for key in ([keys[number % len(keys)]] if instrument.in_turn else keys)
        ]
        return _Phrase(
            technique=instrument.technique,
            keys=keys,
            strokes=tuple(strokes),
            length_s=count * step_s,
            tremolo=instrument.tremolo,
        )

    def _play(self, section: _Section, start_s: float, length_s: float, upto: float) -> None:
        """All lines of a section side by side, the earliest next figure first."""
        end_s = start_s + length_s
        at_s = [start_s + self.rng.choice(CHANGES_S) for _ in section.lines]
        rounds = [self._round(line) for line in section.lines]
        while at_s and min(at_s) < end_s and len(self.figures) < upto:
            number = min(range(len(at_s)), key=at_s.__getitem__)
            figure = self._figure(next(rounds[number]), at_s[number], section.mark, number)
            at_s[number] = figure.end_s + self.rng.choice(CHANGES_S)
            self.figures.append(figure)

    @staticmethod
    def _round(line: tuple[_Phrase, ...]) -> Iterator[_Phrase]:
        while True:
            yield from line

    def _figure(self, phrase: _Phrase, at_s: float, mark: str, line: int) -> Figure:
        """A phrase as a figure, as soon as its courses are free."""
        start_s = max([at_s, *(self.free_s.get(key, 0.0) for key in phrase.keys)])
        end_s = start_s + phrase.length_s
        self.free_s.update(dict.fromkeys(phrase.keys, end_s + REPEAT_S))
        strokes = tuple(
            replace(stroke, onset_s=start_s + stroke.onset_s, until_s=start_s + stroke.until_s)
            for stroke in phrase.strokes
        )
        return Figure(
            id=f"{mark}{line + 1} {start_s:.3f}",
            part=f"Line {line + 1}",
            section=mark,
            bar=str(1 + int(start_s // 4)),
            start_s=start_s,
            end_s=end_s,
            technique=phrase.technique,
            keys=phrase.keys,
            strokes=strokes,
            tremolo=phrase.tremolo,
            cycles=cycles(strokes),
            motif=motif(phrase.technique, phrase.strokes, None, None, Mute.NONE, phrase.tremolo),
        )
