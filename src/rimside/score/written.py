"""The page as written: bars, notes, words and signs at (bar index, offset), before repeats are played out.

Offsets and lengths are in quarters, counted from the start of their bar. Readers of every format make a `Page`;
`rimside.score.playing` turns it into a `Score`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from rimside.score.model import NotUnderstood, Pedal, Technique, Touch

Spot = tuple[int, Fraction]
"""A place on the page: bar index and offset in quarters."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenNote:
    """One note head at its sounding pitch. `names` are what may name an unpitched note's spot, the best first.

    `marks` are phrases that hold for this note alone; `only_passes` are the passes on which it sounds (empty: all).
    `harmonic` is its role in a harmonic: "base", "touching", "sounding", "whole" (nothing said), or empty for none.
    """

    at: Spot
    length: Fraction
    midi: float | None
    names: tuple[str, ...] = ()
    voice: str = "1"
    grace: bool = False
    tie_start: bool = False
    tie_stop: bool = False
    tremolo_strokes: int = 0
    marks: tuple[str, ...] = ()
    touch: Touch | None = None
    harmonic: str = ""
    technique: Technique | None = None
    only_passes: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenWords:
    """A direction in words, in one part. `tempo_given` says that a metronome value stands at the same place."""

    at: Spot
    text: str
    tempo_given: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenDynamic:
    """A dynamic mark, in one part."""

    at: Spot
    mark: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenPart:
    """One part of the page."""

    name: str
    notes: tuple[WrittenNote, ...]
    words: tuple[WrittenWords, ...] = ()
    dynamics: tuple[WrittenDynamic, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenTempo:
    """A tempo from here on: quarters a minute, or a ratio to the tempo before. Values meant for playback win."""

    at: Spot
    quarters_per_minute: float | None = None
    ratio: Fraction | None = None
    playback: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenPedal:
    """A pedal going down or up."""

    at: Spot
    pedal: Pedal
    down: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenSection:
    """A rehearsal mark."""

    at: Spot
    name: str


class JumpKind(StrEnum):
    """Signs that lead through the piece."""

    DA_CAPO = "da capo"
    DAL_SEGNO = "dal segno"
    SEGNO = "segno"
    TO_CODA = "to coda"
    CODA = "coda"
    FINE = "fine"


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenJump:
    """One such sign. `at` at offset 0 means the bar as a whole: its start for a goal, its end for a leap."""

    at: Spot
    kind: JumpKind
    target: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenBar:
    """One bar of the grid that all parts share.

    `full_length` is what the time signature asks, None without one; `beat_unit` is the length of one beat (the
    denominator of the time signature). `pickup` bars count their beats back from the bar's end. `backward` is 0
    without an end-repeat, else how often the stretch is played in all (1: not said). `ending` holds the numbers of the
    bracket over this bar, `ending_starts` marks the bracket's first bar.
    """

    name: str
    length: Fraction
    full_length: Fraction | None = None
    beat_unit: Fraction = Fraction(1)
    pickup: bool = False
    forward: bool = False
    backward: int = 0
    after_jump: bool = False
    ending: frozenset[int] = frozenset()
    ending_starts: bool = False

    def beat(self, offset: Fraction) -> Fraction:
        """The beat at an offset, 1 at the bar's start (later in a pickup bar)."""
        missing = max((self.full_length or self.length) - self.length, Fraction(0)) if self.pickup else Fraction(0)
        return 1 + (missing + offset) / self.beat_unit


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A whole piece as written."""

    title: str
    parts: tuple[WrittenPart, ...]
    bars: tuple[WrittenBar, ...]
    tempos: tuple[WrittenTempo, ...] = ()
    pedals: tuple[WrittenPedal, ...] = ()
    sections: tuple[WrittenSection, ...] = ()
    jumps: tuple[WrittenJump, ...] = ()
    not_understood: tuple[NotUnderstood, ...] = field(default=())
