"""The answer: who plays every figure, from where, with what; what is left out and why; and what is proved."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from rimside.casting.pin import Pin
from rimside.kit import Implement, Times
from rimside.piano.model import Place
from rimside.pitch import Key
from rimside.score.model import Figure

FORMAT = "rimside-casting/1"
HELD_KEYS = "keys"
"""What `PedalAction.pedal` says when keys are held down silently instead of a pedal."""


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
    """A silent task given to a player, or (`player` None) one that nobody could be found for, with its `reason`.

    `kind` is a value of `ChoreKind`, `feet` what it asks of the player's one free foot. `implements` are in the hand
    meanwhile; `contacts` have the role "chore". `needed_by` are the figures that cannot be played without it. Chores of
    the load-in start before 0, those of the load-out after the last figure.
    """

    id: str
    kind: str
    start_s: float
    end_s: float
    player: str | None
    place: str | None
    hands: tuple[str, ...]
    target: str
    feet: int = 0
    implements: tuple[str, ...] = ()
    contacts: tuple[Contact, ...] = ()
    needed_by: tuple[str, ...] = ()
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PedalAction:
    """A pedal held down, or the keys of `keys` held silently (`pedal` "keys").

    `by` is a player id, "wedge", or "unassigned" while nobody is named. `keys` of a sostenuto pedal are the courses
    whose dampers it is meant to hold; empty means all of them.
    """

    pedal: str
    down_s: float
    up_s: float
    by: str
    keys: tuple[Key, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Mend:
    """One change that lets an uncast figure be played, confirmed by solving again.

    `kind` is one of MEND_KINDS; `of_music` tells how much of the music it changes, s of sound (0: none). `change` is
    the same for the machine, as `mends.try_change` makes it; empty in castings of earlier versions.
    """

    kind: str
    text: str
    of_music: float = 0.0
    change: tuple[str, ...] = ()


MEND_KINDS = ("practise", "permission", "implement", "player", "technique", "shorten")
"""A change made faster; a spot or technique allowed by the owner; one more implement; one more player; another
technique; a note made shorter. In the order in which they touch the music."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncast:
    """A figure that this casting does not hold: the rule that stands in the way, in words, and what competes.

    `competing` is a smallest set of cast figures that would have to go, `rules` the smallest set of rules that keep
    them apart; without any one of either the figure could be played. `proved` tells that this was confirmed by solving
    again.
    """

    figure: str
    rule: str
    reason: str
    competing: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()
    proved: bool = False
    mends: tuple[Mend, ...] = ()


def bare_level(level: str) -> str:
    """The bare name of a level ("1 uncast" is "uncast")."""
    return level.lstrip("0123456789. ")


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
class Change:
    """What a refit changes for one figure: `what` is "player", "place", "implement", "uncast" or "cast".

    A figure that is no longer cast, or is cast now, has a player on one side only. It weighs nothing as a change: being
    uncast weighs more than any.

    `forced` tells that no option of this figure by itself avoids it; else it is given up for others' sake. `stay` is,
    for a place, the one on this piano that would have counted as the same ("" when there is none).
    """

    figure: str
    what: str
    before: str
    after: str
    forced: bool = False
    stay: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Casting:
    """A whole plan for one piano and one line-up; `like` names the casting that a refit stays close to.

    `pins` are what people had decided before it was made.
    """

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
    like: str = ""
    changes: tuple[Change, ...] = ()
    pins: tuple[Pin, ...] = ()
    made_from: Mapping[str, str] = field(default_factory=dict)
