"""H12 skill: a player is only given techniques that the player does."""

from __future__ import annotations

from rimside.people import Player
from rimside.score.model import Figure

RULE, NAME = "H12", "skill"


def able(figure: Figure, players: tuple[Player, ...]) -> list[int]:
    """Indices of the players who do the figure's technique."""
    return [index for index, player in enumerate(players) if player.plays(figure.technique)]
