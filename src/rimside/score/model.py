"""What a score says, whatever it was written in: notes, pedals, cues and the figures made of them."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from rimside.errors import BadInput
from rimside.pitch import Key


class Technique(StrEnum):
    """A way of making sound. What it asks of hands, strings and owners stands in `rimside.kit`."""

    LINE_BOW = "line bow"
    STICK_BOW = "stick bow"
    FRICTION_STRIP = "friction strip"
    FELT_HAMMER = "felt hammer"
    WOOD_HAMMER = "wood hammer"
    BEATER = "beater"
    FINGER_PLUCK = "finger pluck"
    PLECTRUM = "plectrum"
    HANDLED_PLECTRUM = "handled plectrum"
    KEYS = "keys"
    MAGNET_DRIVE = "magnet drive"


class Mute(StrEnum):
    """How a course is damped while its figure sounds."""

    NONE = ""
    FINGER = "finger mute"
    MOULDED = "moulded mute"


class Pedal(StrEnum):
    """The three pedals of a grand."""

    DAMPER = "damper"
    SOSTENUTO = "sostenuto"
    UNA_CORDA = "una-corda"


@dataclass(frozen=True, slots=True, kw_only=True)
class Touch:
    """A finger at node k/n of the speaking length, counted from the near end; gcd(k, n) is 1.

    `loose` means that the score asks for partial n at whichever of its nodes is best: k is then the one that a piano
    offers, and 1 as long as no piano is known.
    """

    k: int
    n: int
    loose: bool = False

    @property
    def node(self) -> str:
        """Where the finger lies ("2/3")."""
        return f"{self.k}/{self.n}"

    @property
    def asked(self) -> str:
        """What the score asks for: a node ("1/3"), or a partial at any of its nodes ("partial 3")."""
        return f"partial {self.n}" if self.loose else self.node


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """One sounding event, ties merged and repeats unrolled.

    `midi` is the sounding pitch of the course that is played (the string's own pitch when it is touched at a node);
    a fraction is kept, None means an unpitched `spot`. `choir` says which course of a key that has several: there
    `midi` is the pitch of the key, as the registers of a harpsichord are written. `technique` is None when no word or
    part name decides it. Onsets count from the first downbeat or pickup, in quarters and in s. A grace note has no
    written length.
    """

    part: str
    voice: str
    midi: float | None
    spot: str | None = None
    onset_quarters: Fraction
    duration_quarters: Fraction
    onset_s: float
    duration_s: float
    bar: str
    beat: Fraction
    pass_number: int = 1
    grace: bool = False
    dynamic: str = ""
    technique: Technique | None = None
    touch: Touch | None = None
    choir: int = 1
    mute: Mute = Mute.NONE
    tremolo_strokes: int = 0
    section: str = ""
    essential: bool = False
    dry: bool = False

    @property
    def end_s(self) -> float:
        """When the note stops, s."""
        return self.onset_s + self.duration_s


@dataclass(frozen=True, slots=True, kw_only=True)
class PedalSpan:
    """A pedal held down as written, from `down_s` to `up_s`."""

    pedal: Pedal
    down_s: float
    up_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cue:
    """A sign the score writes for the players ("all breathe"), at one moment."""

    onset_s: float
    bar: str
    part: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BarStart:
    """One bar as played: its printed name, which pass of a repeat, where it starts and how long a beat unit is."""

    bar: str
    pass_number: int
    start_quarters: Fraction
    start_s: float
    section: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class NotUnderstood:
    """Something written in the score that Rimside could not use; a person decides."""

    bar: str
    part: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """A whole piece as played from start to end."""

    title: str
    parts: tuple[str, ...]
    notes: tuple[Note, ...]
    bars: tuple[BarStart, ...]
    pedals: tuple[PedalSpan, ...] = ()
    cues: tuple[Cue, ...] = ()
    not_understood: tuple[NotUnderstood, ...] = ()
    end_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """One attack inside a figure; `key` is None at a spot. `until_s` is when its sound is let go."""

    onset_s: float
    until_s: float
    key: Key | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """The smallest piece of music given whole to one player.

    `keys` lists each course once, in order of first use. `bar` and `beat` say where it starts. `cycles` is how many
    times its pattern of strokes comes round ("16 times"), 1 when it does not repeat. `motif` is the same text for
    figures that bring back the same music, so that they can return to the same player. `dry` figures must fall silent
    at their end: their dampers come down then. Figures that interlock share a `weave`; each is `thread` (from 1) of
    `threads`. `written` is the technique that the score asks for when the user's table put another in its place.
    """

    id: str
    part: str
    section: str
    bar: str
    beat: Fraction = Fraction(1)
    start_s: float
    end_s: float
    technique: Technique
    keys: tuple[Key, ...] = ()
    spot: str | None = None
    strokes: tuple[Stroke, ...]
    touch: Touch | None = None
    mute: Mute = Mute.NONE
    tremolo: bool = False
    dynamic: str = ""
    cycles: int = 1
    motif: str
    essential: bool = False
    dry: bool = False
    weave: str = ""
    thread: int = 0
    threads: int = 0
    written: Technique | None = None
    words: tuple[str, ...] = field(default=())

    def __post_init__(self) -> None:
        if not self.end_s > self.start_s:
            raise BadInput("a figure must last", where=f"figure {self.id}", value=self.end_s - self.start_s)
        if bool(self.keys) == bool(self.spot):
            raise BadInput("a figure has courses or a spot, not both", where=f"figure {self.id}")
        if not self.strokes:
            raise BadInput("a figure needs a stroke", where=f"figure {self.id}")

    @property
    def onsets_s(self) -> tuple[float, ...]:
        """The distinct moments of attack, ascending, s."""
        return tuple(sorted({stroke.onset_s for stroke in self.strokes}))
