"""The answer: who plays every figure, from where, with what; what is left out and why; and what is proved."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from rimside.kit import Implement, Times
from rimside.piano.model import Place
from rimside.pitch import Key
from rimside.score.model import Figure

FORMAT = "rimside-casting/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class CastPlayer:
    """A player's body as this casting used it, on this piano. Reaches are horizontal, from the place, mm."""

    id: str
    name: str
    stature_mm: float
    reach_mm: float
    comfortable_reach_mm: float
    shoulder_height_mm: float
    shoulder_breadth_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """Where a hand or tool meets a course or spot. `role` is "play", "touch" or "mute".

    `from_near_end_mm` is None for keys and spots.
    """

    key: Key | None
    spot: str | None
    x_mm: float
    y_mm: float
    from_near_end_mm: float | None
    role: str = "play"


@dataclass(frozen=True, slots=True, kw_only=True)
class CastFigure:
    """One figure given to one player. Ids refer to figures, players, places and implements of the casting."""

    figure: str
    player: str
    place: str
    hands: tuple[str, ...]
    implements: tuple[str, ...]
    contacts: tuple[Contact, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CastChore:
    """A silent task given to a player."""

    id: str
    kind: str
    start_s: float
    end_s: float
    player: str | None
    place: str | None
    hands: tuple[str, ...]
    target: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PedalAction:
    """A pedal held down; `by` is a player id, "wedge", or "unassigned" while nobody is named."""

    pedal: str
    down_s: float
    up_s: float
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncast:
    """A figure that this casting does not hold: the rule that stands in the way, in words, and what competes."""

    figure: str
    rule: str
    reason: str
    competing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """One objective level: the value reached and the proven bound (no casting can be lower)."""

    level: str
    value: int
    bound: int

    @property
    def proved(self) -> bool:
        """Whether the value is proven best."""
        return self.value == self.bound


@dataclass(frozen=True, slots=True, kw_only=True)
class Casting:
    """A whole plan for one piano and one line-up."""

    piano: str
    a4_hz: float
    players: tuple[CastPlayer, ...]
    places: tuple[Place, ...]
    rim_length_mm: float
    figures: tuple[Figure, ...]
    implements: tuple[Implement, ...]
    cast: tuple[CastFigure, ...]
    chores: tuple[CastChore, ...] = ()
    pedals: tuple[PedalAction, ...] = ()
    uncast: tuple[Uncast, ...] = ()
    times: Times
    proof: tuple[Proof, ...] = ()
    seconds: float = 0.0
    made_from: Mapping[str, str] = field(default_factory=dict)
