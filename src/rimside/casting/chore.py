"""A chore: a silent task with a time window, before anybody is asked to do it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from rimside.errors import BadInput
from rimside.pitch import Key


class ChoreKind(StrEnum):
    """What a chore is; the words stand in the casting file and on paper."""

    LAY = "lay mute"
    LIFT = "lift mute"
    THREAD = "thread"
    UNTHREAD = "draw out"
    LOAD = "rosin"
    HOLD_PEDAL = "hold pedal"
    WEDGE = "wedge pedal"
    UNWEDGE = "free pedal"
    HOLD_KEY = "hold key"
    CUE = "give cue"
    TURN = "turn card"


@dataclass(frozen=True, slots=True, kw_only=True)
class Chore:
    """Something to be done in silence, `length_s` long, anywhere inside [earliest_s, latest_s].

    `hands` and `feet` are what it asks of one person. `target` says what it is done to ("C4", "damper", the words of a
    cue). `keys` are the courses whose strings are touched. `kind_of_implement` is what is taken from the kit, "" for
    nothing. `weight` is what leaving it out costs at the level of uncast music (0 when only figures need it).
    """

    id: str
    kind: ChoreKind
    target: str
    earliest_s: float
    latest_s: float
    length_s: float
    hands: int = 1
    feet: int = 0
    keys: tuple[Key, ...] = ()
    kind_of_implement: str = ""
    weight: int = 0

    def __post_init__(self) -> None:
        if not self.length_s > 0.0:
            raise BadInput("a chore must last", where=f"chore {self.id}", value=self.length_s)
        if self.latest_s - self.earliest_s < self.length_s - 1e-6:
            room_s = self.latest_s - self.earliest_s
            raise BadInput("a chore does not fit its window", where=f"chore {self.id}", value=room_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """A figure that cannot be played unless, of some ways, all chores of one way are done (by their ids)."""

    figure: str
    ways: tuple[tuple[str, ...], ...]
    rule: str

    @property
    def chores(self) -> frozenset[str]:
        """The chores of all its ways."""
        return frozenset(chore for way in self.ways for chore in way)


@dataclass(frozen=True, slots=True, kw_only=True)
class Muting:
    """A course that carries a moulded mute for some of its figures.

    `runs` are figures, by their ids, that follow one another and ask for the same: a mute in the first run when
    `muted`, none in the second, and so on. `chores[n]` lays or lifts between `runs[n]` and `runs[n + 1]`.
    """

    key: Key
    muted: bool
    runs: tuple[tuple[str, ...], ...]
    chores: tuple[str, ...]

    def muted_in(self, run: int) -> bool:
        """Whether the figures of a run ask for a mute."""
        return self.muted == (run % 2 == 0)
