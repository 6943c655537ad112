"""When everybody is busy in a casting, and where: its figures with their tools, and its chores."""

from __future__ import annotations

from dataclasses import dataclass

from rimside.casting.problem import Problem
from rimside.casting.result import Casting


@dataclass(frozen=True, slots=True, kw_only=True)
class Stay:
    """Somebody busy at a place (player and place by their numbers in the problem).

    `pick_s` before and `put_s` after, as the tools ask.
    """

    start_s: float
    end_s: float
    player: int
    place: int
    pick_s: float = 0.0
    put_s: float = 0.0

    @property
    def from_s(self) -> float:
        """When the first tool is reached for."""
        return self.start_s - self.pick_s

    @property
    def until_s(self) -> float:
        """When the last tool is put down."""
        return self.end_s + self.put_s


def stays(casting: Casting, problem: Problem) -> list[Stay]:
    """All of them, in order of start; chores that nobody does are none."""
    players = {player.id: number for number, player in enumerate(problem.players)}
    places = {place.id: number for number, place in enumerate(problem.piano.places)}
    figures = {figure.id: figure for figure in casting.figures}
    kinds = {implement.id: implement.kind for implement in casting.implements}
    times = casting.times
    found = [
        Stay(
            start_s=figures[row.figure].start_s,
            end_s=figures[row.figure].end_s,
            player=players[row.player],
            place=places[row.place],
            pick_s=max((times.pick_s[kinds[tool]] for tool in row.implements), default=0.0),
            put_s=max((times.put_s[kinds[tool]] for tool in row.implements), default=0.0),
        )
        for row in casting.cast
    ]
    found += [
        Stay(start_s=chore.start_s, end_s=chore.end_s, player=players[chore.player], place=places[chore.place])
        for chore in casting.chores
        if chore.player is not None and chore.place is not None
    ]
    return sorted(found, key=lambda stay: (stay.start_s, stay.end_s))
