"""What each player does in order, and how much time every change leaves, read off a finished casting."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from rimside.casting.chore import ChoreKind
from rimside.casting.problem import RESERVE_S
from rimside.casting.result import CastChore, CastFigure, Casting
from rimside.kit import Kit
from rimside.piano.model import Piano, Place
from rimside.score.model import Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One figure of a player with what came before it.

    `slack_s` is the time left over by the change that leads to it, None for the first or when the two overlap; a chore
    between the two takes its part of the time, and the walk counts from there.
    `kept` tells that the implements stay in hand, `walk_mm` how far the player walks, `to_left` on which side.
    """

    figure: Figure
    cast: CastFigure
    place: Place
    kept: bool = False
    slack_s: float | None = None
    walk_mm: float = 0.0
    to_left: bool = False

    @property
    def hurried(self) -> bool:
        """Whether the change that leads here leaves little slack."""
        return self.slack_s is not None and self.slack_s < RESERVE_S


def parts_of(player: str, casting: Casting, piano: Piano, kit: Kit) -> tuple[Part, ...]:
    """A player's figures in order of start, each with the change that leads to it; a card is turned in passing."""
    figures = {figure.id: figure for figure in casting.figures}
    places = {place.id: place for place in casting.places}
    mine = [(figures[cast.figure], cast) for cast in casting.cast if cast.player == player]
    mine.sort(key=lambda pair: (pair[0].start_s, pair[0].id))
    mine_too = [chore for chore in casting.chores if chore.player == player and chore.place is not None]
    chores = [chore for chore in mine_too if chore.kind != ChoreKind.TURN]
    parts: list[Part] = []
    for figure, cast in mine:
        part = Part(figure=figure, cast=cast, place=places[cast.place])
        if parts:
            since_s = parts[-1].figure.end_s
            between = [chore for chore in chores if since_s <= chore.start_s and chore.end_s <= figure.start_s]
            last = max(between, key=lambda chore: chore.end_s, default=None)
            part = _after(parts[-1], part, last, casting, piano, kit)
        parts.append(part)
    return tuple(parts)


def _after(before: Part, part: Part, chore: CastChore | None, casting: Casting, piano: Piano, kit: Kit) -> Part:
    """A part with the change that leads to it; `chore` is the last thing that the player does between, if any."""
    kept = bool(part.cast.implements) and set(before.cast.implements) == set(part.cast.implements)
    picked_s = 0.0 if kept else pick_s(part.cast, casting, kit)
    put_down_s = 0.0 if kept else put_s(before.cast, casting, kit)
    gap_s = part.figure.start_s - before.figure.end_s
    slack_s = gap_s - put_down_s - picked_s - walk_s(before.place, part.place, casting, piano)
    stand = before.place
    if chore is not None:
        stand = next(place for place in casting.places if place.id == chore.place)
        left_s = part.figure.start_s - chore.end_s - picked_s - walk_s(stand, part.place, casting, piano)
        slack_s = min(slack_s, left_s)
    walk_mm, to_left = walk(stand, part.place, casting, piano)
    return Part(
        figure=part.figure, cast=part.cast, place=part.place, kept=kept, walk_mm=walk_mm,
        slack_s=slack_s if gap_s >= 0.0 else None, to_left=to_left,
    )  # fmt: skip


def walk_s(start: Place, goal: Place, casting: Casting, piano: Piano) -> float:
    """Time to walk and settle, s."""
    if start.id == goal.id:
        return casting.times.settle_s
    return casting.times.settle_s + casting.times.turn_s + piano.walk_mm(start, goal) / casting.times.walk_mm_per_s


def walk(start: Place, goal: Place, casting: Casting, piano: Piano) -> tuple[float, bool]:
    """The shorter way round, mm, and whether it leads to the left; 0 for the same place."""
    if start.id == goal.id:
        return 0.0, False
    return piano.walk_mm(start, goal), _to_left(start, goal, casting.places, piano)


def way(start: Place, goal: Place, places: Sequence[Place], rim_length_mm: float) -> tuple[Place, ...]:
    """The places passed on the shorter way round, both ends with them."""
    forward = (goal.along_rim_mm - start.along_rim_mm) % rim_length_mm
    sign = 1.0 if forward <= rim_length_mm - forward else -1.0

    def gone_mm(place: Place) -> float:
        return sign * (place.along_rim_mm - start.along_rim_mm) % rim_length_mm

    passed = [place for place in places if 0.0 < gone_mm(place) < gone_mm(goal)]
    return (start, *sorted(passed, key=gone_mm), goal)


def pick_s(cast: CastFigure, casting: Casting, kit: Kit) -> float:
    """Time to pick up everything that a figure needs, s: the slowest of its implements, 0 without any."""
    return _slowest(cast, casting, casting.times.pick_s, kit.pick_s)


def put_s(cast: CastFigure, casting: Casting, kit: Kit) -> float:
    """Time to put down everything that a figure used, s."""
    return _slowest(cast, casting, casting.times.put_s, kit.put_s)


def _slowest(
    cast: CastFigure, casting: Casting, times_s: Mapping[str, float], of_kit_s: Callable[[str], float]
) -> float:
    """The casting's own times go first; the kit's are for kinds that it does not name."""
    kinds = {implement.id: implement.kind for implement in casting.implements}
    used = [kinds[implement] for implement in cast.implements]
    return max((times_s[kind] if kind in times_s else of_kit_s(kind) for kind in used), default=0.0)


def _to_left(start: Place, goal: Place, places: Sequence[Place], piano: Piano) -> bool:
    """Whether the shorter way round leads to the left of a player who faces the piano.

    Along the walking line left is towards growing `along_rim_mm` or away from it for every place alike; the two
    nearest places tell which.
    """
    forward = (goal.along_rim_mm - start.along_rim_mm) % piano.rim_length_mm
    grows = forward <= piano.rim_length_mm - forward
    return grows == _left_grows(start, places)


def _left_grows(start: Place, places: Sequence[Place]) -> bool:
    other = min((place for place in places if place.id != start.id), key=lambda place: place.at.distance_mm(start.at))
    run_x, run_y = other.at.x_mm - start.at.x_mm, other.at.y_mm - start.at.y_mm
    turn = math.radians(start.heading_deg)
    lies_left = math.cos(turn) * run_y - math.sin(turn) * run_x > 0.0
    return lies_left == (other.along_rim_mm > start.along_rim_mm)
