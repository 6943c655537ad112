"""What a book is made of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from rimside.casting.result import Casting
from rimside.kit import Kit
from rimside.people import Player
from rimside.piano.model import Piano
from rimside.pitch import Key, LabelScheme
from rimside.score.model import Score


@dataclass(frozen=True, slots=True, kw_only=True)
class BookInput:
    """Everything that a book is made of.

    `notes` are lines of the production's own for the cover (place, date, whom to call). `pitch_colours` are the
    production's own colours by key, #RRGGBB; pitches without one take the colour of their pitch class. `absent` are the
    ensemble's players who are not in this casting; a refit names them.
    """

    title: str
    ensemble_name: str
    casting: Casting
    score: Score
    piano: Piano
    players: tuple[Player, ...]
    kit: Kit
    scheme: LabelScheme
    notes: tuple[str, ...] = ()
    absent: tuple[Player, ...] = ()
    pitch_colours: Mapping[Key, str] = field(default_factory=dict)
